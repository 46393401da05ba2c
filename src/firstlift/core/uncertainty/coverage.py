"""How a result spreads about its value: Student's t with rectangles, and the intervals that follow.

The sum of a scaled Student t (the lines known from readings) and independent rectangles (the lines known
only by their limits) has the distribution that JCGM 101:2008 samples. Here the convolution is worked out by
Gauss-Legendre quadrature: same input, same digits, no random numbers.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats

# More than four rectangles of like size are a normal distribution for every practical purpose, and one with
# less than a thousandth of the variance does not show: both join the normal part by their variance.
_MOST_RECTANGLES = 4
_SMALLEST_SHARE = 1e-3
# Where the Student part bends, counted in its own scale from its middle.
_BENDS = np.array([-40.0, -16.0, -8.0, -4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0, 8.0, 16.0, 40.0])
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True, slots=True)
class Spread:
    """Distribution of what a quantity may be, about its measured value.

    ``scale`` times Student's t with ``degrees_of_freedom``, plus independent rectangles of ``half_widths``,
    plus ``shift``. All in the unit of the quantity; ``scale`` 0 without rectangles is a known value.
    """

    scale: float
    degrees_of_freedom: float = math.inf
    half_widths: tuple[float, ...] = ()
    shift: float = 0.0

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty in the sense of JCGM 100:2008, 5.1 (the t part counts with its scale)."""
        return math.hypot(self.scale, *(half / math.sqrt(3.0) for half in self.half_widths))

    def probability_below(self, distance: float) -> float:
        """Give the probability that the quantity lies at most ``distance`` above its measured value.

        Parameters
        ----------
        distance : float
            Signed, in the unit of the quantity.

        Returns
        -------
        float
            0 to 1.

        References
        ----------
        .. [1] JCGM 101:2008, 5.2 and 6.4: convolution of the inputs' distributions.
        """
        plain = self._simplified()
        z = distance - plain.shift
        if not plain.half_widths:
            return _student_below(z, plain.scale, plain.degrees_of_freedom)
        nodes, weights = _quadrature(z, plain.scale, plain.half_widths)
        if nodes.size == 0:
            return 0.0 if z < 0.0 else 1.0
        inner = _student_below_many(z - nodes, plain.scale, plain.degrees_of_freedom)
        total = float(np.sum(weights * _rectangles_density(nodes, plain.half_widths) * inner))
        return min(max(total, 0.0), 1.0)

    def expanded(self, probability: float) -> float:
        """Give the half-width of the interval about the middle that holds ``probability``.

        Parameters
        ----------
        probability : float
            Above 0 and below 1.

        Returns
        -------
        float
            Expanded uncertainty U in the unit of the quantity. With no rectangles it is exactly Student's
            quantile at the unrounded degrees of freedom times the scale.

        Raises
        ------
        FirstliftError
            UNC-001 the probability is not between 0 and 1.

        References
        ----------
        .. [1] JCGM 100:2008, G.3 (Student's t), G.2.2 (why a rectangle needs another factor).
        """
        factor = student_factor(probability, self.degrees_of_freedom)
        if not self.half_widths:
            return factor * self.scale
        plain = self._simplified()
        high = student_factor(probability, plain.degrees_of_freedom) * plain.scale + sum(plain.half_widths)
        wanted = 0.5 * (1.0 + probability)
        return _find_crossing(lambda x: self.probability_below(self.shift + x) - wanted, high)

    def with_line(self, standard_uncertainty: float, degrees_of_freedom: float = math.inf) -> Spread:
        """Add an independent normal line.

        Parameters
        ----------
        standard_uncertainty : float
            In the unit of the quantity.
        degrees_of_freedom : float

        Returns
        -------
        Spread
        """
        parts = [(self.scale**2, self.degrees_of_freedom), (standard_uncertainty**2, degrees_of_freedom)]
        scale = math.hypot(self.scale, standard_uncertainty)
        return Spread(scale, effective_degrees_of_freedom(parts), self.half_widths, self.shift)

    def widened(self, distance: float) -> Spread:
        """Add an unknown distance, every value from 0 to ``distance`` equally likely.

        Parameters
        ----------
        distance : float
            In the unit of the quantity; below 0 where it goes down.

        Returns
        -------
        Spread
        """
        if distance == 0.0:
            return self
        half = 0.5 * distance
        return Spread(self.scale, self.degrees_of_freedom, (*self.half_widths, abs(half)), self.shift + half)

    def _simplified(self) -> Spread:
        """Let rectangles that are many or small join the normal part."""
        if not self.half_widths:
            return self
        least = _SMALLEST_SHARE * self.standard_uncertainty**2
        ordered = sorted(self.half_widths, reverse=True)
        kept = tuple(half for half in ordered[:_MOST_RECTANGLES] if half > 0.0 and half**2 / 3.0 >= least)
        rest = math.sqrt(sum(half**2 / 3.0 for half in ordered[len(kept) :]))
        plain = Spread(self.scale, self.degrees_of_freedom, kept, self.shift)
        return plain.with_line(rest) if rest > 0.0 else plain


