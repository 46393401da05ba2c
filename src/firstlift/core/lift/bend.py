"""One channel, one window: how likely each instant is to be the bend.

Before first lift a channel follows one smooth curve (stiff stretch, ramp of the drive), after it another
(soft spring, falling force, roaring sound). Both are low-order polynomials over a short window, joined at
the bend. For every candidate instant the curve is fitted by weighted linear least squares; what is left is
chi-square as a function of the instant, that is, -2 log of the profile likelihood (Seber and Wild,
Nonlinear Regression, 1989, sections 9.2 to 9.4: bent-line models by grid over the join).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Samples of one channel around a place, averaged to blocks: all arrays (n,).

    ``tau`` runs from -1 to 1 over the window; ``time_s = centre_s + half_s * tau``.
    """

    centre_s: float
    half_s: float
    tau: Floats
    value: Floats
    sigma: Floats
    companion: Floats | None = None

    def to_tau(self, time_s: Floats) -> Floats:
        """Turn seconds into the window's own coordinate."""
        return (time_s - self.centre_s) / self.half_s


@dataclass(frozen=True, slots=True)
class Shape:
    """What a channel may do around the bend.

    ``before`` and ``after`` are polynomial orders of the two sides; ``leak`` (window coordinate) adds a
    rise ``exp((t - t0) / leak)`` that ends at the bend (sound of a fading contact); ``grow`` (window
    coordinate) replaces the side after by ``exp((t - t0) / grow) - 1`` (a disc whose fluid force outruns
    the spring: the lift grows by itself); ``step`` lets the value
    jump there (a bond that breaks, a disc that snaps within a sample); ``ripple`` adds the companion
    signal (line pressure) after the bend.
    """

    before: int = 1
    after: int = 1
    leak: float | None = None
    grow: float | None = None
    step: bool = False
    ripple: bool = False

    @property
    def parameters(self) -> int:
        """Number of linear coefficients."""
        return (
            1
            + self.before
            + (self.after if self.grow is None else 1)
            + (self.leak is not None)
            + self.step
            + self.ripple
        )


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Fits for every candidate instant (g,): chi-square, value at the bend and its variance, slopes.

    Slopes are per unit of ``tau``; ``slope_gain`` is the change of slope at the bend with its variance.
    """

    shape: Shape
    samples: int
    chi2: Floats
    value: Floats
    variance: Floats
    slope_before: Floats
    slope_gain: Floats
    gain_variance: Floats
    coefficients: Floats


def design(shape: Shape, tau: Floats, at: Floats, companion: Floats | None) -> Floats:
    """Build the design matrices of the bent curve for each candidate instant.

    Parameters
    ----------
    shape : Shape
    tau : ndarray (n,)
        Window coordinate of the samples.
    at : ndarray (g,)
        Candidate instants, window coordinate.
    companion : ndarray (n,) or None
        Needed where ``shape.ripple``.

    Returns
    -------
    ndarray (g, n, p)
        Columns: value at the bend, powers 1.. of the side before (running through), then powers 1.. of the
        change after the bend, then leak, step, ripple. The polynomial is centred at the bend, so that the
        first coefficient is the value of the side before at the bend.
    """
    shifted = tau[None, :] - at[:, None]
    after = np.maximum(shifted, 0.0)
    # beyond its own order, the side before does not run through: it acts up to the bend only
    columns = [np.ones_like(shifted), shifted]
    columns.extend(np.minimum(shifted, 0.0) ** power for power in range(2, shape.before + 1))
    if shape.grow is None:
        columns.extend(after**power for power in range(1, shape.after + 1))
    else:
        # scaled so that its slope at the bend is one: "change of slope" means the same for every shape
        columns.append(shape.grow * np.expm1(np.minimum(after / shape.grow, 30.0)))
    if shape.leak is not None:
        columns.append(np.exp(np.minimum(shifted, 0.0) / shape.leak) - 1.0)
    if shape.step:
        columns.append((shifted > 0).astype(float))
    if shape.ripple and companion is not None:
        start = np.array([np.interp(a, tau, companion) for a in at])
        columns.append(np.where(shifted > 0, companion[None, :] - start[:, None], 0.0))
    return np.stack(columns, axis=2)


def profile(window: Window, shape: Shape, at: Floats) -> Profile:
    """Fit the bent curve for each candidate instant.

    Parameters
    ----------
    window : Window
    shape : Shape
    at : ndarray (g,)
        Candidate instants in the window's coordinate, inside (-1, 1).

    Returns
    -------
    Profile
    """
    matrix = design(shape, window.tau, at, window.companion)
    weight = 1.0 / window.sigma
    scaled = matrix * weight[None, :, None]
    target = window.value * weight
    normal = np.einsum("gni,gnj->gij", scaled, scaled, optimize=True)
    right = np.einsum("gni,n->gi", scaled, target, optimize=True)
    # a whisper of ridge keeps instants at the very edge of a side from blowing up; relative to each column
    diagonal = np.einsum("gii->gi", normal)
    diagonal += 1e-10 * diagonal.max(axis=1, keepdims=True) + 1e-300
    inverse = np.linalg.inv(normal)
    coefficients = np.einsum("gij,gj->gi", inverse, right)
    chi2 = np.maximum(target @ target - np.einsum("gi,gi->g", coefficients, right), 0.0)
    gain = 1 + shape.before
    return Profile(
        shape,
        window.tau.size,
        chi2,
        coefficients[:, 0],
        inverse[:, 0, 0],
        coefficients[:, 1],
        coefficients[:, gain],
        inverse[:, gain, gain],
        coefficients,
    )


def straight(window: Window, order: int) -> float:
    """Chi-square of one polynomial through the whole window: the curve without a bend.

    Parameters
    ----------
    window : Window
    order : int

    Returns
    -------
    float
    """
    weight = 1.0 / window.sigma
    matrix = np.vander(window.tau, order + 1) * weight[:, None]
    _, residual, *_ = np.linalg.lstsq(matrix, window.value * weight, rcond=None)
    return float(residual[0]) if residual.size else 0.0


def residuals(window: Window, fitted: Profile, index: int, at: float) -> Floats:
    """Residuals of one candidate's fit in units of their noise.

    Parameters
    ----------
    window : Window
    fitted : Profile
    index : int
        Which candidate.
    at : float
        Its instant, window coordinate.

    Returns
    -------
    ndarray (n,)
    """
    matrix = design(fitted.shape, window.tau, np.array([at]), window.companion)[0]
    return (window.value - matrix @ fitted.coefficients[index]) / window.sigma
