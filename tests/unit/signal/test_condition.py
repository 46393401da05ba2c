"""From raw columns to clean signals: units, one clock, and everything found on the way said."""

from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.errors import Severity
from firstlift.core.job import ChannelSpec, Measures
from firstlift.core.recording import RawChannel, Recording, frozen
from firstlift.core.signal.condition import Signal, condition, saturation
from firstlift.core.signal.noise import noise_floor
from firstlift.sim.recipe import cook, draw_recipe

COUNT, STEP = 4000, 1e-3
JOB = cook(replace(draw_recipe(np.random.default_rng(1)), pulls=1), np.random.default_rng(1), "any").job
CELL = ChannelSpec("cell 1", Measures.PULL_FORCE, "kN", factor=1e3)
GAUGE = ChannelSpec("line", Measures.LINE_PRESSURE, "bar", factor=1e5)
LIFT = ChannelSpec("lift", Measures.SPINDLE_LIFT, "mm", factor=1e-3)


def clock():
    return np.arange(COUNT) * STEP


def white(sigma=1e-3, seed=0):
    return sigma * np.random.default_rng(seed).standard_normal(COUNT)


def clean(*pairs):
    """Condition channels given as (spec, values) on one clock."""
    channels = tuple(RawChannel(spec, frozen(clock()), frozen(values), COUNT) for spec, values in pairs)
    job = replace(JOB, channels=tuple(spec for spec, _ in pairs))
    return condition(Recording("0" * 64, channels), job)


def codes(signals):
    return [finding.code for finding in signals.findings]


def test_values_come_out_in_si_on_the_recordings_clock():
    signals = clean((CELL, 1.5 + white()), (GAUGE, 8.0 + white()), (LIFT, 0.2 + white()))
    assert np.median(signals.force.value) == pytest.approx(1500.0, rel=1e-3)
    assert np.median(signals.pressure.value) == pytest.approx(8e5, rel=1e-3)
    assert np.median(signals.lift.value) == pytest.approx(0.2e-3, rel=1e-3)
    assert signals.force.noise == pytest.approx(1.0, rel=0.1)
    assert codes(signals) == []


def test_channels_on_equal_clocks_share_one():
    signals = clean((CELL, white()), (LIFT, white(seed=1)))
    assert signals.lift.time_s is signals.cells[0].time_s
    assert not signals.lift.value.flags.writeable


def test_a_channel_that_lost_samples_keeps_a_clock_of_its_own():
    values = white(seed=1)
    values[700:720] = np.nan
    signals = clean((CELL, white()), (LIFT, values))
    assert signals.lift.time_s.size == COUNT - 20
    assert signals.lift.gaps == ((pytest.approx(0.699), pytest.approx(0.720)),)
    assert signals.cells[0].gaps == ()


def test_a_polynomial_comes_before_the_unit():
    spec = replace(CELL, polynomial=(0.5, 2.0, 0.25))  # kN from raw, lowest power first
    raw = 2.0 + white(1e-6)
    # 0.5 + 2 * 2 + 0.25 * 4 = 5.5 kN
    assert np.median(clean((spec, raw)).force.value) == pytest.approx(5500.0, rel=1e-5)


@pytest.mark.parametrize("delay", [0.25, -0.1, 0.0])
def test_a_delay_sets_the_channels_clock_back(delay):
    signals = clean((CELL, white()), (replace(LIFT, delay_s=delay), white(seed=1)))
    assert signals.lift.time_s[0] == pytest.approx(-delay)
    assert signals.force.time_s[0] == 0.0


@pytest.mark.parametrize("correction", [9790.0, -9790.0])
def test_the_head_correction_is_added_with_its_sign_to_line_pressure_only(correction):
    pairs = [(replace(spec, head_correction_pa=correction), 8.0 + white()) for spec in (GAUGE, CELL)]
    signals = clean(*pairs)
    assert np.median(signals.pressure.value) == pytest.approx(8e5 + correction, abs=20.0)
    assert np.median(signals.force.value) == pytest.approx(8000.0, abs=0.2)


