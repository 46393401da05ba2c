"""The curve of an instrument whose calibration is a table."""

from __future__ import annotations

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import Calibration, Instrument
from firstlift.core.uncertainty.calibration import fit_calibration
from firstlift.core.units import parse_quantity
from firstlift.formats.sheet_channels import KIND_OF


def curve_of(instrument: Instrument, calibration: Calibration) -> list[float]:
    """Draw the simplest polynomial through a table that misses no point by more than the stated uncertainty.

    Up to the third degree, as ISO 376 (2011; from memory) allows force instruments, and with a point to spare: a curve
    through every point is held by none.

    Parameters
    ----------
    instrument : Instrument
    calibration : Calibration

    Returns
    -------
    list of float
        Lowest power first; empty where there is no table.

    Raises
    ------
    FirstliftError
        REG-022 the table is none, or no such polynomial fits it.
    """
    table = calibration.table
    if not table:
        return []
    where = f"certificate {calibration.certificate_number}"
    raw = sorted({point[0] for point in table})
    if any(len(point) != 2 for point in table) or len(raw) < 2:
        raise FirstliftError(
            Problem(
                "REG-022", f"the calibration's table of {len(table)} points is none", where, "pairs of raw and value"
            )
        )
    x, y = np.array(table, dtype=np.float64).T
    kind = KIND_OF[instrument.measures]
    scale = parse_quantity(f"1 {calibration.unit}", kind).si - parse_quantity(f"0 {calibration.unit}", kind).si
    relative, absolute = calibration.relative_standard_uncertainty or 0.0, calibration.standard_uncertainty_si or 0.0
    # near no load a share of the reading says nothing: a tenth of the largest counts (common practice, no source)
    allowed = np.hypot(relative * np.maximum(np.abs(y), 0.1 * float(np.abs(y).max())), absolute / scale)
    missed = float("inf")
    for degree in range(1, max(2, min(4, len(raw) - 1))):
        line = fit_calibration(x, y, degree) if len(raw) > 2 else None
        curve = np.polynomial.polynomial.polyfit(x, y, 1) if line is None else line.coefficients
        off = np.abs(np.polynomial.polynomial.polyval(x, curve) - y)
        if line is None or bool((off <= allowed).all()):
            return [float(c) for c in curve]
        missed = min(missed, float(off.max()))
    raise FirstliftError(
        Problem(
            "REG-022",
            f"no smooth curve fits the calibration's table of {len(table)} points: one is missed by {missed:.3g} "
            f"{calibration.unit}",
            where,
            f"misses within the stated standard uncertainty, {float(allowed.max()):.3g} {calibration.unit} at the most",
            "Look for a wrong point, or add the polynomial with its uncertainty, superseding this calibration",
        )
    )
