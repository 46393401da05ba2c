"""Noise floor, spikes and mains hum: all found without a filter that could move an edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats

# Differences of order two remove any straight ramp; white noise leaves them with variance 6 sigma^2.
_SECOND_DIFFERENCE_GAIN = float(np.sqrt(6.0))
_MAD_TO_SIGMA = 1.482602218505602  # 1 / Phi^-1(0.75), for a normal distribution


def noise_floor(values: Floats) -> float:
    """Estimate the standard deviation of a channel's white noise, whatever slow signal it carries.

    Parameters
    ----------
    values : ndarray (n,), any unit
        Finite samples at a steady rate.

    Returns
    -------
    float, same unit
        0 for fewer than five samples or a constant signal. Where the converter's step is coarser than
        the noise, the step's own standard deviation ``q / sqrt(12)`` (JCGM 100:2008, F.2.2.1) is the floor.
    """
    if values.size < 5:
        return 0.0
    second = np.diff(values, n=2)
    sigma = float(np.median(np.abs(second))) * _MAD_TO_SIGMA / _SECOND_DIFFERENCE_GAIN
    return max(sigma, resolution(values) / np.sqrt(12.0))


def resolution(values: Floats) -> float:
    """Find the converter's step: the smallest distance that repeats between neighbouring samples.

    Parameters
    ----------
    values : ndarray (n,)

    Returns
    -------
    float, same unit
        0 where samples hardly ever repeat a step (a fine converter).
    """
    step = np.abs(np.diff(values[:20000]))
    moved = step[step > 0]
    if moved.size < 8:
        return float(moved.min()) if moved.size else 0.0
    # a coarse converter shows itself by many neighbours that are exactly equal
    if moved.size > 0.9 * step.size:
        return 0.0
    return float(np.percentile(moved, 5))


def local_noise(values: Floats, *, width: int, floor: float) -> Floats:
    """Estimate each sample's noise from its surroundings, for noise that grows with the signal (sound).

    Parameters
    ----------
    values : ndarray (n,)
    width : int
        Samples averaged over.
    floor : float, same unit
        Smallest value given.

    Returns
    -------
    ndarray (n,), same unit
    """
    if values.size < 5:
        return np.full(values.size, floor)
    square = np.square(np.diff(values, n=2)) / 6.0
    # an edge or a spike must not count as noise: cap each square at what noise hardly ever reaches
    square = np.concatenate((square[:1], square, square[-1:]))
    padded = _running_mean(square, width)
    capped = np.minimum(square, 9.0 * padded)
    return np.sqrt(np.maximum(_running_mean(capped, width), floor**2))


def _running_mean(values: Floats, width: int) -> Floats:
    half = max(1, width // 2)
    total = np.concatenate(([0.0], np.cumsum(values)))
    index = np.arange(values.size)
    low, high = np.maximum(index - half, 0), np.minimum(index + half + 1, values.size)
    return (total[high] - total[low]) / (high - low)


def find_spikes(values: Floats, sigma: float) -> np.ndarray:
    """Find short excursions: one to three samples that leave their neighbourhood and come straight back.

    A real edge moves the level and stays; a spike stands on the same level before and after.

    Parameters
    ----------
    values : ndarray (n,)
    sigma : float, same unit
        Noise floor.

    Returns
    -------
    ndarray of bool (n,)
    """
    spikes = np.zeros(values.size, dtype=bool)
    if values.size < 9 or sigma <= 0:
        return spikes
    windows = np.lib.stride_tricks.sliding_window_view(values, 9)
    candidates = np.abs(values[4:-4] - 0.5 * (values[:-8] + values[8:])) > 8.0 * sigma
    index = np.flatnonzero(candidates)
    if index.size == 0:
        return spikes
    near = np.sort(windows[index], axis=1)
    middle = near[:, 4]
    # a side's level is taken from samples beyond the widest spike
    left, right = windows[index][:, :2].mean(axis=1), windows[index][:, -2:].mean(axis=1)
    returned = np.abs(left - right) < 5.0 * sigma
    # eight sigma of white noise is passed by chance once in 10^15 samples
    stands_out = np.abs(values[index + 4] - middle) > 8.0 * sigma
    few = np.sum(np.abs(windows[index] - middle[:, None]) > 6.0 * sigma, axis=1) <= 3
    spikes[index[returned & stands_out & few] + 4] = True
    return spikes


@dataclass(frozen=True, slots=True)
class Hum:
    """A steady sinusoid found in a channel: amplitude in the channel's unit, frequency in hertz."""

    frequency_hz: float
    amplitude: float


