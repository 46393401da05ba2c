"""Blocks, channel densities and the joint estimate on signals whose bend is known."""

import dataclasses

import numpy as np
import pytest

from firstlift.core.job import Measures
from firstlift.core.lift.bend import side_by_side
from firstlift.core.lift.blocks import cut, cut_windows
from firstlift.core.lift.choose import MOTION_SHAPES, fit_windows
from firstlift.core.lift.fuse import fuse
from firstlift.core.lift.place import Place
from firstlift.core.signal.condition import Signal, Signals

BEND_S = 1.2345


def signal(name, measures, value, sigma, time_s):
    return Signal(name, measures, time_s, value, np.full(time_s.size, sigma), float(time_s[1] - time_s[0]))


def known(seed, offset_s=0.0):
    """Force falls off its ramp, lift and sound grow, all at one instant."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 2.0, 1e-3)
    after = np.maximum(time_s - BEND_S, 0.0)
    noise = rng.normal(0.0, 1.0, (3, time_s.size))
    time_s = time_s + offset_s
    force = signal(
        "pull force", Measures.PULL_FORCE, 400 * (time_s - offset_s) - 300 * after + 2 * noise[0], 2.0, time_s
    )
    lift = signal(
        "lift", Measures.SPINDLE_LIFT, 1e-5 * (time_s - offset_s) + 1e-3 * after + 4e-6 * noise[1], 4e-6, time_s
    )
    sound = signal("sound", Measures.ACOUSTIC, 1.0 + 8.0 * after + 0.1 * noise[2], 0.1, time_s)
    return Signals(force, (), (), None, lift, sound, None, None)


def place(offset_s=0.0):
    """Edges between samples: one that lies on an edge may fall in or out by the last bit of the clock."""
    low, high = 1.0504 + offset_s, 1.4007 + offset_s
    return Place(low, high, low, high, 0.2003 + offset_s, 1.9006 + offset_s)


@pytest.mark.parametrize("seed", range(6))
def test_finds_the_bend_and_the_force_at_it(seed):
    joint = fuse(known(seed), place())
    assert abs(joint.mean_s - BEND_S) < 4.0 * joint.spread_s
    assert joint.spread_s < 4e-3
    assert joint.probability.sum() == pytest.approx(1.0)
    assert abs(joint.probability @ joint.force_n - 400 * BEND_S) < 400 * 4.0 * joint.spread_s + 2.0


def strokes(time_s, starts, length_s):
    """The pump's way: one for each stroke, even within it."""
    return sum(np.clip((time_s - start) / length_s, 0.0, 1.0) for start in starts)


