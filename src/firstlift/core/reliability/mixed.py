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
    """What the likelihood needs of the data, unit by unit."""

    def __init__(self, y: Floats, x: Floats, z: Floats, unit: NDArray[np.intp]) -> None:
        units = int(unit.max()) + 1

        def gather(products: Floats) -> Floats:
            out = np.zeros((units, *products.shape[1:]))
            np.add.at(out, unit, products)
            return out

        self.zz = gather(z[:, :, None] * z[:, None, :])
        self.zx = gather(z[:, :, None] * x[:, None, :])
        self.zy = gather(z * y[:, None])
        self.xx, self.xy, self.yy = x.T @ x, x.T @ y, float(y @ y)
        self.free = y.size - x.shape[1]
        self.width = z.shape[1]

    def solve(self, root: Floats) -> tuple[float, Floats, Floats, float, Floats]:
        """Give criterion, line, its unscaled covariance, residual variance and root (I + root' zz root)^-1 root'."""
        inner = np.eye(self.width) + root.T @ self.zz @ root
        turned, size = _invert(inner)
        shrink = root @ turned @ root.T
        pulled_x, pulled_y = shrink @ self.zx, (shrink @ self.zy[:, :, None])[:, :, 0]
        both = ([0, 1], [0, 1])
        xx = self.xx - np.tensordot(self.zx, pulled_x, both)
        xy = self.xy - np.tensordot(self.zx, pulled_y, both)
        yy = self.yy - float(np.sum(self.zy * pulled_y))
        line: Floats = np.asarray(np.linalg.solve(xx, xy), dtype=np.float64)
        variance = max(yy - float(line @ xy), 1e-300) / self.free
        spread = float(np.log(size).sum() + np.linalg.slogdet(xx)[1])
        criterion = self.free * (1.0 + np.log(2.0 * np.pi * variance)) + spread
        return float(criterion), line, np.asarray(np.linalg.inv(xx), dtype=np.float64), variance, shrink


def _invert(inner: Floats) -> tuple[Floats, Floats]:
    """Give inverse and determinant of many small symmetric matrices, written out: one and two columns are all."""
    if inner.shape[1] == 1:
        return 1.0 / inner, inner[:, 0, 0]
    a, b, d = inner[:, 0, 0], inner[:, 0, 1], inner[:, 1, 1]
    size = a * d - b * b
    turned = np.empty_like(inner)
    turned[:, 0, 0], turned[:, 1, 1] = d / size, a / size
    turned[:, 0, 1] = turned[:, 1, 0] = -b / size
    return turned, size


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
    criterion, line, line_spread, variance, shrink = sums.solve(root)
    left = sums.zy - np.einsum("uij,j->ui", sums.zx, line)
    scale = np.outer(1.0 / size, 1.0 / size)
    return MixedFit(
        line=line,
        line_covariance=variance * line_spread,
        between=variance * (root @ root.T) * scale,
        residual=float(np.sqrt(variance)),
        deviations=np.einsum("uij,uj->ui", shrink, left) / size,
        deviation_covariance=variance * shrink * scale,
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
    corners = np.vstack([best, best + np.diag(steps)])
    polished = minimize(
        criterion,
        best,
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10, "maxiter": 2000, "initial_simplex": corners},
    )
    found_at = np.asarray(polished.x, dtype=np.float64)
    return np.where(diagonal, np.abs(found_at), found_at)
