"""After the pull: closure observed, friction, and the mechanical signature."""

from __future__ import annotations

import math

import numpy as np

from firstlift.core.lift.friction import friction_of_loop
from firstlift.core.lift.fuse import Joint
from firstlift.core.lift.onset import Loading, block_means
from firstlift.core.result import Signature
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.signal.ranks import median
from firstlift.core.signal.straight import fit_straight

# a valve that has been silent and shut for so long has closed (common practice, no source)
_REST_S = 0.5


def find_closure(
    signals: Signals, pull: PullWindow, loading: Loading, first_lift_s: float, until_s: float
) -> tuple[float | None, bool]:
    """Find when lift is back in its noise and sound back to its baseline.

    A frame that settled during the pull keeps the lift reading away from its old ground for good; then the
    sound alone tells, if there is one.

    Parameters
    ----------
    signals : Signals
    pull : PullWindow
    loading : Loading
    first_lift_s, until_s : float, [s]
        First lift, and the start of the next pull or the end of the record.

    Returns
    -------
    closure_s : float or None, [s]
    known : bool
        False where the record ends before it could be seen.
    """
    lift = signals.lift
    lift_back = None
    if lift is not None and signals.force is not None:
        # the spindle's own stretch under what force is left is not lift
        stretch = (signals.force, max(loading.stiff_m_per_n, 0.0))
        lift_back, _ = _back(lift, pull, first_lift_s, until_s, stretch)
    sound_back, rested = (
        _back(signals.sound, pull, first_lift_s, until_s) if signals.sound is not None else (None, None)
    )
    if sound_back is not None:
        if lift_back is not None and np.isfinite(lift_back):
            # silent for a while with the spindle down, and down it stayed: what is heard later is not this valve
            last = sound_back if rested is None else rested
            return (max(last, lift_back), True) if np.isfinite(last) else (None, True)
        return (sound_back if np.isfinite(sound_back) else None), True
    if lift_back is None:
        return None, False
    return (lift_back if np.isfinite(lift_back) else None), True


def _back(
    signal: Signal, pull: PullWindow, first_lift_s: float, until_s: float, stretch: tuple[Signal, float] | None = None
) -> tuple[float | None, float | None]:
    """Time from which a channel stays near its ground; infinity where it does not; None where it never left.

    Beside it when it first rested there for a while, None where it did not. ``stretch`` is the force, and how much of
    the reading goes with it.
    """
    blocks = int(min(max((until_s - first_lift_s) / max(0.02, 4 * signal.step_s), 20.0), 4000.0))
    edges = np.linspace(first_lift_s, until_s, blocks)
    mean, count = block_means(signal, edges)
    # the last third of the slack: a frame may have settled before that
    slack = signal.between(pull.start_s - (pull.start_s - pull.slack_from_s) / 3.0, pull.start_s)
    before = signal.value[slack]
    if stretch is not None:
        force, stiff = stretch
        mean = mean - stiff * (block_means(force, edges)[0] - pull.tare_n)
        first, last = force.time_s.searchsorted((pull.slack_from_s, pull.start_s)).tolist()
        pulled = slice(max(first - 1, 0), last + 1)
        then = np.interp(signal.time_s[slack], force.time_s[pulled], force.value[pulled])
        before = before - stiff * (then - pull.tare_n)
    good = np.isfinite(mean)
    if before.size < 8 or good.sum() < 10:
        return None, None
    mean, at = mean[good], edges[:-1][good]
    ground = median(before)
    noise = max(float(before.std()), signal.noise) / math.sqrt(max(median(count), 1.0))
    top = float(mean.max()) - ground
    if top < 12.0 * noise:
        return None, None
    # a twentieth of the largest lift, or of the loudest sound, counts as closed: seats creep and flow dies away
    off = mean - ground > max(6.0 * noise, 0.05 * top)
    # three blocks in a row: a burst or a spike after closure is not flow
    lasting = off[2:] & off[1:-1] & off[:-2]
    away = np.flatnonzero(lasting)
    last = int(away[-1]) + 2 if away.size else 0
    rested = _rested(off, max(3, round(_REST_S / float(edges[1] - edges[0]))))
    rested_s = None if rested is None else float(at[rested])
    if last >= mean.size - 2:
        return float("inf"), rested_s
    return float(at[last + 1]), rested_s


def _rested(off: np.ndarray, blocks: int) -> int | None:
    """Find the first block, after the first that is away, from which so many in a row are not."""
    away = np.flatnonzero(off)
    if away.size == 0:
        return None
    gaps = np.append(away[1:], off.size) - away
    long = np.flatnonzero(gaps > blocks)
    return int(away[long[0]]) + 1 if long.size and int(away[long[0]]) + 1 < off.size else None


