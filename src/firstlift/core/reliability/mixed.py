"""A mixed model by restricted maximum likelihood: one line for all, and each unit's own deviation from it.

y = x b + z u + e, with u of each unit drawn with covariance G and e with variance s^2. Every unit enters by a few
sums only, so a fleet costs little more than a valve.

References
----------
.. [1] J. C. Pinheiro and D. M. Bates, Mixed-Effects Models in S and S-PLUS, 2000, chapter 2.
.. [2] D. Bates et al., J. Stat. Softw. 67 (2015) 1, section 3: the profiled REML criterion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats


@dataclass(frozen=True, slots=True, eq=False)
class MixedFit:
    """A fitted mixed model.

    ``line`` (p,) with ``line_covariance`` (p, p); ``between`` (q, q) is the covariance of the units' deviations,
    ``residual`` the standard deviation of what is left; ``deviations`` (units, q) are the units' predicted ones with
    ``deviation_covariance`` (units, q, q), the line taken as known. ``criterion`` is -2 log restricted likelihood.
    """

    line: Floats
    line_covariance: Floats
    between: Floats
    residual: float
    deviations: Floats
    deviation_covariance: Floats
    criterion: float


class _Sums:
    """What the likelihood needs of the data, unit by unit, with the products that do not change laid out beforehand."""

    def __init__(self, y: Floats, x: Floats, z: Floats, unit: NDArray[np.intp]) -> None:
        units, self.width = int(unit.max()) + 1, z.shape[1]
        all_ = np.column_stack([x, y])

        def gather(products: Floats) -> Floats:
            out = np.zeros((units, products.shape[1]))
            np.add.at(out, unit, products)
            return out

        # one column more than there is, of zeros, where units deviate in one way only: then one rule serves both
        own = z if self.width == 2 else np.column_stack([z, np.zeros(y.size)])
        first, second = own[:, :1], own[:, 1:]
        self.zz = gather(np.column_stack([first * first, first * second, second * second]))
        self.with_first, self.with_second = gather(first * all_), gather(second * all_)
        self.whole = all_.T @ all_
        pairs = [(self.with_first, self.with_first), (self.with_first, self.with_second)]
        pairs += [(self.with_second, self.with_first), (self.with_second, self.with_second)]
        crossed = [(one[:, :, None] * two[:, None, :]).reshape(units, -1) for one, two in pairs]
        self.crossed = (crossed[0], crossed[1] + crossed[2], crossed[3])
        self.free = y.size - x.shape[1]

    def shrink(self, root: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Give (I + G zz)^-1 G of every unit, G = root root', as its three entries, and the determinant."""
        spread = np.zeros((2, 2))
        spread[: self.width, : self.width] = root @ root.T
        g, h, k = spread[0, 0], spread[0, 1], spread[1, 1]
        a, b, d = self.zz.T
        m11, m12 = 1.0 + g * a + h * b, g * b + h * d
        m21, m22 = h * a + k * b, 1.0 + h * b + k * d
        size = m11 * m22 - m12 * m21
        return (m22 * g - m12 * h) / size, (m22 * h - m12 * k) / size, (m11 * k - m21 * h) / size, size

    def solve(self, root: Floats) -> tuple[float, Floats, Floats, float]:
        """Give criterion, line, its unscaled covariance and the residual variance."""
        s1, s2, s3, size = self.shrink(root)
        taken = s1 @ self.crossed[0] + s2 @ self.crossed[1] + s3 @ self.crossed[2]
        left = self.whole - taken.reshape(self.whole.shape)
        xx, xy, yy = left[:-1, :-1], left[:-1, -1], float(left[-1, -1])
        line: Floats = np.asarray(np.linalg.solve(xx, xy), dtype=np.float64)
        variance = max(yy - float(line @ xy), 1e-300) / self.free
        spread = float(np.log(size).sum() + np.linalg.slogdet(xx)[1])
        criterion = self.free * (1.0 + np.log(2.0 * np.pi * variance)) + spread
        return float(criterion), line, np.asarray(np.linalg.inv(xx), dtype=np.float64), variance

    def deviations(self, root: Floats, line: Floats) -> tuple[Floats, Floats]:
        """Give each unit's predicted deviation, and its unscaled covariance."""
        s1, s2, s3, _ = self.shrink(root)
        first = self.with_first[:, -1] - self.with_first[:, :-1] @ line
        second = self.with_second[:, -1] - self.with_second[:, :-1] @ line
        predicted = np.column_stack([s1 * first + s2 * second, s2 * first + s3 * second])
        spread = np.stack([np.column_stack([s1, s2]), np.column_stack([s2, s3])], axis=1)
        return predicted[:, : self.width], spread[:, : self.width, : self.width]