@pytest.mark.parametrize("seed", range(4))
def test_under_strokes_the_disc_leaves_where_it_first_moves_not_at_the_next_stroke(seed):
    """The first stroke ends before first lift and bends the force alone; the third moves the disc the most."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, 2.4, 1e-3)
    way = strokes(time_s, (0.2, 0.9, 1.5), 0.3)
    left = way[np.searchsorted(time_s, 1.15)]
    open_way = np.maximum(way - left, 0.0)
    noise = rng.normal(0.0, 1.0, (3, time_s.size))
    force = signal("pull force", Measures.PULL_FORCE, 200 * way - 230 * open_way + 0.7 * noise[0], 0.7, time_s)
    lift = signal("lift", Measures.SPINDLE_LIFT, 4e-4 * open_way + 3e-6 * noise[1], 3e-6, time_s)
    sound = signal("sound", Measures.ACOUSTIC, 1.0 + 8.0 * open_way + 0.05 * noise[2], 0.05, time_s)
    signals = Signals(force, (), (), None, lift, sound, None, None)
    joint = fuse(signals, Place(0.7004, 1.7006, 0.7004, 1.9003, 0.1003, 2.3004))
    assert abs(joint.mean_s - 1.15) < max(4.0 * joint.spread_s, 4e-3)
    assert joint.spread_s < 8e-3


def test_sound_may_be_further_off_than_its_noise_says():
    """The same values of the same noise, once heard and once moved: the shapes of both hold the plain bend."""
    signals = known(3)
    heard = fuse(signals, place(), use=(False, False, True)).channels[-1]
    moved = dataclasses.replace(signals.sound, name="lift", measures=Measures.SPINDLE_LIFT)
    seen = fuse(dataclasses.replace(signals, lift=moved), place(), use=(False, True, False)).channels[-1]
    assert heard.spread_s == pytest.approx(np.sqrt(2.5) * seen.spread_s, rel=0.25)
    assert abs(heard.mean_s - BEND_S) < 3.0 * heard.spread_s


def test_shifting_the_clock_shifts_the_answer_only():
    here, there = fuse(known(1), place()), fuse(known(1, 64.0), place(64.0))
    assert there.mean_s - 64.0 == pytest.approx(here.mean_s, abs=1e-6)
    assert there.spread_s == pytest.approx(here.spread_s, rel=1e-4)


def test_a_channel_that_may_not_speak_has_no_say_but_the_force_is_still_told():
    joint = fuse(known(2), place(), use=(False, True, False))
    assert [channel.name for channel in joint.channels] == ["lift"]
    assert abs(joint.probability @ joint.force_n - 400 * BEND_S) < 10.0
    assert fuse(known(2), place(), use=(False, False, False)) is None


@pytest.mark.parametrize(("before_s", "after_s"), [(1.0, 0.7), (0.3, 0.3), (0.05, 0.02)])
def test_blocks_are_weighted_means(before_s, after_s):
    rng = np.random.default_rng(7)
    time_s = np.cumsum(rng.uniform(0.9e-3, 1.1e-3, 2000))
    force = Signal("f", Measures.PULL_FORCE, time_s, rng.normal(5e3, 1, 2000), rng.uniform(1, 3, 2000), 1e-3)
    window = cut(force, 1.1, before_s, after_s)
    part = force.between(1.1 - before_s, 1.1 + after_s)
    split = int(np.searchsorted(time_s, 1.1))
    # at most 48 blocks before the first candidate, 80 from it on; what is left over lies at the outer ends
    small, large = -(-(split - part.start) // 48), -(-(part.stop - split) // 80)
    first = split - (split - part.start) // small * small
    last = split + (part.stop - split) // large * large
    blocks = [np.arange(i, i + small) for i in range(first, split, small)]
    blocks += [np.arange(i, i + large) for i in range(split, last, large)]
    t = np.array([time_s[b].mean() for b in blocks])
    w = np.array([(force.sigma[b] ** -2.0).sum() for b in blocks])
    y = np.array([(force.sigma[b] ** -2.0 * force.value[b]).sum() for b in blocks]) / w
    np.testing.assert_allclose(window.centre_s + window.half_s * window.tau, t, rtol=1e-12)
    np.testing.assert_allclose(window.value, y, rtol=1e-12)
    np.testing.assert_allclose(window.sigma, w**-0.5, rtol=1e-10)


def test_a_row_of_windows_is_what_each_is_alone():
    rng = np.random.default_rng(8)
    time_s = np.cumsum(rng.uniform(0.9e-3, 1.1e-3, 2000))
    force = Signal("f", Measures.PULL_FORCE, time_s, rng.normal(5e3, 1, 2000), rng.uniform(1, 3, 2000), 1e-3)
    before, after = np.array([1.0, 0.3, 0.05, 0.004]), np.array([0.7, 0.01, 0.02, 0.5])
    row, owner = cut_windows([(force, before, after), (force, before[:1], after[:1])], 1.1, first_s=1.08)
    # the last of the first signal's is too short
    assert owner.tolist() == [0, 0, 0, 1]
    for number, (early, late) in enumerate(zip([*before[:3], before[0]], [*after[:3], after[0]], strict=True)):
        window = row.window(number)
        alone = cut(force, 1.1, early, late, first_s=1.08)
        np.testing.assert_allclose(window.tau, alone.tau, rtol=1e-9, atol=1e-12)
        np.testing.assert_allclose(window.value, alone.value, rtol=1e-12)
        np.testing.assert_allclose(window.sigma, alone.sigma, rtol=1e-9)


def test_too_few_samples_on_a_side_give_no_window():
    force = known(0).force
    assert cut(force, 0.004, 0.5, 0.5) is None
    assert cut(force, 1.0, 0.5, 0.005) is None
    assert cut(force, 1.0, 0.01, 0.01) is not None


def test_slopes_that_change_the_wrong_way_are_excluded():
    force, time_s = known(3).force, np.linspace(1.1, 1.4, 31)
    window = cut(force, 1.25, 0.6, 0.5)
    right, wrong = (
        fit_windows(side_by_side([window]), MOTION_SHAPES[:1], time_s, np.array([sign])) for sign in (-1.0, 1.0)
    )
    assert time_s[right.best[0, 0]] == pytest.approx(BEND_S, abs=0.02)
    assert not np.isfinite(wrong.least).any()
    both = fit_windows(side_by_side([window, window]), MOTION_SHAPES[:1], time_s, np.array([-1.0, 0.0]))
    assert both.best[0].tolist() == [right.best[0, 0]] * 2