def test_cells_add_up_and_their_noise_adds_in_squares():
    second = replace(CELL, column="cell 2")
    signals = clean((CELL, 1.0 + white(3e-3)), (second, 0.5 + white(4e-3, seed=1)))
    assert np.median(signals.force.value) == pytest.approx(1500.0, rel=1e-3)
    assert signals.force.noise == pytest.approx(5.0, rel=0.1)
    assert [cell.name for cell in signals.cells] == ["cell 1", "cell 2"]


def test_a_cell_that_is_lost_leaves_no_force():
    signals = clean((CELL, 1.0 + white()), (replace(CELL, column="cell 2"), np.full(COUNT, np.nan)))
    assert signals.force is None


def test_missing_samples_become_a_gap_and_one_lost_sample_does_not():
    values = 1.0 + white()
    values[1000] = np.nan
    values[2000:2100] = np.nan
    signals = clean((CELL, values))
    ((low, high),) = signals.force.gaps
    assert (low, high) == pytest.approx((1.999, 2.100))
    assert signals.force.value.size == COUNT - 101


def test_spikes_are_taken_out_and_said():
    values = 1.0 + white()
    values[1500] += 5.0
    signals = clean((CELL, values))
    assert codes(signals) == ["repaired-samples"]
    (finding,) = signals.findings
    assert finding.severity is Severity.INFO
    assert finding.parameters["count"] == 1
    assert finding.parameters["at_s"] == pytest.approx(1.5)
    assert 1.5 not in signals.force.time_s


def test_hum_is_taken_off_and_said():
    values = 1.0 + white() + 0.02 * np.sin(2 * np.pi * 50.0 * clock())
    signals = clean((CELL, values))
    assert codes(signals) == ["hum-removed"]
    assert signals.findings[0].parameters["frequency_hz"] == pytest.approx(50.0, abs=0.05)
    assert np.std(signals.force.value) == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize("values", [np.full(COUNT, np.nan), np.full(COUNT, 0.7)])
@pytest.mark.parametrize("spec", [CELL, LIFT])
def test_a_channel_without_a_living_value_is_none(spec, values):
    signals = clean((spec, values))
    assert (signals.force, signals.lift) == (None, None)


def one_channel(values):
    sigma = noise_floor(values)
    return Signal("cell 1", Measures.PULL_FORCE, clock(), values, np.full(COUNT, sigma), STEP)


def hill(top):
    return np.minimum(2000.0 * np.sin(np.pi * clock() / 4.0) + white(2.0), top)


def test_a_stop_is_found_by_the_stated_capacity():
    assert saturation(one_channel(hill(1500.0)), 1500.0) == pytest.approx(1500.0)
    assert saturation(one_channel(hill(1e9)), 2500.0) is None


def test_a_stop_is_found_without_a_stated_capacity():
    assert saturation(one_channel(hill(1500.0)), None) == pytest.approx(1500.0)


def test_a_force_that_only_peaks_is_not_at_its_stop():
    assert saturation(one_channel(hill(1e9)), None) is None


def test_saturation_is_a_severe_finding_with_its_limit():
    signals = clean((replace(CELL, capacity=1500.0), hill(1500.0) / 1e3))
    finding = next(f for f in signals.findings if f.code == "force-saturated")
    assert finding.severity is Severity.SEVERE
    assert finding.parameters == {"channel": "cell 1", "limit_n": pytest.approx(1500.0)}
    assert signals.saturated_at_n == pytest.approx(1500.0)


def test_a_stop_is_seen_before_hum_is_looked_for():
    values = hill(1900.0)
    values[500:1000] += 20.0 * np.sin(2 * np.pi * 50.0 * clock()[500:1000])
    signals = clean((CELL, np.minimum(values, 1900.0) / 1e3))
    assert codes(signals) == ["force-saturated"]
    assert signals.force.value.max() == pytest.approx(1900.0)


def test_nothing_given_is_changed():
    values = frozen(1.0 + white())
    before = values.copy()
    clean((CELL, values))
    assert np.array_equal(values, before)
