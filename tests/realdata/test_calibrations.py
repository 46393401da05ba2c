"""Calibration lines of real force and pressure standards (NIST, public domain). See tests/data/README.md."""

import pytest

from firstlift.core.uncertainty.calibration import fit_calibration, lack_of_fit

# ordinary least squares by R 4.2 (lm): a, b, their standard errors, standard deviation of the residuals
EHRLICH = {
    1: (18, 8.40275490556, -2.28060892248e-05, 2.34385184436e-05, 1.2915851334e-07, 3.42859340554e-05),
    2: (51, 8.40300756193552, -2.3689342725e-05, 1.77577951081e-05, 2.16050429035e-07, 6.7475421896e-05),
}


@pytest.mark.parametrize("gauge", EHRLICH)
def test_piston_gauge(columns, gauge):
    """C. Ehrlich: effective area of two piston gauges against pressure."""
    area, pressure, which = columns("nist/EHRLICH.DAT")
    count, *expected = EHRLICH[gauge]
    line = fit_calibration(pressure[which == gauge], area[which == gauge])
    assert line.degrees_of_freedom == count - 2
    found = [*line.coefficients, *line.standard_uncertainties, line.residual_deviation]
    assert found == pytest.approx(expected, rel=1e-9)


def test_straight_line_through_a_bent_load_cell_is_rejected(columns):
    """P. Pontius: deflection against load; NIST certifies a quadratic."""
    deflection, load = columns("nist/PONTIUS.DAT")
    straight, bent = fit_calibration(load, deflection), fit_calibration(load, deflection, degree=2)
    assert lack_of_fit(load, deflection, straight) < 1e-6
    assert lack_of_fit(load, deflection, bent) > 0.05