def fit_mixed(y: Floats, x: Floats, z: Floats, unit: NDArray[np.intp]) -> MixedFit:
    """Fit a mixed model by restricted maximum likelihood.

    Parameters
    ----------
    y : ndarray (n,)
    x : ndarray (n, p)
        Columns of the common line.
    z : ndarray (n, q)
        Columns of the units' deviations; q is 1 or 2.
    unit : ndarray (n,), int
        Which unit each belongs to, from 0.

    Returns
    -------
    MixedFit

    Raises
    ------
    FirstliftError
        REL-010 fewer values than the model has parameters, or columns that say the same.
    """
    width = z.shape[1]
    units = np.unique(unit).size
    told = y.size > x.shape[1] + 1 and units > 1 and np.linalg.matrix_rank(x) == x.shape[1]
    if not told:
        what = f"{y.size} values of {units} units cannot tell a line with spread"
        raise FirstliftError(Problem("REL-010", what, needed="two units or more, more values than parameters"))
    # columns of different sizes would make one search step too long and another too short
    size = np.sqrt(np.mean(z * z, axis=0))
    size[size == 0.0] = 1.0
    sums = _Sums(y, x, z / size, unit)
    best = _search(sums, width)
    root = _root(best, width)
    criterion, line, line_spread, variance = sums.solve(root)
    predicted, own = sums.deviations(root, line)
    scale = np.outer(1.0 / size, 1.0 / size)
    return MixedFit(
        line=line,
        line_covariance=variance * line_spread,
        between=variance * (root @ root.T) * scale,
        residual=float(np.sqrt(variance)),
        deviations=predicted / size,
        deviation_covariance=variance * own * scale,
        criterion=criterion,
    )


def _root(values: Floats, width: int) -> Floats:
    root = np.zeros((width, width))
    root[np.tril_indices(width)] = values
    return root


def _search(sums: _Sums, width: int) -> Floats:
    """Find the root of the relative covariance with the least criterion, from several beginnings."""
    rows, columns = np.tril_indices(width)
    diagonal = rows == columns
    bounds = [(0.0, 1e4) if on else (-1e4, 1e4) for on in diagonal]

    def criterion(values: Floats) -> float:
        return sums.solve(_root(np.where(diagonal, np.abs(values), values), width))[0]

    found = [
        minimize(criterion, np.where(diagonal, begin, 0.0), method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-12})
        for begin in (1.0, 0.1)
    ]
    best = np.asarray(min(found, key=lambda answer: float(answer.fun)).x, dtype=np.float64)
    # slopes by differences leave the last digits open: the simplex closes in without any
    steps = np.maximum(0.02 * np.abs(best), 1e-3)
    size = abs(criterion(best))
    corners = np.vstack([best, best + np.diag(steps)])
    polished = minimize(
        criterion,
        best,
        method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-12 * (1.0 + size), "maxiter": 600, "initial_simplex": corners},
    )
    found_at = np.asarray(polished.x, dtype=np.float64)
    return np.where(diagonal, np.abs(found_at), found_at)
