"""One channel alone: the slope break of one quantity against another, the onset of a burst in a waveform.

The joint estimator (`fuse`) reads force, lift and sound together; here a single curve speaks, on the same
fits (`choose`): first a coarse search (`strongest`), then the density over windows and shapes around it. The
onset is read from the waveform itself (`arrival`). What is found is said with its uncertainty; where it must
not be used, the reason is said with it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures
from firstlift.core.lift.arrival import block_energies, doubt, first_growth, place_onset, without_spikes
from firstlift.core.lift.bend import Shape, Windows
from firstlift.core.lift.blocks import cut_windows
from firstlift.core.lift.choose import MOTION_SHAPES, ChannelDensity, combine, fit_windows
from firstlift.core.lift.lines import FEWEST, noise_of, spread_ties
from firstlift.core.lift.strongest import Break, strongest_break, transition
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal

# a break of slope between two curves that need not be straight; jumps and what goes with time (relaxing, growing,
# fading) belong to a channel against the clock
_SHAPES = tuple(shape for shape in MOTION_SHAPES if shape == Shape(shape.before, shape.after))
_FEWEST_OF_WAVEFORM = 160
_CANDIDATES = 121
_PASSES = 4
_MOVES = 6
_LENGTH_RATIO = 1.6
# samples beyond the outermost candidates, on either side: the fewest that the fits look at
_LEAST_BESIDE = 6
# lengths after the break, for each before it: what follows is often soon over, or lasts far longer
_AFTER_SHARES = (0.25, 1.0, 4.0, 16.0)


@dataclass(frozen=True, slots=True)
class Picked:
    """What one channel says about one moment.

    ``at`` and its ``standard_uncertainty`` are in the unit of the abscissa (samples for an onset), NaN where
    nothing was found; ``value`` is the curve there. ``reliable`` is false where the number must not be used;
    ``reason`` is then a code, its words are made where it is shown.
    """

    at: float
    standard_uncertainty: float
    value: float
    reliable: bool
    reason: str | None = None


def nothing(reason: str) -> Picked:
    """Give the answer that there is no number.

    Parameters
    ----------
    reason : str
        Code.

    Returns
    -------
    Picked
    """
    return Picked(float("nan"), float("nan"), float("nan"), reliable=False, reason=reason)


def pick_bend(
    x: Floats,
    y: Floats,
    *,
    sigma: float | None = None,
    sign: float = 0.0,
    straight: bool = False,
    earliest: bool = False,
) -> Picked:
    """Find where the slope of y against x breaks.

    Parameters
    ----------
    x, y : ndarray (n,)
        Need not be evenly spaced, and may hold gaps. A coarse reading of x repeats values; readings that go
        back a little are put in order.
    sigma : float or None, unit of y
        Standard deviation of one reading; taken from the data where None.
    sign : float
        +1 where the slope must grow, -1 where it must fall, 0 for either.
    straight : bool
        Both sides are known to be straight lines near the break; where False they may be curved, and what that
        leaves open is in the uncertainty.
    earliest : bool
        Where the curve breaks several times alike, the first of them is meant, not the strongest.

    Returns
    -------
    Picked
        Reasons: ``too-few-samples``, ``no-break``, ``no-curve-fits`` (the number then is only a guide, its
        uncertainty widened).

    Raises
    ------
    FirstliftError
        Where x and y do not belong together or hold values that are no numbers.
    """
    _check(x, y)
    if x.size < 2 * FEWEST or float(np.ptp(x)) <= 0.0:
        return nothing("too-few-samples")
    order = np.argsort(x, kind="stable")
    place, quantum = spread_ties(np.asarray(x[order], dtype=np.float64))
    value = np.asarray(y[order], dtype=np.float64)
    noise = noise_of(place, value) if sigma is None else sigma
    noise = max(noise, 1e-9 * float(np.ptp(value)), 1e-300)
    coarse = strongest_break(place, value, noise, sign, earliest=earliest)
    if coarse is None:
        return nothing("no-break")
    spread = np.where(np.arange(place.size) <= coarse.low, coarse.noise_before, coarse.noise_after)
    signal = Signal("curve", Measures.SPINDLE_LIFT, place, value, spread, float(np.median(np.diff(place))))
    density = _narrow(signal, coarse, sign, (Shape(1, 1),) if straight else _SHAPES)
    if density is None:
        return nothing("too-few-samples")
    # a gradual break may be put anywhere between leaving the one line and joining the other, all alike
    width = transition(place, value, noise, density.mean_s)
    parts = (density.spread_s, coarse.wander, width / np.sqrt(12.0), quantum / np.sqrt(12.0))
    uncertainty = float(np.sqrt(np.sum(np.square(parts))))
    reason = None if density.fitted else "no-curve-fits"
    return Picked(density.mean_s, uncertainty, _value_at(density), reliable=reason is None, reason=reason)


def pick_onset(values: Floats) -> Picked:
    """Find where a burst begins in a raw waveform.

    Parameters
    ----------
    values : ndarray (n,)
        Evenly sampled, any unit.

    Returns
    -------
    Picked
        ``at`` is a sample index (the first sample of the burst, fractional). Reasons: ``too-few-samples``;
        ``no-onset`` (nothing grows and stays grown; a spike does not); ``level-drifts`` (the level before
        moves by more than a tenth of the burst: the channel was not at rest); ``not-quiet-before`` (the record
        before is loud already: the coda of an earlier burst, or noise); ``too-faint`` (the changes from sample
        to sample do not grow threefold); ``clipped`` (the channel stands at its stop before or at the onset).

    Raises
    ------
    FirstliftError
        Where values hold what is no number.
    """
    _check(np.arange(values.size, dtype=np.float64), values)
    if values.size < _FEWEST_OF_WAVEFORM:
        return nothing("too-few-samples")
    trace = without_spikes(np.asarray(values, dtype=np.float64))
    change = np.diff(trace)
    moved = np.abs(change[change != 0.0])
    if moved.size == 0:
        return nothing("no-onset")
    floor = float(moved.min()) ** 2 / 12.0
    block = first_growth(block_energies(change), floor)
    arrival = None if block is None else place_onset(change, block, floor)
    if arrival is None:
        return nothing("no-onset")
    reason = doubt(trace, arrival)
    value = float(trace[min(round(arrival.at), trace.size - 1)])
    return Picked(arrival.at, arrival.spread, value, reliable=reason is None, reason=reason)


def _check(x: Floats, y: Floats) -> None:
    if x.shape != y.shape or x.ndim != 1:
        raise FirstliftError(
            Problem("PCK-001", f"x has shape {x.shape}, y {y.shape}", needed="two single rows of equal length")
        )
    bad = np.flatnonzero(~(np.isfinite(x) & np.isfinite(y)))
    if bad.size:
        where = int(bad[0])
        raise FirstliftError(
            Problem(
                "PCK-002",
                f"{bad.size} of {x.size} samples are no numbers, the first x = {x[where]}, y = {y[where]}",
                where=f"sample {where}",
                needed="finite x and y",
                next="Leave such samples out",
            )
        )


def _narrow(signal: Signal, coarse: Break, sign: float, shapes: tuple[Shape, ...]) -> ChannelDensity | None:
    """Look around the crossing of the coarse lines, wider where the evidence leans out, then closer around it."""
    x = signal.time_s
    half = max(7.0 * coarse.spread, _local_step(x, coarse.crossing))
    low, high = coarse.crossing - half, coarse.crossing + half
    heard: ChannelDensity | None = None
    narrowed = moved = 0
    while narrowed < _PASSES:
        grid = np.linspace(low, high, _CANDIDATES)
        windows = _windows(signal, grid)
        count = 0 if windows is None else windows.size.size
        trials = fit_windows(windows, shapes, grid, np.full(count, sign))
        found = combine(signal.name, trials, np.ones(count, dtype=bool), grid)
        if found is None:
            break
        heard = found
        lean, width = _lean(found), high - low
        if lean and moved < _MOVES:
            moved += 1
            low, high = (low - 0.5 * width, high) if lean < 0 else (low, high + 0.5 * width)
            continue
        narrowed += 1
        half = max(7.0 * heard.spread_s, _local_step(x, heard.mean_s))
        if half > 0.35 * width:
            break
        low, high = heard.mean_s - half, heard.mean_s + half
    return heard


def _local_step(x: Floats, at: float) -> float:
    """Reach of three samples on either side of a place."""
    index = int(np.clip(np.searchsorted(x, at), 3, x.size - 3))
    return 0.5 * float(x[index + 2] - x[index - 3])


def _lean(density: ChannelDensity) -> int:
    """Say whether a twelfth of the candidates at one end holds a tenth of the evidence: -1 low, 1 high, 0 no."""
    share = np.exp(density.log_density)
    end = share.size // 12
    early, late = float(share[:end].sum()), float(share[-end:].sum())
    return 0 if max(early, late) < 0.1 else 1 if late >= early else -1


def _windows(signal: Signal, grid: Floats) -> Windows | None:
    """Cut a geometric row of windows, in samples, around the candidates."""
    x = signal.time_s
    first, last = (int(np.searchsorted(x, edge)) for edge in (float(grid[0]), float(grid[-1])))
    centre = float(0.5 * (grid[0] + grid[-1]))
    taken: dict[tuple[int, int], None] = {}
    length = float(_LEAST_BESIDE)
    while length < _LENGTH_RATIO * x.size:
        for share in _AFTER_SHARES:
            start = max(first - int(length), 0)
            stop = min(last + max(int(share * length), _LEAST_BESIDE), x.size) - 1
            taken[start, stop] = None
        length *= _LENGTH_RATIO
    start, stop = np.array(list(taken)).T
    found = cut_windows([(signal, centre - x[start], x[stop] - centre)], centre, first_s=float(grid[0]))
    return None if found is None else found[0]


def _value_at(density: ChannelDensity) -> float:
    """Give the curve's value at the break: the mean over fits, weighed by their say and how likely it is there."""
    total = first = 0.0
    index = int(np.argmin(np.abs(density.time_s - density.mean_s)))
    away = np.abs(np.arange(density.time_s.size) - index)
    trials, places = density.trials, (density.shape, density.window)
    values, _ = trials.curves.at_bend(*places)
    fits = zip(values, trials.chi2[places], trials.least[places].tolist(), density.weight.tolist(), strict=True)
    for value, chi2, least, weight in fits:
        usable: NDArray[np.bool_] = np.isfinite(value) & np.isfinite(chi2)
        nearest = int(np.where(usable, away, away.size).argmin())
        # a floor: where no fit thinks much of the mean between them, all still count
        share = weight * max(float(np.exp(-0.5 * (chi2[nearest] - least))), 1e-6)
        total += share
        first += share * float(value[nearest])
    return first / total
