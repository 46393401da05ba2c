"""Slope breaks in real curves against published or stated brackets. Origins and licences: tests/data/README.md."""

import numpy as np
import pytest

from firstlift.core.lift.pick import pick_bend

TABLES = {
    "test_spring_preload": ("spring_preload/brackets.csv", lambda row: True),
    "test_spring_preload_between_straight_lines": ("spring_preload/brackets.csv", lambda row: True),
    "test_dome_stop": ("dome_bench/answers.csv", lambda row: True),
    "test_gradual_contact": ("afm_contact/estimators.csv", lambda row: True),
}


def within_bracket(picked, row):
    assert picked.reliable
    assert float(row["mm_lo"]) <= picked.at <= float(row["mm_hi"])
    # the break lies between the crossing of the lines and the small breakaway peak that friction adds
    assert float(row["kink_gf"]) - 1.0 <= picked.value <= float(row["breakaway_peak_gf"]) + 0.5


def press_stroke(arrays, row):
    displacement, force = arrays("spring_preload/press_strokes.npz")[row["name"]]
    return displacement / 1000.0, force / 10.0


def test_spring_preload(arrays, row):
    """Data by ThereminGoat (credit), tidied by Jesse Jackson, MIT: a plunger leaves its stop at the preload."""
    picked = pick_bend(*press_stroke(arrays, row), sign=-1.0)
    within_bracket(picked, row)
    # bracket half widths are 0.02 to 0.04 mm: an uncertainty beyond that would say nothing
    assert 0.001 < picked.standard_uncertainty < 0.04


def test_spring_preload_between_straight_lines(arrays, row):
    """The same curves with the stiff line and the spring's line taken as straight."""
    within_bracket(pick_bend(*press_stroke(arrays, row), sign=-1.0, straight=True), row)


def test_dome_stop(arrays, row):
    """Data by BuddyOG / Unreal Keyboards (attribution): press stroke of a rubber dome with a peak and a hard stop."""
    travel, force = (part.astype(float) for part in arrays("dome_bench/press_strokes.npz")[row["name"]])
    travel, force = travel / 1000.0, force / 1e4
    top = int(np.argmax(np.where(travel < 0.7 * travel[-1], force, 0.0)))
    valley = top + int(np.argmin(force[top:]))
    picked = pick_bend(travel[valley:], force[valley:], sign=1.0, earliest=True)
    assert picked.reliable
    assert abs(picked.at - float(row["stop_mm"])) <= 0.05
    peak = force[travel < picked.at - 2.0 * picked.standard_uncertainty].max()
    # the repository's numbers are of smoothed runs: run to run they agree to 1 gf
    assert abs(peak - float(row["peak_gf"])) <= 1.0


def colucci(columns):
    volume, temperature, _ = columns("glass_two_slope/COLUCCI3.DAT")
    return temperature, volume


def test_break_in_a_gap(columns):
    """D. Colucci, NIST, public domain: two straight branches that cross where there is no reading."""
    picked = pick_bend(*colucci(columns), sign=1.0, straight=True)
    assert picked.reliable
    assert 100.63 < picked.at < 170.13
    # crossing of the two least-squares lines 138.33, delta-method standard error 1.52
    assert picked.at == pytest.approx(138.33, abs=2.0 * picked.standard_uncertainty)
    assert 1.0 <= picked.standard_uncertainty <= 5.0
    assert picked.value == pytest.approx(0.853113, abs=0.002)


def test_break_in_a_gap_between_curves(columns):
    """If the branches may be curved, the gap alone says less: the number holds, its uncertainty is wider."""
    picked = pick_bend(*colucci(columns), sign=1.0)
    straight = pick_bend(*colucci(columns), sign=1.0, straight=True)
    assert 100.63 < picked.at < 170.13
    assert picked.at == pytest.approx(138.33, abs=picked.standard_uncertainty)
    assert straight.standard_uncertainty < picked.standard_uncertainty < 25.0


def test_gradual_contact(arrays, row):
    """Data of afmformats, MIT, (c) 2019 Paul Mueller: contact of a soft sample, where six estimators disagree."""
    stored = arrays(f"afm_contact/{row['name']}.npz")
    position = stored["position_pm"] / 1e12
    picked = pick_bend(position, stored["force_n"].astype(float), sign=1.0)
    order = np.argsort(position, kind="stable")
    index = int(stored["first_index"]) + np.interp(picked.at, position[order], np.arange(position.size)[order])
    low, high = float(row["lo"]), float(row["hi"])
    assert low - 10 <= index <= high + 10
    # samples per metre around the contact turn the uncertainty into samples
    near = np.abs(position - picked.at) < 10.0 * picked.standard_uncertainty
    step = np.ptp(position[near]) / (np.count_nonzero(near) - 1)
    estimates = [float(value) for name, value in row.items() if name not in ("name", "lo", "hi")]
    spread = np.std(estimates, ddof=1)
    assert 0.2 * spread <= picked.standard_uncertainty / step <= 5.0 * spread


def test_scale_offset_and_units_do_not_matter(arrays):
    x, y = (part.astype(float) for part in arrays("spring_preload/press_strokes.npz")["linear_kelowna_3_stage_72g"])
    plain = pick_bend(x, y, sign=-1.0)
    other = pick_bend(3e-6 * x + 7.0, 0.0098 * y - 50.0, sign=-1.0)
    assert other.at == pytest.approx(3e-6 * plain.at + 7.0, abs=3e-6 * 0.02 * plain.standard_uncertainty)
    assert other.value == pytest.approx(0.0098 * plain.value - 50.0, abs=0.0098 * 1.0)
    assert other.standard_uncertainty == pytest.approx(3e-6 * plain.standard_uncertainty, rel=0.05)
