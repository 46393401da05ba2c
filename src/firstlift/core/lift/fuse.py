"""Several channels: the joint density of first lift, and force and line pressure at the moment.

The channels' noises are independent, so their densities multiply. Each is first mixed with a small flat
part: a channel may be plainly wrong (a false burst, a yielding clamp), and one that is must lose its say
instead of pulling the others along (a contaminated density; Box and Tiao, Biometrika 55 (1968) 119).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstlift.core.job import Measures
from firstlift.core.lift.before import force_at, gives_way, rate_before
from firstlift.core.lift.bend import Shape
from firstlift.core.lift.blocks import cut_windows
from firstlift.core.lift.choose import (
    MOTION_SHAPES,
    SEEKING_SHAPES,
    SOUND_SHAPES,
    ChannelDensity,
    combine,
    fit_windows,
)
from firstlift.core.lift.drop import sharp_drop
from firstlift.core.lift.lag import LONGEST_LAG_S, allow_for_lag
from firstlift.core.lift.level import level_before
from firstlift.core.lift.place import Place
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals

# one reading in fifty of one channel is allowed to be about something else
CONTAMINATION = 0.02
# the hiss of a contact that fades before first lift follows no law that the shapes could know: in the corpus sound
# misses the moment by 1.6 times what its noise says, force and lift by what theirs say
SOUND_DOUBT = 2.5
CANDIDATES = 33
_MOST_CANDIDATES = 129
_PASSES = 3
_MOVES = 6
# the candidates lie close enough where seven standard uncertainties are this share of their whole stretch
_FINE = 0.35
# windows weigh as the square of their length: those far shorter than the longest that fits say nothing, and those
# far longer than the longest that fitted a pass before will not fit
_SHORTER, _LONGER = 3.5, 2.0
# a disc that leaves its seat bends force and lift by more than this many standard deviations together, in the corpus
# by hundreds; less may be a seat giving way
_WEAK = 60.0
# a bend that is not seen sharply is believed at once from here on only
_PLAIN = 150.0
# a bend so weak is doubted even where it is seen sharply
_FAINT = 35.0
# a place beyond doubt is believed before a doubtful one where its spread is this share of the other's
_SHARPER = 0.35
# a bracket that no curve fits is looked at in so many parts: in the corpus it holds one or two strokes of a pump, or
# periods of a ripple
_PARTS = 5
# standard deviations of the lift's own change of slope in such a part: where a stroke ends it has shown up to six
_MOVES_TOO = 8.0
# channels have settled on a moment where it is known to this share of the way to it
_SETTLED = 0.005
WINDOW_RATIO = 1.6
AFTER_SHARES = (1.0, 0.25, 0.0625)
# what force, lift and sound may do, all in one row; few of it while the place is still being sought
_SHAPES = tuple(dict.fromkeys(MOTION_SHAPES + SOUND_SHAPES))
_FEW_SHAPES = tuple(shape for shape in _SHAPES if shape in SEEKING_SHAPES)
_SEEKING_CANDIDATES = 45


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """What all channels say together, over the candidate instants (g,).

    ``probability`` sums to one. ``force_n`` and ``u_force_n`` are the pull force at each candidate, tare not
    yet taken off, given that first lift was then.
    """

    time_s: Floats
    probability: Floats
    channels: tuple[ChannelDensity, ...]
    force_n: Floats
    u_force_n: Floats

    @property
    def mean_s(self) -> float:
        """First lift, [s]."""
        return float(self.probability @ self.time_s)

    @property
    def spread_s(self) -> float:
        """Its standard uncertainty, [s]."""
        return float(np.sqrt(self.probability @ np.square(self.time_s - self.mean_s)))


def fuse(signals: Signals, place: Place, *, use: tuple[bool, bool, bool] = (True, True, True)) -> Joint | None:
    """Estimate first lift from force, lift and sound together.

    Parameters
    ----------
    signals : Signals
    place : Place
    use : tuple of bool
        Whether force, lift and sound may speak.

    Returns
    -------
    Joint or None
        None where no channel has enough samples around the place.
    """
    near = _search(signals, place, (place.low_s, place.high_s), use)
    if near is None:
        return None
    if near.unfitted > 1 and not near.settled(place.start_s):
        near = _in_parts(signals, place, use) or near
    if near.doubtful(place.start_s) and place.limit_s > place.high_s + _step(signals):
        # a tilted seat gives way long before the disc is free: what was bracketed may be its beginning
        ahead = _search(signals, place, (0.5 * (place.low_s + place.high_s), place.limit_s), use)
        if ahead is not None and ahead.beats(near, place.start_s):
            near = ahead
    force_n, u_force_n = near.force_n, near.u_force_n
    if place.sticks and signals.force is not None:
        # what sticks is at rest until it lets go, then moves at once; the force swings too fast for a curve
        reach = 0.2 * (place.top_s - place.low_s)
        swing = level_before(signals.force, near.time_s, near.mean_s, longest_s=reach)
        return Joint(near.time_s, near.probability, near.channels, *swing)
    at_peak = _before_fall(signals, place, near, force_n) or _at_drop(signals, place, near)
    if at_peak is not None:
        return at_peak
    if gives_way(near.force):
        return Joint(near.time_s, near.probability, near.channels, force_n, u_force_n)
    moved = allow_for_lag(near.time_s, near.probability, force_n, u_force_n, rate_before(near.force))
    return Joint(moved[0], moved[1], near.channels, moved[2], moved[3])


def _before_fall(signals: Signals, place: Place, near: _Heard, force_n: Floats) -> Joint | None:
    """Put first lift at the force's peak where all channels together lie in its fall: a disc that snaps open.

    The force falls by most of itself within milliseconds then, and no curve fits more than a part of the fall. Where
    the joint estimate's force lies below what the pull had reached by more than a twentieth, the disc had left before:
    at the peak, or so long before it as a disc may lag.
    """
    force, record = signals.force, place.record
    if force is None or record is None:
        return None
    reached = float(np.interp(near.mean_s, record.time_s, record.peak_n))
    short = reached - float(near.probability @ force_n)
    if short < max(0.05 * (reached - float(record.force_n[0])), 10.0 * record.tolerance_n):
        return None
    part = force.part(place.start_s, near.mean_s)
    if part.value.size < 16:
        return None
    means = np.convolve(part.value, np.ones(4) / 4.0, mode="valid")
    peak_s = float(part.time_s[int(np.argmax(means)) + 3])
    time_s = np.linspace(peak_s - 2.0 * LONGEST_LAG_S, peak_s + 0.5 * LONGEST_LAG_S, near.time_s.size)
    away = (time_s - (peak_s - 0.5 * LONGEST_LAG_S)) / max(0.5 * LONGEST_LAG_S, force.step_s)
    probability = np.exp(-0.5 * np.square(away))
    swing = level_before(force, time_s, peak_s, longest_s=0.2 * (peak_s - place.start_s))
    return Joint(time_s, probability / probability.sum(), near.channels, *swing)


def _at_drop(signals: Signals, place: Place, near: _Heard) -> Joint | None:
    """Put first lift where the force drops at once from the most it has been, and the valve is heard from then on.

    A disc that snaps, or that sticks and lets go between the strokes of a pump, makes a force that no curve fits: only
    then is this asked. Where the channels have settled on a moment, a drop elsewhere is another one.
    """
    if signals.force is None or near.force.fitted:
        return None
    drop_s, step_s = sharp_drop(signals, place), signals.force.step_s
    if drop_s is None:
        return None
    if near.settled(place.start_s) and abs(drop_s - near.mean_s) > 4.0 * (near.spread_s + step_s):
        return None
    time_s = np.linspace(drop_s - 12.0 * step_s, drop_s + 4.0 * step_s, near.time_s.size)
    probability = np.exp(-0.5 * np.square((time_s - drop_s + step_s) / (1.5 * step_s)))
    swing = level_before(signals.force, time_s, drop_s, longest_s=0.2 * (drop_s - place.start_s))
    return Joint(time_s, probability / probability.sum(), near.channels, *swing)


def _search(
    signals: Signals, place: Place, bracket: tuple[float, float], use: tuple[bool, bool, bool]
) -> _Heard | None:
    """Narrow a bracket down around the evidence, moving it where the evidence leans against an end."""
    low, high = bracket
    heard: _Heard | None = None
    narrowed = moved = 0
    while narrowed < _PASSES:
        seeking = narrowed == 0
        grid = np.linspace(low, high, _SEEKING_CANDIDATES if seeking else _candidates(high - low, heard))
        step = _listen(signals, place, grid, use, heard, _FEW_SHAPES if seeking else _SHAPES)
        if step is None or (heard is not None and step.lost and not heard.vague):
            break
        heard = step
        lean = heard.lean()
        if lean and moved < _MOVES and (low > place.floor_s if lean < 0 else high < place.limit_s):
            moved += 1
            width = high - low
            low, high = (
                (max(low - width, place.floor_s), high - 0.5 * width)
                if lean < 0
                else (low + 0.5 * width, min(high + width, place.limit_s))
            )
            continue
        narrowed += 1
        # a density narrower than the distance of the candidates is seen by one of them only: its width is not known
        spread = math.hypot(heard.spread_s, 0.15 * (high - low) / grid.size)
        width = max(7.0 * spread, 6.0 * _step(signals))
        if width > _FINE * (high - low):
            if not seeking:
                break
            continue
        low, high = max(heard.mean_s - width, place.floor_s), min(heard.mean_s + width, place.limit_s)
    return heard


def _in_parts(signals: Signals, place: Place, use: tuple[bool, bool, bool]) -> _Heard | None:
    """Look at a bracket in parts where no curve fits the whole of it: the first part in which the disc plainly leaves.

    Strokes of a pump and a line that ripples bend force and lift again soon after first lift. The windows of the whole
    bracket hold several such bends, those of a part of it hold one.
    """
    step = (place.high_s - place.low_s) / _PARTS
    for part in range(_PARTS):
        low = place.low_s + part * step
        within = replace(
            place,
            low_s=low,
            high_s=low + step,
            floor_s=max(low - step, place.floor_s),
            limit_s=min(low + 2.0 * step, place.limit_s),
        )
        heard = _search(signals, within, (within.low_s, within.high_s), use)
        if heard is not None and heard.unfitted == 0 and not heard.weak(place.start_s) and _moves(signals, heard):
            return heard
    return None


def _moves(signals: Signals, heard: _Heard) -> bool:
    """Say whether the lift, too, bends plainly there, and nearly as sharply as all channels together.

    The force alone bends wherever a stroke of the pump ends, and a contact that fades hisses.
    """
    lift = next((c for c in heard.channels if signals.lift is not None and c.name == signals.lift.name), None)
    if lift is None or lift.gain_sigmas < _MOVES_TOO:
        return False
    return lift.spread_s < 3.0 * heard.spread_s and abs(lift.mean_s - heard.mean_s) < 2.5 * lift.spread_s


def _candidates(stretch_s: float, heard: _Heard | None) -> int:
    """Say how many candidates a stretch needs: none of the channels may know better than they lie apart."""
    sharp = min((c.spread_s for c in heard.channels if c.fitted), default=stretch_s) if heard else stretch_s
    return int(np.clip(stretch_s / max(sharp, 1e-9), CANDIDATES, _MOST_CANDIDATES))


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """What the channels say together in one pass: first lift and its standard uncertainty with their density.

    The force channel is there apart, with the force at each candidate and its standard uncertainty.
    ``heard``: the last of the channels is the sound.
    """

    time_s: Floats
    probability: Floats
    mean_s: float
    spread_s: float
    channels: tuple[ChannelDensity, ...]
    force: ChannelDensity
    force_n: Floats
    u_force_n: Floats
    heard: bool

    @property
    def vague(self) -> bool:
        """Whether the evidence does not settle on a place within the candidates (a flat density has 0.29)."""
        return self.spread_s > 0.12 * float(self.time_s[-1] - self.time_s[0])

    @property
    def lost(self) -> bool:
        """Whether nothing can be learned here: vague, and no curve fits two of the channels or more."""
        return self.vague and self.unfitted > 1

    @property
    def strength(self) -> float:
        """How plainly force and lift bend: squared standard deviations of their changes of slope."""
        return sum(channel.gain_sigmas**2 for channel in self.channels[: -1 if self.heard else None])

    def doubtful(self, start_s: float) -> bool:
        """Say whether this may be a seat giving way and no lift: vague, or weak."""
        return self.vague or self.weak(start_s)

    def weak(self, start_s: float) -> bool:
        """Say whether it is fitted by no curve, or bends too little for how sharply it is seen."""
        return self.unfitted > 1 or self.strength < (_FAINT if self.sharp(start_s) else _PLAIN) ** 2

    def settled(self, start_s: float) -> bool:
        """Say whether the channels have settled on a moment."""
        return self.spread_s < _SETTLED * (self.mean_s - start_s)

    def sharp(self, start_s: float) -> bool:
        """Say whether it is known to a hundredth of the rise before it."""
        return self.spread_s < 0.01 * (self.mean_s - start_s)

    def beats(self, other: _Heard, start_s: float) -> bool:
        """Say whether this place is plainly a better first lift than the other, which is doubtful.

        A seat gives way gradually; where this place is beyond doubt and several times sharper, the disc left here.
        """
        if self.unfitted > other.unfitted and other.spread_s < _SHARPER * self.spread_s:
            # a next stroke of the pump moves the disc far more, but no curve fits it
            return False
        return (
            self.unfitted < other.unfitted
            or (not self.weak(start_s) and self.spread_s < _SHARPER * other.spread_s)
            or (other.vague and self.spread_s < 0.2 * other.spread_s)
            or (
                other.strength < _WEAK**2
                and self.strength > (4.0 if self.strength > _WEAK**2 else 9.0) * other.strength
            )
        )

    @property
    def unfitted(self) -> int:
        """How many channels no curve fits."""
        return sum(not channel.fitted for channel in self.channels)

    def lean(self) -> int:
        """Say whether a twelfth of the candidates at one end holds a tenth of the evidence: -1 early, 1 late, 0 no."""
        end = self.time_s.size // 12
        early, late = float(self.probability[:end].sum()), float(self.probability[-end:].sum())
        if max(early, late) < 0.1:
            return 0
        return 1 if late >= early else -1


def _step(signals: Signals) -> float:
    return max(s.step_s for s in (signals.force, signals.lift, signals.sound) if s is not None)


def _listen(
    signals: Signals,
    place: Place,
    grid: Floats,
    use: tuple[bool, bool, bool],
    last: _Heard | None,
    shapes: tuple[Shape, ...],
) -> _Heard | None:
    if signals.force is None or not any(use):
        return None
    # a channel that may not speak is not fitted, except the force, whose value is asked for in any case
    motion, noise = _allowed(shapes)
    heard = [(signals.force, -1.0, motion)]
    if signals.lift is not None and use[1]:
        heard.append((signals.lift, 1.0, motion))
    if signals.sound is not None and use[2]:
        heard.append((signals.sound, 1.0, noise))
    known = {} if last is None else {c.name: c.longest_s for c in (last.force, *last.channels) if c.fitted}
    force, *others = _channels(heard, place, grid, known, shapes)
    if known and any(_escapes(channel, known) for channel in (force, *others)):
        force, *others = _channels(heard, place, grid, {}, shapes)
    if force is None:
        return None
    asked = tuple(c for c in (force if use[0] else None, *others) if c is not None)
    if not asked:
        return None
    flat = CONTAMINATION / grid.size
    density = np.zeros(grid.size)
    for channel in asked:
        density += np.log((1.0 - CONTAMINATION) * np.exp(channel.log_density) + flat)
    force_n, u_force_n = force_at(force, place.record)
    if place.record is not None:
        record = place.record
        level = force_n
        if not force.fitted:
            # no curve says what the force was: where its own smoothed course stood higher, that did
            level = np.maximum(level, np.interp(grid, record.time_s, record.seen_n))
        density += record.log_weight(grid, level)
    probability = np.exp(density - density.max())
    probability /= probability.sum()
    mean_s = float(probability @ grid)
    spread_s = math.sqrt(float(probability @ np.square(grid - mean_s)))
    heard_last = signals.sound is not None and asked[-1].name == signals.sound.name
    return _Heard(grid, probability, mean_s, spread_s, asked, force, force_n, u_force_n, heard_last)


@lru_cache(maxsize=8)
def _allowed(shapes: tuple[Shape, ...]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Say which of the shapes force and lift may have, and which the sound."""
    motion, noise = (np.array([shape in may for shape in shapes]) for may in (MOTION_SHAPES, SOUND_SHAPES))
    return motion, noise


