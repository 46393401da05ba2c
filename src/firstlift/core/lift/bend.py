"""One channel, one window: the bent curve and its fit for every candidate instant.

Before first lift a channel follows one smooth curve (stiff stretch, ramp of the drive), after it another
(soft spring, falling force, roaring sound). Both are low-order polynomials over a short window, joined at
the bend. For every candidate instant the curve is fitted by weighted linear least squares; what is left is
chi-square as a function of the instant, that is, -2 log of the profile likelihood (Seber and Wild,
Nonlinear Regression, 1989, sections 9.2 to 9.4: bent-line models by grid over the join).

`design` says what the curve is, plainly; `curves` fits it fast, without building that matrix.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats

# a growth by more than e to this power within the window is seen in the last blocks only: it says nothing
# about the bend, and such candidates are left out
GROWTH_LIMIT = 10.0
_BEST_OF_MANY = 6.0


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

    def to_tau(self, time_s: Floats) -> Floats:
        """Turn seconds into the window's own coordinate."""
        return (time_s - self.centre_s) / self.half_s


@dataclass(frozen=True, slots=True, eq=False)
class Windows:
    """Windows side by side, (W, n) each: shorter ones are filled up with weight zero at their last place.

    ``weight`` is the inverse of the squared noise, ``size`` (W,) how many blocks each has.
    """

    centre_s: Floats
    half_s: Floats
    size: NDArray[np.intp]
    tau: Floats
    value: Floats
    weight: Floats

    def window(self, row: int) -> Window:
        """Give one of them alone."""
        size = int(self.size[row])
        tau, value, weight = (each[row, :size] for each in (self.tau, self.value, self.weight))
        return Window(float(self.centre_s[row]), float(self.half_s[row]), tau, value, 1.0 / np.sqrt(weight))

    def some(self, rows: NDArray[np.intp]) -> Windows:
        """Give some of them."""
        return Windows(
            self.centre_s[rows],
            self.half_s[rows],
            self.size[rows],
            self.tau[rows],
            self.value[rows],
            self.weight[rows],
        )


def side_by_side(windows: Sequence[Window]) -> Windows:
    """Lay single windows side by side.

    Parameters
    ----------
    windows : sequence of Window
        At least one.

    Returns
    -------
    Windows
    """
    size = np.array([window.tau.size for window in windows])
    tau = np.empty((size.size, int(size.max())))
    value, weight = np.empty_like(tau), np.zeros_like(tau)
    for row, (window, count) in enumerate(zip(windows, size.tolist(), strict=True)):
        tau[row, :count], tau[row, count:] = window.tau, window.tau[-1]
        value[row, :count], value[row, count:] = window.value, window.value[-1]
        weight[row, :count] = 1.0 / np.square(window.sigma)
    centre_s, half_s = (np.array(part) for part in zip(*((w.centre_s, w.half_s) for w in windows), strict=True))
    return Windows(centre_s, half_s, size, tau, value, weight)


@dataclass(frozen=True, slots=True)
class Column:
    """One term of the curve that acts on one side of the bend only, with ``s`` the distance from the bend.

    Where ``rate`` is zero the term is ``s ** power``, else ``factor * (exp(rate * s) - 1)``.
    """

    after: bool
    power: int = 0
    rate: float = 0.0
    factor: float = 1.0

    def values(self, shifted: Floats) -> Floats:
        """Evaluate the term.

        Parameters
        ----------
        shifted : ndarray (...)
            Distance from the bend, window coordinate.

        Returns
        -------
        ndarray (...)
        """
        acting = np.maximum(shifted, 0.0) if self.after else np.minimum(shifted, 0.0)
        if self.rate:
            return self.factor * np.expm1(np.minimum(acting * self.rate, GROWTH_LIMIT))
        return acting**self.power if self.power else (shifted > 0).astype(float)


