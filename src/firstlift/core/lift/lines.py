"""Straight lines over any stretch of a curve, by running sums, with what their leftovers are worth.

Neighbouring leftovers that hang together count for fewer: friction, waviness of a guide and unfitted curvature
are no white noise (first-order autocorrelation, its small-sample bias taken off: Marriott and Pope, Biometrika
41 (1954) 390).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats

# second differences to a standard deviation: 1 / Phi^-1(0.75), for a normal distribution
_MAD_TO_SIGMA = 1.482602218505602
_LENGTH_RATIO = 1.6
# a line through fewer samples says nothing about a slope
FEWEST = 8
# beyond this the leftovers are a curve, not noise: there are no more than so many independent ones
_LARGEST_CORRELATION = 0.97


def spread_ties(x: Floats) -> tuple[Floats, float]:
    """Lay readings that repeat one value evenly over the converter's step.

    Parameters
    ----------
    x : ndarray (n,)
        Not falling.

    Returns
    -------
    x : ndarray (n,)
        Rising strictly.
    quantum : float, unit of x
        The converter's step; 0 where no value repeats.
    """
    values, start, count = np.unique(x, return_index=True, return_counts=True)
    if values.size == x.size or values.size < 2:
        return x, 0.0
    quantum = float(np.diff(values).min())
    within = np.arange(x.size) - np.repeat(start, count)
    many = np.repeat(count, count)
    # the middle of a run stays where it was read
    return x + quantum * ((within + 0.5) / many - 0.5), quantum


def noise_of(x: Floats, y: Floats) -> float:
    """Estimate the standard deviation of one reading, whatever slow curve it follows, on any spacing.

    Parameters
    ----------
    x, y : ndarray (n,)
        x rises strictly.

    Returns
    -------
    float, unit of y
        From each reading's distance to the chord between its neighbours.
    """
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    away = y[1:-1] - (1.0 - share) * y[:-2] - share * y[2:]
    away /= np.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
    return _MAD_TO_SIGMA * float(np.median(np.abs(away)))


def lengths_within(count: int) -> list[int]:
    """Give a geometric row of lengths from the fewest samples to nearly all.

    Parameters
    ----------
    count : int
        Samples there are.

    Returns
    -------
    list of int
    """
    lengths: list[int] = []
    length = float(FEWEST)
    while length <= count - FEWEST:
        lengths.append(int(length))
        length *= _LENGTH_RATIO
    return lengths


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Straight lines over stretches (s,).

    ``level`` (at x = 0), ``slope`` and its variance, ``middle`` of each stretch, ``count`` of samples, ``noise``
    the white noise that would do as much harm as the leftover, ``left`` its sum of squares.
    """

    level: Floats
    slope: Floats
    variance: Floats
    middle: Floats
    count: int
    noise: Floats
    left: Floats

    def variance_at(self, x: Floats) -> Floats:
        """Variance of each line at a place."""
        return np.square(self.noise) / self.count + self.variance * np.square(x - self.middle)

    def no_luckier_than_most(self) -> Lines:
        """Give the same lines, none with less noise than half of them have: the quietest stretch is so by luck."""
        noise = np.maximum(self.noise, float(np.median(self.noise)))
        return replace(self, noise=noise, variance=self.variance * np.square(noise / self.noise))

    def take(self, index: int) -> Lines:
        """Give one of the lines, as arrays of one."""
        parts = (self.level, self.slope, self.variance, self.middle)
        level, slope, variance, middle = (part[index : index + 1] for part in parts)
        one = slice(index, index + 1)
        return Lines(level, slope, variance, middle, self.count, self.noise[one], self.left[one])


class Sums:
    """Running sums from which a straight line over any stretch and the size of its leftovers follow."""

    def __init__(self, x: Floats, y: Floats, noise: float) -> None:
        # scaled and centred: running sums of large numbers would lose digits
        self.x = x
        self._scale, self._floor, self._ground, self._middle = float(np.std(x)), noise, float(y.mean()), float(x.mean())
        u, v = (x - float(x.mean())) / self._scale, y - float(y.mean())
        self._u, self._v = u, v
        self._run = [running(part) for part in (u, v, u * u, u * v, v * v)]
        lagged = (u[1:] * u[:-1], u[1:] * v[:-1] + v[1:] * u[:-1], v[1:] * v[:-1])
        self._lag = [running(part) for part in lagged]

    def left_over(self, start: int, stop: int) -> tuple[float, float]:
        """Give the sum of squares a straight line leaves over one stretch, and its slope."""
        found = self.line(stop - start, np.array([start]))
        return float(found.left[0]), float(found.slope[0])

    def line(self, length: int, start: NDArray[np.intp]) -> Lines:
        """Fit straight lines over stretches of one length that start at the samples given."""
        stop = start + length
        u, v, uu, uv, vv = (part[stop] - part[start] for part in self._run)
        spread = np.maximum(uu - u * u / length, 1e-12)
        slope = (uv - u * v / length) / spread
        level = (v - slope * u) / length
        left = np.maximum(vv - v * v / length - slope * slope * spread, 0.0)
        # products of neighbouring leftovers, written out
        lag_uu, lag_uv, lag_vv = (part[stop - 1] - part[start] for part in self._lag)
        ends_u = 2.0 * u - self._u[start] - self._u[stop - 1]
        ends_v = 2.0 * v - self._v[start] - self._v[stop - 1]
        lagged = lag_vv - slope * lag_uv + slope * slope * lag_uu - level * (ends_v - slope * ends_u)
        lagged += level * level * (length - 1)
        near = np.clip((length * lagged / np.maximum(left, 1e-300) + 2.0) / (length - 4), 0.0, _LARGEST_CORRELATION)
        # length - 4, not 2: so few leftovers say little about their own size (variance of Student's t)
        noise = np.sqrt(np.maximum(left / (length - 4), self._floor**2) * (1.0 + near) / (1.0 - near))
        steep = slope / self._scale
        return Lines(
            self._ground + level - steep * self._middle,
            steep,
            noise * noise / (spread * self._scale**2),
            self._middle + self._scale * u / length,
            length,
            noise,
            left,
        )


def running(values: Floats) -> Floats:
    """Give running sums that start with a zero: the sum over samples a to b - 1 is entry b less entry a.

    Parameters
    ----------
    values : ndarray (n,)

    Returns
    -------
    ndarray (n + 1,)
    """
    return np.concatenate(([0.0], np.cumsum(values)))