def _escapes(channel: ChannelDensity | None, known: dict[str, float]) -> bool:
    """Say whether windows that were left out might matter after all: nothing fits, or only the shortest kept."""
    if channel is None or channel.name not in known:
        return channel is None
    return not channel.fitted or channel.longest_s < known[channel.name] / _LONGER


def _channels(
    signals: list[tuple[Signal, float, NDArray[np.bool_]]],
    place: Place,
    grid: Floats,
    known: dict[str, float],
    shapes: tuple[Shape, ...],
) -> list[ChannelDensity | None]:
    """Fit all channels in one go; each comes with the sign of its change of slope and the shapes it may have.

    ``known`` holds the half widths of the longest windows that fitted a pass before.
    """
    centre_s = float(0.5 * (grid[0] + grid[-1]))
    sides = [(signal, *_sides(signal, place, grid, known.get(signal.name))) for signal, *_ in signals]
    cuts = cut_windows(sides, centre_s, first_s=float(grid[0]))
    if cuts is None:
        return [None] * len(signals)
    windows, owner = cuts
    signs, may = np.array([sign for _, sign, _ in signals]), np.array([own for *_, own in signals])
    trials = fit_windows(windows, shapes, grid, signs[owner], may[owner].T)
    doubts = [SOUND_DOUBT if signal.measures is Measures.ACOUSTIC else 1.0 for signal, *_ in signals]
    return [
        combine(signal.name, trials, owner == index, grid, doubt)
        for index, ((signal, *_), doubt) in enumerate(zip(signals, doubts, strict=True))
    ]


def _sides(signal: Signal, place: Place, grid: Floats, known: float | None = None) -> tuple[Floats, Floats]:
    """Lay a geometric row of windows around the middle of the candidates, widest first: their sides (w,) each, [s]."""
    centre = float(0.5 * (grid[0] + grid[-1]))
    shortest = max(14.0 * signal.step_s, 0.6 * float(grid[-1] - grid[0]))
    longest = max(centre - place.start_s, 1.5 * shortest)
    sides: list[tuple[float, float]] = []
    half = longest
    while half >= 0.99 * shortest:
        before, reach = min(half, centre - place.start_s), max(place.top_s - centre, shortest)
        # what follows first lift is often soon over (a snap, a stroke's end): shorter sides after it as well
        afters = {min(half * share, reach) for share in AFTER_SHARES if half * share >= 0.99 * shortest or share == 1.0}
        sides.extend((before, after) for after in sorted(afters, reverse=True))
        half /= WINDOW_RATIO
    low, high = (0.0, np.inf) if known is None else (known / _SHORTER, _LONGER * known)
    before_s, after_s = np.array([pair for pair in sides if low <= 0.5 * (pair[0] + pair[1]) <= high] or sides).T
    return before_s, after_s