@dataclass(frozen=True, slots=True)
class Shape:
    """What a channel may do around the bend.

    ``before`` and ``after`` are polynomial orders of the two sides; ``leak`` (window coordinate) adds a
    rise ``exp((t - t0) / leak)`` that ends at the bend (sound of a fading contact); ``grow`` (window
    coordinate) replaces the side after by ``exp((t - t0) / grow) - 1`` (a disc whose fluid force outruns
    the spring: the lift grows by itself); ``relax`` (window coordinate) adds ``1 - exp((t0 - t) / relax)``
    (a bond that breaks: the disc jumps to its balance and creeps up to it; or, with the other sign, a damped disc
    that takes this long to reach its pace); ``soft`` leaves the first order after the bend out (a disc so damped, or
    so heavy, that it gathers pace in proportion to what is left over of the force: the lift begins with the square
    of time); ``step`` lets the value jump there (the same within a sample).
    """

    before: int = 1
    after: int = 1
    leak: float | None = None
    grow: float | None = None
    relax: float | None = None
    step: bool = False
    soft: bool = False

    @property
    def columns(self) -> tuple[Column, ...]:
        """Terms added to the straight line through the bend, in the order of their coefficients.

        Beyond its first order the side before does not run through: it acts up to the bend only. Growth is
        scaled so that its slope at the bend is one: "change of slope" means the same for every shape.
        """
        return _columns(self)

    @property
    def gain(self) -> int:
        """Which of the columns is the change of slope, or of curvature where it begins softly."""
        return self.before - 1

    @property
    def cost(self) -> float:
        """What the shape must explain, in chi-square, to be worth its coefficients.

        Two for each (Akaike). A step or a growth can sit on any noise peak, so it has the
        best of many tries: ``2 ln(n)`` for some twenty independent places more.
        """
        wandering = self.step or self.grow is not None
        return 2.0 * self.parameters + (_BEST_OF_MANY if wandering else 0.0)

    @property
    def jump(self) -> int:
        """Which of the columns is the step, where there is one."""
        return next((i for i, c in enumerate(self.columns) if c.after and not (c.power or c.rate)), -1)

    @property
    def parameters(self) -> int:
        """Number of linear coefficients."""
        return 2 + len(self.columns)


@lru_cache(maxsize=256)
def _columns(shape: Shape) -> tuple[Column, ...]:
    terms = [Column(after=False, power=power) for power in range(2, shape.before + 1)]
    if shape.relax is not None:
        # first of the terms after, so that it is the change of slope: its slope at the bend is one
        terms.append(Column(after=True, rate=-1.0 / shape.relax, factor=-shape.relax))
    if shape.grow is None:
        terms.extend(Column(after=True, power=power) for power in range(2 if shape.soft else 1, shape.after + 1))
    else:
        terms.append(Column(after=True, rate=1.0 / shape.grow, factor=shape.grow))
    if shape.leak is not None:
        terms.append(Column(after=False, rate=1.0 / shape.leak))
    if shape.step:
        terms.append(Column(after=True))
    return tuple(terms)


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Fits for every candidate instant (g,): chi-square, value at the bend and its variance, slopes.

    Slopes are per unit of ``tau``; ``slope_gain`` is the change of slope at the bend with its variance.
    ``coefficients`` (g, p) go with the columns of `design`. A candidate that was not fitted has infinite
    chi-square and NaN elsewhere.
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


def design(shape: Shape, tau: Floats, at: Floats) -> Floats:
    """Build the design matrices of the bent curve for each candidate instant.

    Parameters
    ----------
    shape : Shape
    tau : ndarray (n,)
        Window coordinate of the samples.
    at : ndarray (g,)
        Candidate instants, window coordinate.

    Returns
    -------
    ndarray (g, n, p)
        Columns: value at the bend, slope of the side before (running through), then the shape's own columns:
        powers 2.. of the side before, powers 1.. of the change after the bend, leak, step. All are
        centred at the bend, so that the first coefficient is the value of the side before at the bend.
    """
    shifted = tau[None, :] - at[:, None]
    terms = [column.values(shifted) for column in shape.columns]
    return np.stack([np.ones_like(shifted), shifted, *terms], axis=2)


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
    matrix = design(fitted.shape, window.tau, np.array([at]))[0]
    return (window.value - matrix @ fitted.coefficients[index]) / window.sigma