def remove_hum(time_s: Floats, values: Floats, sigma: float) -> tuple[Floats, tuple[Hum, ...]]:
    """Take mains hum off by fitting steady sinusoids and subtracting them.

    Subtracting a fitted sinusoid, unlike a notch filter, moves no edge and rings at none. The frequency is
    searched within 0.5 Hz of 50 and 60 Hz and their second and third harmonics.

    Parameters
    ----------
    time_s : ndarray (n,), [s]
    values : ndarray (n,), any unit
    sigma : float, same unit
        Noise floor.

    Returns
    -------
    values : ndarray (n,)
        Same array where nothing was found.
    found : tuple of Hum
    """
    found: list[Hum] = []
    if time_s.size < 200 or sigma <= 0:
        return values, ()
    step = float(np.median(np.diff(time_s)))
    duration = float(time_s[-1] - time_s[0])
    if duration < 0.5 or step <= 0:
        return values, ()
    for base in (50.0, 60.0):
        first = _find_sinusoid(time_s, values, base, sigma, step, duration)
        if first is None:
            continue
        for harmonic in (1, 2, 3):
            frequency = first * harmonic
            if frequency > 0.45 / step:
                break
            wave, amplitude = _sinusoid(time_s, values, frequency)
            if amplitude > 6.0 * sigma * np.sqrt(2.0 / time_s.size):
                values = values - wave
                found.append(Hum(frequency, amplitude))
    return values, tuple(found)


def _find_sinusoid(
    time_s: Floats, values: Floats, base: float, sigma: float, step: float, duration: float
) -> float | None:
    if base + 0.5 > 0.45 / step:
        return None
    # on a regular grid (a lost sample is bridged by a line), so that one transform answers for all frequencies
    count = min(int(duration / step) + 1, 120000)
    even = np.interp(float(time_s[0]) + step * np.arange(count), time_s, values)
    # the second difference whitens the slow signal away and keeps a 50 Hz line
    second = np.diff(even, n=2)
    if second.size * step <= 0.2:
        return None
    limit = 9.0 * sigma
    second = np.clip(second, -limit, limit)  # edges and snaps must not pass for hum
    padded = int(2 ** np.ceil(np.log2(2 * second.size)))
    power = np.asarray(np.square(np.abs(np.fft.rfft(second, padded))), dtype=np.float64)
    frequency = np.asarray(np.fft.rfftfreq(padded, step), dtype=np.float64)
    near = np.flatnonzero(np.abs(frequency - base) <= 0.5)
    if near.size == 0:
        return None
    # under white noise the power is exponential with this mean (sum of |second|^2 shaped by the gain at f)
    gain = (2.0 - 2.0 * np.cos(2.0 * np.pi * base * step)) ** 2
    expected = second.size * sigma**2 * gain
    best = int(near[int(np.argmax(power[near]))])
    chance = 1e-6
    if expected <= 0 or power[best] < expected * np.log(near.size / chance):
        return None
    return _between(frequency, np.sqrt(power), best)


def _between(grid: Floats, height: Floats, best: int) -> float:
    """Place the peak between grid points by a parabola: a frequency off by one grid step leaves a sixth of the hum."""
    if not 0 < best < grid.size - 1:
        return float(grid[best])
    left, top, right = (float(h) for h in height[best - 1 : best + 2])
    return float(grid[best]) + 0.5 * (left - right) / (left - 2.0 * top + right) * float(grid[1] - grid[0])


def _sinusoid(time_s: Floats, values: Floats, frequency: float) -> tuple[Floats, float]:
    phase = 2.0 * np.pi * frequency * time_s
    basis = np.stack((np.cos(phase), np.sin(phase)), axis=1)
    # fitted to the first difference, so that ramps and steps of the signal itself weigh little
    slope = np.diff(basis, axis=0)
    change = np.diff(values)
    scale = _MAD_TO_SIGMA * float(np.median(np.abs(change - np.median(change))))
    keep = np.abs(change) <= 6.0 * scale if scale > 0 else np.ones(change.size, dtype=bool)
    coefficients, *_ = np.linalg.lstsq(slope[keep], change[keep], rcond=None)
    return np.asarray(basis @ coefficients, dtype=np.float64), float(np.hypot(*coefficients))
