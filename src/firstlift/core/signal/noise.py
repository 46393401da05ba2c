"""Noise floor, spikes and mains hum: all found without a filter that could move an edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats

# Differences of order two remove any straight ramp; white noise leaves them with variance 6 sigma^2.
_SECOND_DIFFERENCE_GAIN = float(np.sqrt(6.0))
_MAD_TO_SIGMA = 1.482602218505602  # 1 / Phi^-1(0.75), for a normal distribution
_TRIPLES = 20000
# samples gone through in one go: few enough to stay in the processor's cache
_STRETCH = 16384
# mains hum is looked for in means of blocks at this rate or above, in at most so many of them
_HUM_RATE_HZ = 500.0
_HUM_BLOCKS = 32768


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
    # triples spread over the record: their median is known to one per cent, and costs next to nothing. An odd
    # stride keeps out of step with hum
    stride = max(1, (values.size - 2) // _TRIPLES) | 1
    second = np.abs(_second_differences(values, stride))
    sigma = float(np.median(second)) * _MAD_TO_SIGMA / _SECOND_DIFFERENCE_GAIN
    return max(sigma, resolution(values) / np.sqrt(12.0))


def _second_differences(values: Floats, stride: int) -> Floats:
    second = values[:-2:stride] + values[2::stride]
    second -= 2.0 * values[1:-1:stride]
    return second


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
    if moved.size < 8 and values.size > 20000:
        # a line that hardly moves: the whole record may hold no more steps than these
        moved = (step := np.abs(np.diff(values)))[step > 0]
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
    # a hundred second differences a width tell as much as all of them, for neighbours share samples
    stride = int(np.clip(width // 100, 1, 3))
    square = np.square(_second_differences(values, stride))
    square /= 6.0
    size = max(1, width // (10 * stride))
    count = max(1, square.size // size)
    blocks = square[: count * size].reshape(count, -1)
    reach = max(1, width // (2 * stride * size))
    # an edge or a spike must not count as noise: cap each square at what noise hardly ever reaches
    most = 9.0 * _running_mean(blocks.mean(axis=1), reach)
    capped = np.minimum(blocks, most[:, None]).mean(axis=1)
    local = np.sqrt(np.maximum(_running_mean(capped, reach), floor**2))
    each = np.repeat(local, size * stride)
    # a second difference stands in the middle of its three samples
    return np.concatenate((each[:1], each[: values.size - 1], np.full(max(0, values.size - 1 - each.size), local[-1])))


def _running_mean(values: Floats, half: int) -> Floats:
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
    index = _away_from_both_sides(values, 8.0 * sigma)
    if index.size == 0:
        return spikes
    windows = np.lib.stride_tricks.sliding_window_view(values, 9)
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


def _away_from_both_sides(values: Floats, limit: float) -> NDArray[np.intp]:
    """Give the places where the fifth of nine samples lies further than that from the mean of first and ninth."""
    found: list[NDArray[np.intp]] = []
    room = np.empty(min(_STRETCH, values.size - 8))
    for start in range(0, values.size - 8, _STRETCH):
        stop = min(start + _STRETCH, values.size - 8)
        away = np.add(values[start:stop], values[start + 8 : stop + 8], out=room[: stop - start])
        away *= -0.5
        away += values[start + 4 : stop + 4]
        if float(away.max()) > limit or float(away.min()) < -limit:
            found.append(start + np.flatnonzero(np.abs(away) > limit))
    return np.concatenate(found) if found else np.empty(0, dtype=np.intp)


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
    step = float(np.median(np.diff(time_s[:_TRIPLES])))
    duration = float(time_s[-1] - time_s[0])
    if duration < 0.5 or step <= 0:
        return values, ()
    searched = [base for base in (50.0, 60.0) if base + 0.5 <= 0.45 / step]
    spectrum = _spectrum(time_s, values, sigma, step) if searched else None
    for base in searched:
        first = spectrum.find(base) if spectrum is not None else None
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


@dataclass(frozen=True, slots=True, eq=False)
class _Spectrum:
    """Transform of the second difference of block means, at multiples of a frequency step.

    ``noise`` is the mean power that white noise gives it, before its gain.
    """

    amplitude: NDArray[np.complex128]
    apart_hz: float
    noise: float
    step_s: float
    duration_s: float

    def find(self, base: float) -> float | None:
        """Give the frequency of a steady sinusoid within 0.5 Hz of a base, where noise alone would not show it."""
        clear = max(2.0, 3.0 / self.duration_s)
        first = max(0, int((base - clear - 6.0) / self.apart_hz))
        some = self.amplitude[first : int((base + clear + 6.0) / self.apart_hz) + 2]
        power = np.square(some.real) + np.square(some.imag)
        frequency = self.apart_hz * np.arange(first, first + power.size, dtype=np.float64)
        away = np.abs(frequency - base)
        near = np.flatnonzero(away <= 0.5)
        beside = power[(away > clear) & (away < clear + 6.0)]
        if near.size == 0 or beside.size < 3:
            return None
        gain = (2.0 - 2.0 * np.cos(2.0 * np.pi * base * self.step_s)) ** 2
        # what moves on its own at other frequencies too is no hum; power of noise is exponential, its median ln 2
        expected = max(self.noise * gain, float(np.median(beside)) / np.log(2.0))
        best = int(near[int(np.argmax(power[near]))])
        chance = 1e-6
        if expected <= 0 or power[best] < expected * np.log(near.size / chance):
            return None
        return _between(frequency, power, best)


def _spectrum(time_s: Floats, values: Floats, sigma: float, step: float) -> _Spectrum | None:
    """Transform once for all frequencies: means of blocks, on a regular grid (a lost sample is bridged by a line)."""
    size = max(1, int(1.0 / (_HUM_RATE_HZ * step)))
    blocks = min(values.size // size, _HUM_BLOCKS)
    mean = values[: blocks * size].reshape(blocks, size) @ np.full(size, 1.0 / size)
    at = time_s[: blocks * size : size] + 0.5 * (size - 1) * step
    duration, apart = float(at[-1] - at[0]), size * step
    count = min(int(duration / apart + 0.5) + 1, 2 * _HUM_BLOCKS)
    even = np.interp(float(at[0]) + apart * np.arange(count), at, mean)
    # the second difference whitens the slow signal away and keeps a 50 Hz line
    second = np.diff(even, n=2)
    if second.size * apart <= 0.2:
        return None
    noise = sigma / np.sqrt(size)
    # edges and snaps must not pass for hum, nor the record's own two ends
    second = np.clip(second, -9.0 * noise, 9.0 * noise) * np.hanning(second.size)
    padded = int(2 ** np.ceil(np.log2(4 * second.size)))
    return _Spectrum(
        np.fft.rfft(second, padded), 1.0 / (padded * apart), 0.375 * second.size * noise**2, apart, duration
    )


def _between(grid: Floats, power: Floats, best: int) -> float:
    """Place the peak between grid points by a parabola: a frequency off by one grid step leaves a sixth of the hum."""
    if not 0 < best < grid.size - 1 or float(power[best - 1 : best + 2].min()) <= 0.0:
        return float(grid[best])
    left, top, right = np.log(power[best - 1 : best + 2]).tolist()
    return float(grid[best]) + 0.5 * (left - right) / (left - 2.0 * top + right) * float(grid[1] - grid[0])


def _sinusoid(time_s: Floats, values: Floats, frequency: float) -> tuple[Floats, float]:
    phase = 2.0 * np.pi * frequency * time_s
    basis = np.stack((np.cos(phase), np.sin(phase)), axis=1)
    # fitted to the first difference, so that ramps and steps of the signal itself weigh little
    slope = np.diff(basis, axis=0)
    change = np.diff(values)
    some = change[:: max(1, change.size // _TRIPLES) | 1]
    scale = _MAD_TO_SIGMA * float(np.median(np.abs(some - np.median(some))))
    if scale > 0:
        slope *= (np.abs(change) <= 6.0 * scale)[:, None]
    coefficients, *_ = np.linalg.lstsq(slope.T @ slope, slope.T @ change, rcond=None)
    return np.asarray(basis @ coefficients, dtype=np.float64), float(np.hypot(*coefficients))
