"""What force, lift and sound say together in one pass over a row of candidate instants.

The channels' noises are independent, so their densities multiply. Each is first mixed with a small flat
part: a channel may be plainly wrong (a false burst, a yielding clamp), and one that is must lose its say
instead of pulling the others along (a contaminated density; Box and Tiao, Biometrika 55 (1968) 119).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstlift.core.job import Measures
from firstlift.core.lift.before import force_at
from firstlift.core.lift.bend import Shape
from firstlift.core.lift.blocks import cut_windows
from firstlift.core.lift.choose import MOTION_SHAPES, SOUND_SHAPES, ChannelDensity, combine, fit_windows
from firstlift.core.lift.place import Place
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals

# one reading in fifty of one channel is allowed to be about something else
CONTAMINATION = 0.02
# the hiss of a contact that fades before first lift follows no law that the shapes could know: in the corpus sound
# misses the moment by 1.6 times what its noise says, force and lift by what theirs say
SOUND_DOUBT = 2.5
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
# or where it is twice as sharp and twice as strong
_SHARPER_AND_STRONGER = 0.5
# channels have settled on a moment where it is known to this share of the way to it
SETTLED = 0.005
WINDOW_RATIO = 1.6
AFTER_SHARES = (1.0, 0.25, 0.0625)


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
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
        return self.spread_s < SETTLED * (self.mean_s - start_s)

    def sharp(self, start_s: float) -> bool:
        """Say whether it is known to a hundredth of the rise before it."""
        return self.spread_s < 0.01 * (self.mean_s - start_s)

    def beats(self, other: Heard, start_s: float) -> bool:
        """Say whether this place is plainly a better first lift than the other, which is doubtful.

        A seat gives way gradually; where this place is beyond doubt and several times sharper, the disc left here.
        """
        if self.unfitted > other.unfitted and other.spread_s < _SHARPER * self.spread_s:
            # a next stroke of the pump moves the disc far more, but no curve fits it
            return False
        return (
            self.unfitted < other.unfitted
            or (not self.weak(start_s) and self.spread_s < _SHARPER * other.spread_s)
            or (
                not self.weak(start_s)
                and self.spread_s < _SHARPER_AND_STRONGER * other.spread_s
                and _SHARPER_AND_STRONGER * self.strength > other.strength
            )
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


def coarsest_step(signals: Signals) -> float:
    """Give the longest sampling step of force, lift and sound.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    float, [s]
    """
    return max(s.step_s for s in (signals.force, signals.lift, signals.sound) if s is not None)


def listen(
    signals: Signals,
    place: Place,
    grid: Floats,
    use: tuple[bool, bool, bool],
    last: Heard | None,
    shapes: tuple[Shape, ...],
) -> Heard | None:
    """Fit every channel for every candidate instant and lay together what they say.

    Parameters
    ----------
    signals : Signals
    place : Place
    grid : ndarray (g,), [s]
        Candidate instants.
    use : tuple of bool
        Whether force, lift and sound may speak.
    last : Heard or None
        The pass before: windows far from the longest that fitted then are left out.
    shapes : tuple of Shape
        What the channels may do around the bend.

    Returns
    -------
    Heard or None
        None where no channel that may speak has enough samples.
    """
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
    return Heard(grid, probability, mean_s, spread_s, asked, force, force_n, u_force_n, heard_last)


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
