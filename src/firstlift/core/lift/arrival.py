"""Where a burst begins in a raw waveform: from energy that grows and stays, to a likelihood over the sample.

Two stages, as in the picking of first arrivals. First the energy of the differenced trace in blocks, each
without its largest few samples, so that a spike is nothing: the split before the loudest block that two
energies explain best, then the split before that one, as long as it explains enough. Then, over windows of
several lengths around it, the likelihood that the variance changes at each sample (Maeda, Zisin 38 (1985)
365: Akaike's criterion straight from the trace), with neighbours that hang together counted for fewer: its
width is the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats

# samples of a block, and how many of its largest are left out: a spike makes two large differences
BLOCK = 16
_LEFT_OUT = 2
_FEWEST_BLOCKS = 8
# the first stage asks for twice the amplitude; what is said to be plain, for three times
_LEAST_GROWTH = 4.0
# log-likelihood of a growth: some hundred blocks to find one by chance in, and blocks that are not quite independent
_LEAST_EVIDENCE = 12.0
# a change before an arrival that carries less than this share of its evidence is a change of the noise
_EARLIER_SHARE = 0.25
# half lengths of the windows of the second stage, in samples
_HALVES = (64, 128, 256)
# fewest samples whose variance is spoken of
_FEWEST = 8
_LARGEST_CORRELATION = 0.97
# a lone sample stands out of its sixteen neighbours by more than this
_SPIKE = 8.0

# an onset is plain where the amplitude triples
_PLAIN = 3.0
_LARGEST_DRIFT = 0.1
# samples of a burst that tell its size, and of the rest before it at least
_AFTER = 512
_FEWEST_BESIDE = 16
# so many equal readings in a row at the edge of the range are a stop
_HELD = 4


@dataclass(frozen=True, slots=True)
class Arrival:
    """First sample of the burst with its standard uncertainty, and energy after over before (differenced trace)."""

    at: float
    spread: float
    growth: float


def without_spikes(values: Floats) -> Floats:
    """Put lone samples that leave their neighbourhood and come straight back on the line between their neighbours.

    Parameters
    ----------
    values : ndarray (n,)

    Returns
    -------
    ndarray (n,)
        The same array where nothing stands out.
    """
    change = np.abs(np.diff(values))
    if change.size < 2 * _FEWEST + 2:
        return values
    # the largest change among eight on either side, the two that a spike itself makes left out
    eight = np.lib.stride_tricks.sliding_window_view(np.pad(change, (_FEWEST, _FEWEST)), _FEWEST).max(axis=1)
    beside = np.maximum(eight[: change.size - 1], eight[_FEWEST + 2 : _FEWEST + 1 + change.size])
    back = np.diff(values)[1:] * np.diff(values)[:-1] < 0.0
    lone = back & (np.minimum(change[1:], change[:-1]) > _SPIKE * np.maximum(beside, 1e-300))
    if not lone.any():
        return values
    at = np.flatnonzero(lone) + 1
    mended = values.copy()
    mended[at] = 0.5 * (values[at - 1] + values[at + 1])
    return mended


def block_energies(change: Floats) -> Floats:
    """Give the energy of the differenced trace in blocks, each without its largest samples.

    Parameters
    ----------
    change : ndarray (n,)

    Returns
    -------
    ndarray (n // block,)
        Mean squares, unit squared.
    """
    blocks = np.square(change[: change.size // BLOCK * BLOCK]).reshape(-1, BLOCK)
    kept = np.sort(blocks, axis=1)[:, : BLOCK - _LEFT_OUT]
    return kept.mean(axis=1)


def first_growth(energy: Floats, floor: float) -> int | None:
    """Find the first block from which the energy has grown and stays grown up to the loudest.

    Parameters
    ----------
    energy : ndarray (m,)
    floor : float
        Least energy: what rounding alone makes.

    Returns
    -------
    int or None
        The block that the growth begins with, give or take one.
    """
    if energy.size < _FEWEST_BLOCKS:
        return None
    loudest = int(np.argmax(np.convolve(energy, np.ones(4), "same")))
    stop, found, evidence = min(loudest + 4, energy.size), None, _LEAST_EVIDENCE / _EARLIER_SHARE
    while stop >= _FEWEST_BLOCKS:
        split, gain = _split_blocks(energy[:stop], floor)
        if gain < max(_LEAST_EVIDENCE, _EARLIER_SHARE * evidence):
            break
        stop, found, evidence = split, split, gain
    return found


def _split_blocks(energy: Floats, floor: float) -> tuple[int, float]:
    """Find the block that two energies part best at, and what that explains beyond one, in log-likelihood."""
    count, run = energy.size, np.concatenate(([0.0], np.cumsum(energy)))
    first = np.arange(3, count - 2)
    before = np.maximum(run[first] / first, floor)
    after = np.maximum((run[count] - run[first]) / (count - first), floor)
    whole = max(float(run[count]) / count, floor)
    gain = 0.5 * (count * np.log(whole) - first * np.log(before) - (count - first) * np.log(after))
    gain = np.where(after > _LEAST_GROWTH * before, gain, 0.0)
    best = int(np.argmax(gain))
    return int(first[best]), float(gain[best])


def place_onset(change: Floats, block: int, floor: float) -> Arrival | None:
    """Place the onset to the sample around a block.

    Parameters
    ----------
    change : ndarray (n,)
        Differenced trace.
    block : int
    floor : float
        Least variance.

    Returns
    -------
    Arrival or None
        None where the energy grows nowhere near. What windows of different lengths say is mixed.
    """
    seen: list[Arrival] = []
    for half in _HALVES:
        centre, found = block * BLOCK, None
        for _ in range(3):
            start, stop = max(centre - half, 0), min(centre + half, change.size)
            found = _split_samples(change[start:stop], start, floor)
            if found is None or abs(found.at - centre) < 1.0:
                break
            centre = round(found.at)
        if found is not None:
            seen.append(found)
    if not seen:
        return None
    at = np.array([arrival.at for arrival in seen])
    spread = np.sqrt(np.mean(np.square([arrival.spread for arrival in seen])) + np.var(at))
    # a change belongs to the sample it leads to
    return Arrival(float(at.mean()) + 1.0, float(spread), float(np.median([arrival.growth for arrival in seen])))


def _split_samples(part: Floats, start: int, floor: float) -> Arrival | None:
    count = part.size
    if count < 2 * _FEWEST + 2:
        return None
    run = np.concatenate(([0.0], np.cumsum(np.square(part))))
    first = np.arange(_FEWEST, count - _FEWEST + 1)
    before = np.maximum(run[first] / first, floor)
    after = np.maximum((run[count] - run[first]) / (count - first), floor)
    likelihood = -0.5 * (first * np.log(before) + (count - first) * np.log(after))
    likelihood = np.where(after > before, likelihood, -np.inf)
    best = int(np.argmax(likelihood))
    if not np.isfinite(likelihood[best]):
        return None
    split = int(first[best])
    together = 0.5 * (_hang_together(part[:split]) + _hang_together(part[split:]))
    density = np.exp((likelihood - likelihood[best]) / together)
    density /= density.sum()
    at = float(density @ first)
    spread = float(np.sqrt(density @ np.square(first - at)))
    return Arrival(start + at, spread, float(after[best] / before[best]))


def _hang_together(part: Floats) -> float:
    """Say how many neighbours count as one, for a variance: from the first autocorrelation of the squares."""
    square = np.square(part) - float(np.mean(np.square(part)))
    near = float(square[1:] @ square[:-1]) / max(float(square @ square), 1e-300)
    near = min(max(near, 0.0), _LARGEST_CORRELATION)
    return (1.0 + near) / (1.0 - near)


def doubt(trace: Floats, arrival: Arrival) -> str | None:
    """Say why an onset must not be used, if so.

    Parameters
    ----------
    trace : ndarray (n,)
    arrival : Arrival

    Returns
    -------
    str or None
        Code: see `pick.pick_onset`.
    """
    first = int(arrival.at)
    before = trace[: max(int(arrival.at - 3.0 * arrival.spread), _FEWEST_BESIDE)]
    after = trace[first : first + _AFTER]
    quarter = before.size // 4
    rest = float(np.median(before[-quarter:]))
    burst = float(np.abs(after - rest).max())
    if abs(rest - float(np.median(before[:quarter]))) > _LARGEST_DRIFT * burst:
        return "level-drifts"
    level = float(np.median(before))
    if float(np.sqrt(np.mean(np.square(after - level)))) < _PLAIN * float(np.sqrt(np.mean(np.square(before - level)))):
        return "not-quiet-before"
    if arrival.growth < _PLAIN**2:
        return "too-faint"
    return "clipped" if _at_stop(trace[: first + BLOCK]) else None


def _at_stop(values: Floats) -> bool:
    """Say whether the largest or smallest value is held, sample after sample, away from rest."""
    rest = float(np.median(values))
    swing = float(np.ptp(values))
    for edge in (float(values.max()), float(values.min())):
        held = np.convolve((values == edge).astype(float), np.ones(_HELD), "valid")
        if abs(edge - rest) > 0.25 * swing and float(held.max()) >= _HELD - 0.5:
            return True
    return False