def signature(signals: Signals, pull: PullWindow, loading: Loading, joint: Joint, closure_s: float | None) -> Signature:
    """Measure the valve's mechanical signature in one pull.

    Slopes are force over lift: the stiff line before first lift, the soft line just after (negative where
    the fluid force outruns the spring). The closing force is what was read as the disc met its seat; friction comes
    from the whole loop of force over lift, which a disc let down fast does not spoil.

    Parameters
    ----------
    signals : Signals
    pull : PullWindow
    loading : Loading
    joint : Joint
    closure_s : float or None, [s]

    Returns
    -------
    Signature
    """
    at = joint.mean_s
    opening = float(joint.probability @ joint.force_n) - pull.zero_n(at)[0]
    stiff = 1.0 / loading.stiff_m_per_n if loading.stiff_m_per_n > 1e-15 and loading.lift_left is not None else None
    return Signature(
        stiff_slope_n_per_m=stiff,
        soft_slope_n_per_m=_soft(signals, loading, at),
        opening_force_n=opening,
        closing_force_n=_closing(signals, pull, closure_s),
        friction_n=None if closure_s is None else friction_of_loop(signals, loading, at, closure_s),
        play_m=loading.play_m,
        load_share=_shares(signals, pull, at),
        sound_before_lift_ratio=_sound_before(loading, at, joint.spread_s),
        largest_lift_m=_largest(signals, pull),
    )


def _soft(signals: Signals, loading: Loading, at: float) -> float | None:
    if signals.lift is None or signals.force is None:
        return None
    edges = np.linspace(at, at + 0.5 * (loading.top_s - at), 31)
    x, _ = block_means(signals.lift, edges)
    f, _ = block_means(signals.force, edges)
    good = np.isfinite(x) & np.isfinite(f)
    if good.sum() < 8 or float(np.ptp(x[good])) < 20.0 * signals.lift.noise / np.sqrt(10.0):
        return None
    return fit_straight(x[good], f[good])[0]


def _closing(signals: Signals, pull: PullWindow, closure_s: float | None) -> float | None:
    """Read the force at which the disc meets its seat: the peak just before the force is given up, [N]."""
    force = signals.force
    if force is None or closure_s is None:
        return None
    reach = 0.05 * (pull.end_s - pull.start_s)
    part = force.value[force.between(closure_s - reach, closure_s + 0.02)]
    size = max(1, part.size // 20)
    count = part.size // size
    if count < 3:
        return None
    return float(part[: count * size].reshape(count, size).mean(axis=1).max()) - pull.zero_n(closure_s)[0]


def _shares(signals: Signals, pull: PullWindow, at: float) -> tuple[float, ...]:
    if len(signals.cells) < 2:
        return ()
    loads = [cell_load(cell, pull, at) for cell in signals.cells]
    total = sum(loads)
    return tuple(load / total for load in loads) if abs(total) > 1e-9 else ()


def cell_load(cell: Signal, pull: PullWindow, at: float) -> float:
    """Load of one cell around an instant, its own tare taken off, [N].

    Parameters
    ----------
    cell : Signal
    pull : PullWindow
    at : float, [s]

    Returns
    -------
    float, [N]
    """
    slack = cell.value[cell.between(pull.slack_from_s, pull.start_s - 0.1 * (pull.start_s - pull.slack_from_s))]
    if slack.size == 0:
        return 0.0
    half = max(0.02, 10.0 * cell.step_s)
    now = cell.value[cell.between(at - half, at + half)]
    # within a gap of this cell: between what it read on either side, as the sum of cells is
    load = float(np.mean(now)) if now.size else float(np.interp(at, cell.time_s, cell.value))
    return load - float(np.mean(slack))


def _sound_before(loading: Loading, at: float, spread: float) -> float | None:
    left = loading.sound_left
    if left is None:
        return None
    before = left[loading.time_s < at - 2.0 * spread - 0.1 * (at - loading.start_s)]
    top = float(left.max())
    return float(np.mean(before[-max(3, before.size // 5) :]) / top) if before.size > 5 and top > 0 else None


def _largest(signals: Signals, pull: PullWindow) -> float | None:
    lift = signals.lift
    if lift is None:
        return None
    part = lift.value[lift.between(pull.start_s, pull.end_s)]
    before = lift.value[lift.between(pull.slack_from_s, pull.start_s)]
    if part.size < 10 or before.size < 5:
        return None
    edges = np.linspace(pull.start_s, pull.end_s, 201)
    mean, _ = block_means(lift, edges)
    return float(np.nanmax(mean)) - median(before)
