"""Calibration lines: a polynomial through readings, its covariance, and what it predicts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats, frozen


@dataclass(frozen=True, slots=True, eq=False)
class CalibrationLine:
    """A fitted polynomial.

    ``coefficients`` (m,), lowest power first, with their ``covariance`` (m, m), in the units of y and powers
    of x; ``residual_deviation`` is the standard deviation of one reading about the line.
    """

    coefficients: Floats
    covariance: Floats
    residual_deviation: float
    degrees_of_freedom: int
    lowest_x: float
    highest_x: float

    @property
    def standard_uncertainties(self) -> Floats:
        """Standard uncertainty of each coefficient."""
        return np.sqrt(np.diag(self.covariance))

    def correlation(self, i: int, j: int) -> float:
        """Give the correlation coefficient of two coefficients.

        Parameters
        ----------
        i, j : int
            Powers of x.

        Returns
        -------
        float
        """
        u = self.standard_uncertainties
        return float(self.covariance[i, j] / (u[i] * u[j]))

    def predict(self, x: float) -> tuple[float, float]:
        """Give the line's value at ``x`` and the standard uncertainty of the line there.

        Parameters
        ----------
        x : float
            In the unit of the fit's x.

        Returns
        -------
        (value, standard uncertainty)
            In the unit of y. The scatter of a further reading is not in it.

        References
        ----------
        .. [1] JCGM 100:2008, H.3.4, formula (H.14).
        """
        powers = float(x) ** np.arange(len(self.coefficients))
        variance = float(powers @ self.covariance @ powers)
        return float(powers @ self.coefficients), math.sqrt(max(variance, 0.0))

    def invert(self, y: float, standard_uncertainty: float = 0.0) -> tuple[float, float]:
        """Give the x that belongs to a reading ``y``, with its standard uncertainty.

        Parameters
        ----------
        y, standard_uncertainty : float
            A reading and its own standard uncertainty, in the unit of the fit's y.

        Returns
        -------
        (x, standard uncertainty)
            In the unit of x; the reading's and the line's uncertainty over the slope.

        Raises
        ------
        FirstliftError
            UNC-012 no x of the calibrated range, or within a tenth of it, gives this reading.

        References
        ----------
        .. [1] JCGM 100:2008, 5.1.2 (10) on the inverse of H.3's line.
        """
        margin = 0.1 * (self.highest_x - self.lowest_x)
        low, high = self.lowest_x - margin, self.highest_x + margin
        shifted = self.coefficients - np.concatenate(([y], np.zeros(len(self.coefficients) - 1)))
        roots = np.polynomial.polynomial.polyroots(shifted)
        real = roots.real[np.abs(roots.imag) <= 1e-9 * max(abs(low), abs(high))]
        inside = real[(real >= low) & (real <= high)]
        if inside.size != 1:
            raise FirstliftError(
                Problem(
                    "UNC-012",
                    f"{inside.size} values between {low:g} and {high:g} belong to the reading {y:g}",
                    needed="exactly one",
                    next="Read within the range that was calibrated",
                )
            )
        x = float(inside[0])
        slope = float(np.polynomial.polynomial.polyval(x, np.polynomial.polynomial.polyder(self.coefficients)))
        return x, math.hypot(standard_uncertainty, self.predict(x)[1]) / abs(slope)


def fit_calibration(x: Sequence[float] | Floats, y: Sequence[float] | Floats, degree: int = 1) -> CalibrationLine:
    """Fit a polynomial by least squares, all readings of y equally good.

    The powers are taken of x over its largest magnitude and solved by QR, so that loads of millions keep
    their digits.

    Parameters
    ----------
    x, y : sequence of float (n,)
        Readings; x is taken as known.
    degree : int
        1 for a straight line.

    Returns
    -------
    CalibrationLine

    Raises
    ------
    FirstliftError
        UNC-009 lengths differ, a number is not finite, fewer than degree + 2 readings, or x takes too few
        values to bend the line.

    References
    ----------
    .. [1] JCGM 100:2008, H.3.
    .. [2] G. H. Golub, C. F. Van Loan, Matrix Computations, 4th edition, 5.3 (least squares by QR).
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    count = degree + 1
    finite = bool(np.all(np.isfinite(xs)) and np.all(np.isfinite(ys)))
    if xs.shape != ys.shape or not finite or len(xs) <= count or len(np.unique(xs)) < count:
        raise FirstliftError(
            Problem(
                "UNC-009",
                f"{len(xs)} x and {len(ys)} y do not carry a line of degree {degree}",
                needed=f"as many y as x, all finite, {count + 1} or more at {count} or more values of x",
            )
        )
    scale = float(np.max(np.abs(xs)))
    q, r = np.linalg.qr(np.vander(xs / scale, count, increasing=True))
    scaled = np.linalg.solve(r, q.T @ ys)
    residuals = ys - np.vander(xs / scale, count, increasing=True) @ scaled
    dof = len(xs) - count
    variance = float(residuals @ residuals) / dof
    inverse = np.linalg.inv(r)
    back = scale ** -np.arange(count, dtype=np.float64)
    return CalibrationLine(
        coefficients=frozen(scaled * back),
        covariance=frozen(variance * (inverse @ inverse.T) * np.outer(back, back)),
        residual_deviation=math.sqrt(variance),
        degrees_of_freedom=dof,
        lowest_x=float(xs.min()),
        highest_x=float(xs.max()),
    )


def lack_of_fit(x: Sequence[float] | Floats, y: Sequence[float] | Floats, line: CalibrationLine) -> float:
    """Give the probability of so poor a fit if the line were right, from repeated readings.

    Parameters
    ----------
    x, y : sequence of float (n,)
        The readings of the fit, some x read more than once.
    line : CalibrationLine

    Returns
    -------
    float
        0 to 1; small (below 0.05, say) rejects the line's degree.

    Raises
    ------
    FirstliftError
        UNC-010 no x was read twice, or there are no more levels than coefficients.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.4.6 (lack-of-fit F test).
    """
    from scipy.special import fdtrc

    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    levels, which, counts = np.unique(xs, return_inverse=True, return_counts=True)
    pure_dof, lack_dof = len(xs) - len(levels), len(levels) - len(line.coefficients)
    if pure_dof < 1 or lack_dof < 1:
        raise FirstliftError(
            Problem(
                "UNC-010",
                f"{len(xs)} readings at {len(levels)} levels cannot show a lack of fit",
                needed="some levels read twice, and more levels than coefficients",
            )
        )
    within = ys - (np.bincount(which, weights=ys) / counts)[which]
    pure = float(within @ within)
    lack = line.residual_deviation**2 * line.degrees_of_freedom - pure
    if pure <= 0.0:
        return 0.0 if lack > 0.0 else 1.0
    return float(fdtrc(lack_dof, pure_dof, max(lack, 0.0) / lack_dof / (pure / pure_dof)))
