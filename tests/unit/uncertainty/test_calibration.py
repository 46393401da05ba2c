import math
from pathlib import Path

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.uncertainty.calibration import fit_calibration, lack_of_fit

NIST = Path(__file__).parents[2] / "data" / "nist"


def load_cell():
    table = np.loadtxt(NIST / "PONTIUS.DAT", skiprows=25)
    return table[:, 1], table[:, 0]


def test_load_from_a_reading_and_back():
    load, deflection = load_cell()
    line = fit_calibration(load, deflection, 2)
    reading, _ = line.predict(1_234_567.0)
    found, u = line.invert(reading, line.residual_deviation)
    slope = line.coefficients[1] + 2.0 * line.coefficients[2] * 1_234_567.0
    assert found == pytest.approx(1_234_567.0, rel=1e-9)
    assert u == pytest.approx(math.hypot(line.residual_deviation, line.predict(found)[1]) / slope, rel=1e-9)


def test_uncertainty_of_the_line_is_least_in_the_middle():
    line = fit_calibration([0.0, 1.0, 2.0, 3.0], [0.1, 0.9, 2.1, 2.9])
    assert line.predict(1.5)[1] < line.predict(0.0)[1] < line.predict(-3.0)[1]


def test_arrays_cannot_be_changed():
    line = fit_calibration([0.0, 1.0, 2.0], [0.0, 1.0, 2.5])
    with pytest.raises(ValueError, match="read-only"):
        line.coefficients[0] = 1.0


@pytest.mark.parametrize(
    ("x", "y", "degree"),
    [
        ([1.0, 2.0, 3.0], [1.0, 2.0], 1),
        ([1.0, 2.0], [1.0, 2.0], 1),
        ([1.0, 1.0, 1.0], [1.0, 2.0, 3.0], 1),
        ([1.0, 2.0, math.nan], [1.0, 2.0, 3.0], 1),
    ],
)
def test_readings_that_carry_no_line(x, y, degree):
    with pytest.raises(FirstliftError, match="UNC-009"):
        fit_calibration(x, y, degree)


def test_lack_of_fit_needs_repeats():
    x, y = [0.0, 1.0, 2.0], [0.0, 1.0, 2.5]
    with pytest.raises(FirstliftError, match="UNC-010"):
        lack_of_fit(x, y, fit_calibration(x, y))


def test_reading_outside_the_calibrated_range():
    load, deflection = load_cell()
    line = fit_calibration(load, deflection, 2)
    with pytest.raises(FirstliftError, match="UNC-012"):
        line.invert(5.0)
