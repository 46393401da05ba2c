"""Find the pulls: rises of the total force out of proven slack, and the tare each is measured from."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal
from firstlift.core.signal.creep import Creep, creep_of_pull, creep_of_record

# a frame that slips or a disc that snaps slackens the gear for a moment; nobody begins a new pull as soon (common
# practice, no source)
_ONE_PULL_S = 0.3
# share of the largest pull that a creeping zero may add to the slack's scatter
_MOST_CREEP = 0.05
# samples that tell the range of a record
_ENOUGH = 20000


@dataclass(frozen=True, slots=True)
class PullWindow:
    """Where one pull lies, and its tare.

    ``start_s`` the force leaves slack, ``peak_s`` its largest value, ``end_s`` it is slack again (or the
    record ends). ``tare_n`` is the slack reading just before the pull with its standard uncertainty;
    ``zero_shift_n`` how far the slack reading after it differs (None where slack did not return).
    ``slack_proven`` is false where the record holds no quiet stretch before the pull. ``creep`` is how the zero moves
    on where it is seen to creep steadily.
    """

    number: int
    start_s: float
    peak_s: float
    end_s: float
    slack_from_s: float
    tare_n: float
    u_tare_n: float
    zero_shift_n: float | None
    slack_proven: bool
    creep: Creep | None = None

    def zero_n(self, at_s: float) -> tuple[float, float]:
        """Give the cells' zero during the pull: the tare, moved on as far as a steady creep took it.

        Parameters
        ----------
        at_s : float, [s]

        Returns
        -------
        zero_n, standard_uncertainty_n : float, [N]
            The uncertainty is that of the zero's move alone. Where the slack reading moved and no steady creep is
            seen, the zero is the tare, and may have moved by all of that either way (rectangular).
        """
        if self.creep is not None:
            away = at_s - self.creep.from_s
            return self.tare_n + self.creep.rate_n_per_s * away, abs(away) * self.creep.u_rate_n_per_s
        moved = abs(self.zero_shift_n or 0.0)
        return self.tare_n, moved / math.sqrt(3.0) if moved > 4.0 * self.u_tare_n else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    time_s: Floats
    value: Floats
    noise: float


def _blocks(force: Signal) -> _Blocks:
    """Average the force over blocks: 20 ms, longer where noise would hide the foot of a pull.

    The foot is seen where a block's noise is a hundredth of the record's range; blocks never grow beyond
    0.2 s (a hand stroke) nor shrink below one sample.
    """
    low, high = np.percentile(force.value[:: max(1, force.value.size // _ENOUGH)], (2.0, 98.0)).tolist()
    span = max(high - low, 1e-12)
    wanted = max(0.02, min(0.2, force.step_s * (100.0 * force.noise / span) ** 2))
    size = max(1, min(round(wanted / force.step_s), force.value.size // 50))
    count = force.value.size // size
    each = np.full(size, 1.0 / size)
    value = force.value[: count * size].reshape(count, size) @ each
    time_s = force.time_s[: count * size].reshape(count, size) @ each
    return _Blocks(time_s, value, max(force.noise / np.sqrt(size), 1e-12))


def slack_level(values: Floats, noise: float) -> float:
    """Find the slack reading of a whole record: the lowest level the force rests at.

    Parameters
    ----------
    values : ndarray (n,), [N]
        Block means.
    noise : float, [N]
        Their noise.

    Returns
    -------
    float, [N]
    """
    ordered = np.sort(values)
    lowest = float(ordered[0])
    span = float(ordered[-1]) - lowest
    # the narrowest band that still holds a tenth of the record is where the force rests; the lower half of
    # the range is searched, for a held pull rests too
    lower = ordered[: max(5, int(np.searchsorted(ordered, lowest + 0.5 * span)))]
    width = max(3, lower.size // 4)
    spread = lower[width - 1 :] - lower[: lower.size - width + 1]
    low = int(np.argmin(np.maximum(spread, 2.0 * noise)))
    return float(np.median(lower[low : low + width]))


def find_pulls(force: Signal) -> tuple[PullWindow, ...]:
    """Find every pull of a record, however many, smooth or by strokes.

    A pull is a stretch above slack whose peak stands out of the slack's scatter by far more than noise
    and is at least a twentieth of the record's largest pull. Two stretches closer than 0.3 s are one.

    Parameters
    ----------
    force : Signal
        Sum of the cells, [N].

    Returns
    -------
    tuple of PullWindow
        In order of time; empty where the force never leaves slack.
    """
    blocks = _blocks(force)
    spans = _find_spans(blocks)
    if not spans:
        # a zero that crept throughout may scatter the slack of the whole record wider than the pulls are high
        blocks = _without_slope(blocks)
        spans = _find_spans(blocks)
    creep = _creep(blocks, spans)
    if creep is not None:
        # what crept since an earlier slack may have hidden the slack between two pulls
        spans = _find_spans(_Blocks(blocks.time_s, blocks.value - creep, blocks.noise))
    # one block alone is what is left of a spike, no pull
    bounds = [(float(blocks.time_s[a]), float(blocks.time_s[b])) for a, b in spans if b > a]
    return _creeping_alike(force, tuple(_window(force, index, bounds) for index in range(len(bounds))))


def _find_spans(blocks: _Blocks) -> list[tuple[int, int]]:
    slack = slack_level(blocks.value, blocks.noise)
    scatter = _scatter(blocks.value, slack, blocks.noise)
    top = float(np.max(blocks.value)) - slack
    if top < 8.0 * scatter:
        return []
    # a zero that creeps scatters the slack of a whole record far wider than it wanders within one pull
    unrest = min(scatter, max(_MOST_CREEP * top, 2.0 * _unrest(blocks.value, slack, blocks.noise)))
    apart = slack + max(5.0 * unrest, 0.06 * top)
    high = slack + max(7.0 * unrest, 0.12 * top)
    return _to_their_feet(blocks, _stretches(blocks, apart, high), (slack, scatter), top)


def _without_slope(blocks: _Blocks) -> _Blocks:
    """Take the line off that runs through the lowest readings of the record's first and last quarter."""
    count = blocks.value.size // 4
    if count < 10:
        return blocks
    at, level = np.empty(2), np.empty(2)
    for end, part in enumerate((slice(0, count), slice(-count, None))):
        value = blocks.value[part]
        lowest = np.argsort(value)[: max(5, count // 10)]
        at[end], level[end] = float(blocks.time_s[part][lowest].mean()), float(value[lowest].mean())
    slope = (level[1] - level[0]) / (at[1] - at[0])
    return _Blocks(blocks.time_s, blocks.value - slope * (blocks.time_s - at[0]), blocks.noise)


def _creep(blocks: _Blocks, spans: list[tuple[int, int]]) -> Floats | None:
    """Draw a line through the slack readings before, between and after the pulls; None where they are level."""
    edges = zip([0, *(last + 1 for _, last in spans)], [*(first for first, _ in spans), blocks.value.size], strict=True)
    rests = [slice(low, high) for low, high in edges if high - low >= 10]
    if len(rests) < 2:
        return None
    level = np.array([np.median(blocks.value[rest]) for rest in rests])
    middle = np.array([blocks.time_s[rest].mean() for rest in rests])
    top = float(blocks.value.max()) - float(level.min())
    if float(np.ptp(level)) < 0.02 * top:
        return None
    return np.interp(blocks.time_s, middle, level)


def _scatter(values: Floats, slack: float, noise: float) -> float:
    """Read the slack's scatter from below its level only: a pull adds nothing there."""
    below = slack - values[values < slack]
    return max(1.4826 * float(np.median(below)) if below.size > 3 else 0.0, noise)


def _unrest(values: Floats, slack: float, noise: float) -> float:
    """Read the slack's scatter from one block to the next: what creeps slowly adds nothing there."""
    steps = np.abs(np.diff(values[values < slack]))
    return max(1.4826 * float(np.median(steps)) / np.sqrt(2.0) if steps.size > 3 else 0.0, noise)


def _stretches(blocks: _Blocks, low: float, high: float) -> list[tuple[int, int]]:
    above = np.concatenate(([False], blocks.value > low, [False]))
    edges = np.flatnonzero(np.diff(above.astype(int)))
    pairs = [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [(a, b) for a, b in _joined(blocks, pairs) if blocks.value[a : b + 1].max() > high]


def _joined(blocks: _Blocks, pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    step = float(np.median(np.diff(blocks.time_s)))
    joined: list[tuple[int, int]] = []
    for first, last in pairs:
        if joined and (blocks.time_s[first] - blocks.time_s[joined[-1][1]]) < max(_ONE_PULL_S, 2.5 * step):
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _to_their_feet(
    blocks: _Blocks, spans: list[tuple[int, int]], rest: tuple[float, float], top: float
) -> list[tuple[int, int]]:
    """Widen each stretch down to the slack beside it: a zero that moved between pulls has no one level."""
    value = blocks.value
    ends = [-1, *(last for _, last in spans)]
    starts = [*(first for first, _ in spans), value.size]
    foot: list[float] = []
    for low, high in zip(ends, starts, strict=True):
        between = value[low + 1 : high]
        level, scatter = rest
        if between.size >= 10:
            level = slack_level(between, blocks.noise)
            scatter = _scatter(between, level, blocks.noise)
        foot.append(level + max(5.0 * scatter, 0.025 * top))
    widened: list[tuple[int, int]] = []
    for index, (first, last) in enumerate(spans):
        while first > ends[index] + 1 and value[first - 1] > foot[index]:
            first -= 1
        while last < starts[index + 1] - 1 and value[last + 1] > foot[index + 1]:
            last += 1
        widened.append((first, last))
    return _joined(blocks, widened)


def _window(force: Signal, index: int, bounds: list[tuple[float, float]]) -> PullWindow:
    start, end = bounds[index]
    inside = force.between(start, end)
    size = max(1, min(round(0.02 / force.step_s), (inside.stop - inside.start) // 10))
    values = force.value[inside]
    peak = float(force.time_s[inside][int(np.argmax(_smooth(values, size)))])
    before = bounds[index - 1][1] if index else float(force.time_s[0])
    after = bounds[index + 1][0] if index + 1 < len(bounds) else float(force.time_s[-1])
    quiet = _before(start, before, lead_s=0.5 * (peak - start))
    tare, u_tare, slack_from, proven = _tare(force, start, before, quiet)
    shift = _shift(force, end, after, tare)
    if shift is not None and abs(shift) > 4.0 * u_tare:
        creep = creep_of_pull(force, quiet, _after(end, after))
        if creep is not None:
            return PullWindow(index + 1, start, peak, end, float(slack_from), tare, u_tare, shift, True, creep)
    if not proven and shift is not None:
        # the record starts late: the slack after the pull is the only one there is
        tare, u_tare, _, _ = _tare_after(force, end, after)
        shift = None
    return PullWindow(index + 1, start, peak, end, float(slack_from), tare, u_tare, shift, proven)


def _smooth(values: Floats, size: int) -> Floats:
    """Mean of so many neighbours; beyond the ends the lowest value counts, for an unloaded cell may read below zero."""
    low = float(values.min())
    total = np.cumsum(np.concatenate((np.zeros(size // 2 + 1), values - low, np.zeros((size - 1) // 2))))
    return low + (total[size:] - total[:-size]) / size


def _quiet(force: Signal, start: float, stop: float) -> tuple[float, float, int]:
    part = force.value[force.between(start, stop)]
    if part.size == 0:
        return 0.0, 0.0, 0
    # slow wander of the zero counts fully: the scatter of ten sub-means, not sigma / sqrt(n)
    pieces = np.array([piece.mean() for piece in np.array_split(part, min(10, part.size))])
    scatter = float(np.std(pieces, ddof=1)) / np.sqrt(pieces.size) if pieces.size > 2 else force.noise
    return float(np.mean(part)), max(scatter, force.noise / np.sqrt(part.size)), part.size


def _before(start: float, before: float, *, lead_s: float) -> tuple[float, float]:
    """Give the quiet stretch just before a pull, clear of its first slow rise, [s]."""
    room = start - before
    stop = start - min(0.3 * room, max(0.15 * lead_s, 0.03))
    return max(before + 0.2 * room, stop - 2.0), stop


def _after(end: float, after: float) -> tuple[float, float]:
    """Give the quiet stretch after a pull, [s]."""
    room = after - end
    return end + 0.3 * room, end + min(0.8 * room, 0.3 * room + 2.0)


def _tare(force: Signal, start: float, before: float, quiet: tuple[float, float]) -> tuple[float, float, float, bool]:
    """Read the slack in the quiet stretch before the pull."""
    begin, stop = quiet
    mean, u_mean, count = _quiet(force, begin, stop)
    if count < 8:
        edge = force.value[force.between(before, start)]
        return (float(edge.min()) if edge.size else 0.0), force.noise, before, False
    part = force.value[force.between(begin, stop)]
    half = part.size // 2
    # slack is proven where the reading stands still: both halves agree within their scatter
    drift = abs(float(part[half:].mean() - part[:half].mean()))
    still = drift < 6.0 * u_mean + 3.0 * force.noise / np.sqrt(max(half, 1))
    return mean, u_mean, begin, bool(still)


def _tare_after(force: Signal, end: float, after: float) -> tuple[float, float, float, bool]:
    mean, u_mean, count = _quiet(force, *_after(end, after))
    return mean, u_mean, end, count >= 8


def _creeping_alike(force: Signal, windows: tuple[PullWindow, ...]) -> tuple[PullWindow, ...]:
    """Give a steady creep, proved by the whole record, to pulls whose zero moved and whose own slack proves none."""
    unproven = [w for w in windows if w.creep is None and abs(w.zero_shift_n or 0.0) > 4.0 * w.u_tare_n]
    if not unproven or len(windows) < 2:
        return windows
    ends = [float(force.time_s[0]), *(w.end_s for w in windows)]
    starts = [*(w.start_s for w in windows), float(force.time_s[-1])]
    gaps = zip(ends, starts, strict=True)
    proved = creep_of_record(force, [(low + 0.2 * (high - low), high - 0.2 * (high - low)) for low, high in gaps])
    if proved is None:
        return windows
    given: list[PullWindow] = []
    for window, end, rate in zip(windows, ends, proved[0].tolist(), strict=False):
        quiet = _before(window.start_s, end, lead_s=0.5 * (window.peak_s - window.start_s))
        creep = Creep(0.5 * sum(quiet), rate, proved[1])
        given.append(replace(window, creep=creep) if window in unproven else window)
    return tuple(given)


def _shift(force: Signal, end: float, after: float, tare: float) -> float | None:
    mean, _, _, found = _tare_after(force, end, after)
    return mean - tare if found else None
