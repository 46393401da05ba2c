"""The fitted line of a seat area as a curve with its band: the pull that a line pressure would need."""

from __future__ import annotations

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.seat.fit import AreaFit
from firstlift.core.uncertainty.coverage import student_factor


def pull_along(fit: AreaFit, pressure_pa: Floats, probability: float = 0.95) -> tuple[Floats, Floats]:
    """Give the pull along a fitted line, with what it may be off.

    Parameters
    ----------
    fit : AreaFit
    pressure_pa : ndarray (n,), [Pa]
        Line pressure where a line was fitted to pulls; bench less line pressure where the fit is of pairs.
    probability : float

    Returns
    -------
    pull, half_width : ndarray (n,), [N]
        ``F = A (p_s - p_l)``, or ``F = A p`` of pairs; the half width holds the instruments' common errors too.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2.2: variance of a function of correlated inputs.
    """
    area, u_area = fit.area_m2, fit.u_area_m2
    factor = student_factor(probability, fit.degrees_of_freedom)
    if fit.set_pressure_pa is None or fit.u_set_pressure_pa is None or fit.covariance_m2_pa is None:
        return area * pressure_pa, factor * u_area * np.abs(pressure_pa)
    head = fit.set_pressure_pa - pressure_pa
    variance = (head * u_area) ** 2 + (area * fit.u_set_pressure_pa) ** 2 + 2.0 * head * area * fit.covariance_m2_pa
    return area * head, factor * np.sqrt(np.maximum(variance, 0.0))
