"""What the channels show, against the motion they show it of."""

from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.job import Form, Measures
from firstlift.core.recording import reduce_waveform
from firstlift.sim.model import (
    Disturbances,
    Instrumentation,
    LineModel,
    Pull,
    PullProgram,
    RigModel,
    SensorModel,
    ValveModel,
)
from firstlift.sim.simulate import simulate

VALVE = ValveModel(10e5, 0.040, early=0.1)
RIG = RigModel()
PROGRAM = PullProgram(LineModel(8e5, waves=((0.002, 2.0, 0.0),)), (Pull(0.5, 60e-6, 200e-6, 0.2),), 6.0)
PERFECT = Instrumentation(
    cells=(SensorModel("cell 1", "kN", 0.002, 1.0),),
    gauge=SensorModel("line", "bar", 0.002),
    lift=SensorModel("lift", "mm"),
    sound=SensorModel("acoustic", "mV", offset=1e-3),
    stated_diameter_m=0.040,
    u_diameter_m=6e-5,
)
QUIET = Disturbances()


def run(instruments=PERFECT, faults=QUIET, program=PROGRAM, rig=RIG, valve=VALVE, seed=1):
    return simulate(valve, rig, program, instruments, faults, np.random.default_rng(seed))


def shown(test, column):
    return test.columns[column]


def gauge_with(**changes):
    return replace(PERFECT, gauge=replace(PERFECT.gauge, **changes))


def test_perfect_sensors_show_the_motion_in_their_own_units():
    test = run()
    for column, truth, factor in (
        ("cell 1", test.motion.pull_n, 1e3),
        ("line", test.motion.line_pa, 1e5),
        ("lift", test.motion.spindle_m, 1e-3),
    ):
        times, values = shown(test, column)
        assert values * factor == pytest.approx(np.interp(times, test.motion.time_s, truth), rel=1e-12, abs=1e-15)


def test_perfect_sensors_and_area_give_the_true_set_pressure():
    (pull,) = run().truth.pulls
    assert pull.ideal_estimate_pa == pytest.approx(10e5, rel=1e-9)
    assert pull.opening_pressure_pa == pytest.approx(10e5, rel=1e-9)


def test_ideal_estimate_by_hand_with_errors_weight_and_another_area():
    cells = (
        SensorModel("cell 1", "kN", gain_error=0.01, zero_error=2.0, share=0.7, offset=50.0),
        SensorModel("cell 2", "kN", gain_error=-0.02, zero_error=-1.0, share=0.3),
    )
    instruments = replace(PERFECT, cells=cells, gauge=SensorModel("line", "bar", gain_error=0.003, zero_error=400.0))
    test = run(replace(instruments, stated_diameter_m=0.041), rig=replace(RIG, weight_on_spindle_n=30.0))
    (pull,) = test.truth.pulls
    whole = pull.force_n + 30.0
    force = 0.7 * whole * 1.01 + 2.0 + 0.3 * whole * 0.98 - 1.0 - 30.0
    expected = pull.line_pressure_pa * 1.003 + 400.0 + force / (np.pi / 4 * 0.041**2)
    assert pull.ideal_estimate_pa == pytest.approx(expected, rel=1e-9)
    # the cells' own readings, tared at slack, say the same
    read = sum(np.interp(pull.first_lift_s, *shown(test, cell.column)) * 1e3 for cell in cells) - 50.0
    assert read - 30.0 == pytest.approx(force, abs=0.05)


def test_back_pressure_of_a_closed_bonnet_is_taken_through_both_ways():
    valve = replace(VALVE, back_pressure_at_test_pa=0.4e5, superimposed_back_pressure_pa=1e5, spindle_diameter_m=0.016)
    test = run(valve=valve)
    (pull,) = test.truth.pulls
    area, spindle = np.pi / 4 * 0.040**2, np.pi / 4 * 0.016**2
    assert pull.line_pressure_pa * area + pull.force_n == pytest.approx(9e5 * area + 0.4e5 * (area - spindle))
    assert pull.ideal_estimate_pa == pytest.approx(10e5, rel=1e-9)


def test_same_seed_same_recording_and_another_seed_another():
    noisy = gauge_with(noise=1e-3)
    first, again, other = run(noisy), run(noisy), run(noisy, seed=2)
    assert first.recording.sha256 == again.recording.sha256
    assert first.recording.sha256 != other.recording.sha256
    assert first.truth == other.truth


def test_noise_resolution_and_saturation():
    values = shown(run(gauge_with(noise=1e-3)), "line")[1] - shown(run(), "line")[1]
    assert np.std(values) == pytest.approx(8e-3, rel=0.05)
    steps = np.unique(np.round(shown(run(gauge_with(resolution=500.0)), "line")[1] * 200, 6))
    assert np.all(steps == np.round(steps))
    cell = replace(PERFECT.cells[0], capacity=100.0)
    assert shown(run(replace(PERFECT, cells=(cell,))), "cell 1")[1].max() == pytest.approx(0.1)