def student_factor(probability: float, degrees_of_freedom: float = math.inf) -> float:
    """Give Student's two-sided coverage factor.

    Parameters
    ----------
    probability : float
        Coverage probability, above 0 and below 1.
    degrees_of_freedom : float
        Above 0, not rounded; infinite gives the normal distribution's factor.

    Returns
    -------
    float

    Raises
    ------
    FirstliftError
        UNC-001 the probability is not between 0 and 1; UNC-002 degrees of freedom 0 or less.

    References
    ----------
    .. [1] JCGM 100:2008, G.3 and table G.2.
    """
    from scipy.special import ndtri, stdtrit

    if not 0.0 < probability < 1.0:
        raise FirstliftError(
            Problem("UNC-001", f"{probability:g} is not a coverage probability", needed="a number between 0 and 1")
        )
    if not degrees_of_freedom > 0.0:
        raise FirstliftError(
            Problem("UNC-002", f"{degrees_of_freedom:g} degrees of freedom", needed="a number above 0, or infinite")
        )
    upper = 0.5 * (1.0 + probability)
    return float(ndtri(upper) if math.isinf(degrees_of_freedom) else stdtrit(degrees_of_freedom, upper))


def effective_degrees_of_freedom(parts: Iterable[tuple[float, float]]) -> float:
    """Combine degrees of freedom by the Welch-Satterthwaite formula, not rounded.

    Parameters
    ----------
    parts : iterable of (variance, degrees of freedom)
        Independent parts of the combined variance, in the square of one unit.

    Returns
    -------
    float
        Infinite where every part that counts has infinite degrees of freedom.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1, formula (G.2b). The guide truncates to a whole number only for its table;
       the quantile here takes the number as it is.
    """
    listed = [(variance, dof) for variance, dof in parts if variance > 0.0]
    total = sum(variance for variance, _ in listed)
    # Shares first, so that squares of small variances cannot underflow.
    below = sum((variance / total) ** 2 / dof for variance, dof in listed)
    return 1.0 / below if below > 0.0 else math.inf


def _student_below(z: float, scale: float, dof: float) -> float:
    return float(_student_below_many(np.array([z]), scale, dof)[0])


def _student_below_many(z: Floats, scale: float, dof: float) -> Floats:
    from scipy.special import ndtr, stdtr

    if scale == 0.0:
        return np.asarray(z >= 0.0, dtype=np.float64)
    # Beyond 1e150 scales the tail is 0 to every digit, and its square would overflow.
    ratio = np.clip(z / scale, -1e150, 1e150)
    return np.asarray(ndtr(ratio) if math.isinf(dof) else stdtr(dof, ratio), dtype=np.float64)


def _corners(half_widths: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Give where the density of a sum of rectangles changes its polynomial, and the sign of each corner."""
    signs = np.array(list(itertools.product((1.0, -1.0), repeat=len(half_widths))))
    return signs @ np.array(half_widths), np.prod(signs, axis=1)


def _rectangles_density(r: Floats, half_widths: tuple[float, ...]) -> Floats:
    """Density of a sum of independent rectangles: truncated powers (P. S. Laplace; Feller II, I.9)."""
    order = len(half_widths) - 1
    corners, signs = _corners(half_widths)
    reach = r[:, np.newaxis] + corners
    powers = np.where(reach > 0.0, np.maximum(reach, 0.0) ** order, 0.0)
    return powers @ signs / (math.factorial(order) * math.prod(2.0 * half for half in half_widths))


def _quadrature(z: float, scale: float, half_widths: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Give nodes and weights over the rectangles' reach, cut wherever the integrand bends."""
    reach = sum(half_widths)
    corners, _ = _corners(half_widths)
    cuts = np.unique(np.clip(np.concatenate((corners, z - scale * _BENDS)), -reach, reach))
    if cuts.size < 2:
        return np.empty(0), np.empty(0)
    half = 0.5 * np.diff(cuts)[:, np.newaxis]
    middle = 0.5 * (cuts[1:] + cuts[:-1])[:, np.newaxis]
    return (middle + half * _NODES).ravel(), (half * _WEIGHTS).ravel()


def _find_crossing(function: Callable[[float], float], high: float) -> float:
    """Find where a rising function crosses 0 between 0 and ``high`` (false position, Illinois variant)."""
    low, f_low, f_high = 0.0, function(0.0), function(high)
    if f_high <= 0.0:
        return high
    for _ in range(200):
        middle = high - f_high * (high - low) / (f_high - f_low)
        value = function(middle)
        if abs(value) < 1e-12 or high - low <= 1e-13 * high:
            return middle
        if value > 0.0:
            high, f_high, f_low = middle, value, f_low * 0.5
        else:
            low, f_low, f_high = middle, value, f_high * 0.5
    return 0.5 * (low + high)
