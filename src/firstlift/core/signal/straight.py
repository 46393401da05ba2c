"""The least-squares straight line, in closed form."""

from __future__ import annotations

from firstlift.core.recording import Floats


def fit_straight(x: Floats, y: Floats) -> tuple[float, float]:
    """Fit ``y = slope * x + intercept`` by least squares.

    Parameters
    ----------
    x, y : ndarray (n,)
        At least one point; any units.

    Returns
    -------
    slope : float, unit of y over unit of x
        0 where x does not vary.
    intercept : float, unit of y
    """
    middle, level = float(x.mean()), float(y.mean())
    away = x - middle
    spread = float(away @ away)
    slope = float(away @ (y - level)) / spread if spread > 0.0 else 0.0
    return slope, level - slope * middle