def test_a_lagging_gauge_trails_and_a_holding_one_stands():
    true = run(program=replace(PROGRAM, line=LineModel(8e5, drift_per_s=1e-3)))
    lagging = run(gauge_with(lag_s=0.2), program=replace(PROGRAM, line=LineModel(8e5, drift_per_s=1e-3)))
    behind = shown(true, "line")[1][-1] - shown(lagging, "line")[1][-1]
    assert behind == pytest.approx(8.0 * 1e-3 * 0.2, rel=0.01)
    held = shown(run(gauge_with(hold_s=0.1)), "line")[1]
    assert np.count_nonzero(np.diff(held)) == pytest.approx(held.size / 100, abs=1)


def test_a_delayed_channel_shows_the_past():
    late = run(replace(PERFECT, lift=replace(PERFECT.lift, delay_s=0.03)))
    assert shown(late, "lift")[1][100:] == pytest.approx(shown(run(), "lift")[1][70:-30], abs=1e-12)
    stated = run(replace(PERFECT, lift=replace(PERFECT.lift, delay_s=0.03, delay_stated=True)))
    assert late.job.of(Measures.SPINDLE_LIFT)[0].delay_s is None
    assert stated.job.of(Measures.SPINDLE_LIFT)[0].delay_s == 0.03


def test_gaps_spikes_steps_and_hum_are_where_they_were_put():
    faults = Disturbances(
        hum_hz=60.0, gaps=(("line", 1.0, 1.1),), spikes=(("cell 1", 2.0, 500.0),), frame_steps=((0.2, 5e-5),)
    )
    test, plain = run(faults=faults), run()
    times, line = shown(test, "line")
    assert times[np.isnan(line)] == pytest.approx(np.arange(1000, 1100) / 1000)
    extra = shown(test, "cell 1")[1] - shown(plain, "cell 1")[1]
    assert np.flatnonzero(extra).tolist() == [2000]
    assert extra[2000] == pytest.approx(0.5)
    moved = shown(test, "lift")[1] - shown(plain, "lift")[1]
    assert moved[190] == 0.0
    assert moved[-1] == pytest.approx(0.05)
    hum = shown(run(gauge_with(hum=2000.0), faults=faults), "line")[1] - shown(plain, "line")[1]
    assert np.abs(np.fft.rfft(hum[2000:])).argmax() == 60 * 4


@pytest.mark.parametrize("way", ["flat", "noise"])
def test_a_lost_channel_says_nothing_of_the_lift(way):
    lift = replace(PERFECT.lift, lost=way, noise=1e-6)
    values = shown(run(replace(PERFECT, lift=lift)), "lift")[1]
    assert np.ptp(values) < 0.02
    assert (np.ptp(values) == 0.0) == (way == "flat")


def test_sound_grows_before_first_lift_and_roars_after():
    test = run()
    at = test.truth.pulls[0].first_lift_s
    times, level = shown(test, "acoustic")
    quiet, leak, flow = (level[(times > a) & (times < b)].mean() for a, b in ((0, 0.4), (at - 0.01, at), (at + 1, 3)))
    assert quiet == pytest.approx(1.0, rel=0.02)
    assert leak > 1.1 * quiet
    assert flow > 5 * leak


def test_a_waveform_is_reduced_as_a_reader_would_and_has_the_level_as_its_size():
    test = run(replace(PERFECT, waveform_hz=10_000.0))
    (spec,) = test.job.of(Measures.ACOUSTIC)
    channel = next(c for c in test.recording.channels if c.spec == spec)
    _, wave = shown(test, "acoustic")
    _, squares, _ = reduce_waveform(lambda a, b: wave[a:b], wave.size, dt_s=1e-4, t0_s=0.0, block_s=1e-3)
    assert spec.form is Form.WAVEFORM
    assert channel.samples == 60_000
    assert channel.block_s == pytest.approx(1e-3)
    assert channel.values == pytest.approx(squares)
    assert np.std(wave[:4000]) == pytest.approx(1.0, rel=0.05)


def test_a_recording_that_starts_late_keeps_its_own_clock():
    early, late = run(), run(program=replace(PROGRAM, record_from_s=0.8))
    assert late.truth.pulls[0].first_lift_s == pytest.approx(early.truth.pulls[0].first_lift_s - 0.8)
    assert late.truth.pulls[0].start_s == pytest.approx(-0.3)
    assert shown(late, "lift")[1] == pytest.approx(shown(early, "lift")[1][800:])
