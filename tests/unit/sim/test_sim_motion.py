"""The motion against force balances and slopes worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.valve import Medium
from firstlift.sim.drive import drive_m, end_s, line_pa, rise_s
from firstlift.sim.model import LineModel, Pull, PullProgram, RigModel, ValveModel
from firstlift.sim.motion import move

# 10 bar on 40 mm: preload 1256.637 N; a line of 8 bar leaves a pull of 251.327 N at first lift
VALVE = ValveModel(10e5, 0.040, Medium.GAS, spring_rate_n_m=1e5, seat_stiffness_n_m=5e7, early=0.1)
RIG = RigModel(stiffness_n_m=5e6)
PULL = Pull(0.5, 60e-6, 250e-6, 0.2)
PROGRAM = PullProgram(LineModel(8e5), (PULL,), 7.0)


def two_pulls():
    return replace(PROGRAM, pulls=(PULL, replace(PULL, start_s=7.5)), duration_s=14.0)


def test_first_lift_is_where_pull_and_line_carry_the_preload():
    motion = move(VALVE, RIG, PROGRAM)
    ((_, line, pull),) = motion.openings
    assert line == 8e5
    assert pull == pytest.approx(2e5 * np.pi / 4 * 0.040**2, rel=1e-9)


def test_balance_holds_with_line_waves_friction_bond_tilt_and_weight():
    valve = replace(VALVE, friction_n=20.0, bond_n=60.0, tilt_m=8e-6, tilt_load_n=40.0)
    rig = replace(RIG, weight_on_spindle_n=35.0)
    line = LineModel(8e5, 1e-3, ((0.003, 1.3, 0.4),))
    motion = move(valve, rig, replace(PROGRAM, line=line))
    time, pressure, pull = motion.openings[0]
    area = np.pi / 4 * 0.040**2
    # at -bond the disc stands bond / seat stiffness above its free position: the spring adds k x
    expected = 10e5 * area + 20.0 + 60.0 + 1e5 * 60.0 / 5e7
    assert pressure * area + pull == pytest.approx(expected, rel=1e-9)
    # line and gear are taken as straight over a step of 1 ms
    assert pressure == pytest.approx(8e5 * (1 + 1e-3 * time + 0.003 * np.sin(2 * np.pi * 1.3 * time + 0.4)), rel=1e-6)


def test_side_friction_of_an_eccentric_pull_adds_to_what_is_needed():
    ((_, _, pull),) = move(VALVE, replace(RIG, side_friction_ratio=0.05), PROGRAM).openings
    assert pull == pytest.approx(2e5 * np.pi / 4 * 0.040**2 / 0.95, rel=1e-9)


def test_friction_lowers_the_pull_at_closing_by_twice_itself():
    smooth, rough = (move(replace(VALVE, friction_n=f), RIG, PROGRAM) for f in (0.0, 15.0))
    at_closing = [np.interp(m.closures_s[0], m.time_s, m.pull_n) for m in (smooth, rough)]
    assert rough.openings[0][2] - smooth.openings[0][2] == pytest.approx(15.0, rel=1e-9)
    # overdamped travel while closing costs damping times speed, alike in both
    assert at_closing[0] - at_closing[1] == pytest.approx(15.0, abs=1.0)


def test_a_bond_breaks_once():
    motion = move(replace(VALVE, bond_n=100.0), RIG, two_pulls())
    first, second = motion.openings
    assert first[2] - second[2] == pytest.approx(100.0 * (1 + 1e5 / 5e7), rel=1e-6)


def slope_between(motion, low, high):
    picked = np.flatnonzero((motion.time_s > low) & (motion.time_s < high))
    return np.polyfit(motion.spindle_m[picked], motion.pull_n[picked], 1)[0]


def test_stiff_and_soft_slope_are_those_of_the_springs():
    rate = 3e5
    valve = replace(VALVE, medium=Medium.LIQUID, spring_rate_n_m=rate, early=0.0)
    motion = move(valve, RIG, PROGRAM)
    at = motion.openings[0][0]
    stiff = slope_between(motion, at - 0.6, at - 0.01)
    soft = slope_between(motion, at + 0.05, at + 1.0)
    assert stiff == pytest.approx(1 / (1 / (5e7 + rate) + 1 / 1.5e8), rel=1e-3)
    # the lift sensor also sees the spindle stretch by dF / 1.5e8
    assert soft == pytest.approx(1 / (1 / rate + 1 / 1.5e8), rel=5e-3)
    assert 10 < stiff / soft < 1000


def test_fluid_force_makes_the_pull_drop_as_its_formula_says():
    motion = move(VALVE, RIG, PROGRAM)
    area = np.pi / 4 * 0.040**2
    at = motion.openings[0][0] + 2.0
    x, pull = (np.interp(at, motion.time_s, values) for values in (motion.disc_m, motion.pull_n))
    fluid = 8e5 * area * 0.1 * (1 - np.exp(-x / 150e-6))
    assert x > 80e-6
    # speed times damping is what quasi-static balance leaves out: 60 um/s * 2e4 N s/m
    assert pull == pytest.approx(2e5 * area + 1e5 * x - fluid, abs=2.0)
    assert pull < motion.openings[0][2]


def test_a_tilted_seat_gives_back_its_tilt_before_first_lift():
    valve = replace(VALVE, tilt_m=10e-6, tilt_load_n=30.0)
    motion = move(valve, replace(RIG, spindle_stiffness_n_m=1e15), PROGRAM)
    at = motion.openings[0][0]
    lift = np.interp(at, motion.time_s, motion.spindle_m)
    load = 2e5 * np.pi / 4 * 0.040**2
    assert lift == pytest.approx(load / 5e7 + 10e-6 * (1 - np.exp(-load / 30.0)), rel=1e-3)


def test_a_soft_rig_lets_the_valve_stay_open():
    valve = replace(VALVE, early=0.6, early_m=100e-6)
    # 251 N stretch this gear by half a millimetre: drive further and faster
    program = two_pulls()
    program = replace(program, pulls=tuple(replace(p, top_m=700e-6, speed_m_s=300e-6) for p in program.pulls))
    motion = move(valve, replace(RIG, stiffness_n_m=5e5), program)
    assert len(motion.openings) == 1
    assert motion.closures_s == ()
    assert motion.open[-1]
    assert motion.pull_n[-1] == 0.0
    assert motion.disc_m[-1] > 1e-3


def test_a_frame_that_settles_takes_its_step_from_the_pull():
    rig = replace(RIG, settlings=((150.0, 20e-6),))
    plain, slipped = move(VALVE, RIG, PROGRAM), move(VALVE, rig, PROGRAM)
    at = np.interp(150.0, plain.pull_n[plain.time_s < 1.3], plain.time_s[plain.time_s < 1.3]) + 0.08
    drop = np.interp(at, plain.time_s, plain.pull_n) - np.interp(at, slipped.time_s, slipped.pull_n)
    rise = np.interp(at, slipped.time_s, slipped.spindle_m) - np.interp(at, plain.time_s, plain.spindle_m)
    gear = 1 / (1 / 5e6 + 1 / (5e7 + 1e5))
    assert drop == pytest.approx(gear * 20e-6, rel=1e-3)
    assert rise == pytest.approx(20e-6 - drop / (5e7 + 1e5) - drop / 1.5e8, rel=1e-3)


def test_clamp_beds_in_once_and_play_comes_back():
    bedded = move(VALVE, replace(RIG, yield_m=30e-6, yield_load_n=60.0), PROGRAM)
    played = move(VALVE, replace(RIG, play_m=30e-6, play_load_n=20.0), PROGRAM)
    assert bedded.spindle_m[-1] == pytest.approx(30e-6, rel=0.02)
    assert played.spindle_m[-1] == pytest.approx(0.0, abs=1e-7)
    assert np.interp(played.openings[0][0], played.time_s, played.spindle_m) > 28e-6


def test_the_line_sags_while_the_valve_is_open_only():
    motion = move(VALVE, RIG, replace(PROGRAM, line=LineModel(8e5, sag_share=0.05, sag_lift_m=100e-6)))
    at = motion.openings[0][0]
    assert np.ptp(motion.line_pa[motion.time_s <= at]) == 0.0
    assert motion.line_pa.min() < 0.97 * 8e5


def test_a_finer_step_tells_the_same():
    coarse, fine = (move(VALVE, RIG, replace(PROGRAM, step_s=step)) for step in (1e-3, 1e-4))
    assert coarse.openings[0][0] == pytest.approx(fine.openings[0][0], abs=1e-6)
    assert coarse.closures_s[0] == pytest.approx(fine.closures_s[0], abs=2e-3)


@pytest.mark.parametrize("strokes", [0.0, 0.7])
def test_the_drive_comes_to_its_top_when_it_says(strokes):
    pull = replace(PULL, strokes_s=strokes)
    at = pull.start_s + rise_s(pull)
    before, top, after = drive_m(np.array([at - 0.05, at, end_s(pull) + 0.01]), (pull,))
    assert top == pytest.approx(pull.top_m, rel=1e-9)
    assert before < pull.top_m
    assert after == 0.0


def test_line_waves_and_drift_by_hand():
    line = LineModel(5e5, 2e-3, ((0.01, 0.25, 0.0),))
    assert line_pa(np.array([0.0, 1.0]), line) == pytest.approx([5e5, 5e5 * (1 + 2e-3 + 0.01)])


def test_the_pull_peaks_when_the_damped_disc_has_caught_up_with_its_drive():
    motion = move(VALVE, RIG, replace(PROGRAM, step_s=1e-4))
    peak = motion.time_s[np.argmax(motion.pull_n)] - motion.openings[0][0]
    # c x' = k_rig (v t - x) - (k - fluid slope) x from rest, at a time of a few c / k_rig
    fluid = 8e5 * np.pi / 4 * 0.040**2 * 0.1 / 150e-6
    stiff = 5e6 + 1e5 - fluid
    assert peak == pytest.approx(2e4 / stiff * np.log(5e6 / (fluid - 1e5)), rel=0.05)
