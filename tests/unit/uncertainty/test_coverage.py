import math

import numpy as np
import pytest
from scipy import integrate, stats

from firstlift.core.errors import FirstliftError
from firstlift.core.uncertainty.coverage import Spread, effective_degrees_of_freedom, student_factor


@pytest.mark.parametrize("dof", [1.0, 2.5, 16.75, 400.0])
@pytest.mark.parametrize("probability", [0.5, 0.95, 0.9973])
def test_without_rectangles_the_factor_is_students(dof, probability):
    expected = stats.t.ppf(0.5 + probability / 2, dof)
    assert Spread(3.0, dof).expanded(probability) == pytest.approx(3.0 * expected, rel=1e-9)


def test_one_rectangle_alone():
    # 95 % of a rectangle of half-width 2 lies within 1.9: k = 0.95 sqrt(3) = 1.645.
    spread = Spread(0.0, half_widths=(2.0,))
    assert spread.expanded(0.95) == pytest.approx(1.9, rel=1e-12)
    assert spread.expanded(0.95) / spread.standard_uncertainty == pytest.approx(0.95 * math.sqrt(3.0), rel=1e-12)


def test_triangle_alone():
    # Two rectangles of half-width 1: the tail beyond x is (2 - x)^2 / 8 on each side.
    assert Spread(0.0, half_widths=(1.0, 1.0)).expanded(0.95) == pytest.approx(2.0 - math.sqrt(0.2), rel=1e-11)


@pytest.mark.parametrize("scale", [1e-6, 0.01, 0.3, 1.0, 20.0])
@pytest.mark.parametrize("z", [-1.7, -0.2, 0.0, 0.9, 1.0, 2.5])
def test_normal_and_rectangle_against_the_closed_form(scale, z):
    # P = scale / (2 a) * (G(up) - G(down)), G(t) = t Phi(t) + phi(t)
    def antiderivative(t):
        return t * stats.norm.cdf(t) + stats.norm.pdf(t)

    a = 1.0
    expected = scale / (2 * a) * (antiderivative((z + a) / scale) - antiderivative((z - a) / scale))
    if scale == 20.0:
        # There the rectangle has less than a thousandth of the variance and joins the normal part.
        assert Spread(scale, half_widths=(a,)).probability_below(z) == pytest.approx(expected, abs=1e-6)
    else:
        assert Spread(scale, half_widths=(a,)).probability_below(z) == pytest.approx(expected, abs=1e-11)


@pytest.mark.parametrize("dof", [1.0, 3.0, 12.5])
@pytest.mark.parametrize("half_widths", [(1.0,), (1.0, 0.4)])
def test_student_and_rectangles_against_nested_integration(dof, half_widths):
    def below(z, left):
        if not left:
            return stats.t.cdf(z / 0.5, dof)
        a = left[0]
        return integrate.quad(lambda r: below(z - r, left[1:]) / (2 * a), -a, a, epsabs=1e-9, epsrel=1e-9)[0]

    assert Spread(0.5, dof, half_widths).probability_below(0.8) == pytest.approx(below(0.8, half_widths), abs=1e-8)


def test_three_rectangles_and_a_normal_against_sampling():
    rng = np.random.default_rng(3)
    drawn = 0.5 * rng.standard_normal(400_000)
    for half in (2.0, 1.0, 0.5):
        drawn = drawn + rng.uniform(-half, half, drawn.size)
    spread = Spread(0.5, half_widths=(2.0, 1.0, 0.5))
    for z in (-2.0, 0.3, 1.5):
        assert spread.probability_below(z) == pytest.approx(float(np.mean(drawn <= z)), abs=0.003)


def test_many_rectangles_tend_to_normal():
    spread = Spread(0.0, half_widths=(1.0,) * 12)
    assert spread.expanded(0.95) / spread.standard_uncertainty == pytest.approx(1.96, abs=0.01)


def test_expanded_holds_its_probability_about_a_shift():
    spread = Spread(0.4, 5.0, (1.0, 0.3)).widened(0.8)
    u = spread.expanded(0.9)
    assert spread.probability_below(spread.shift + u) - spread.probability_below(spread.shift - u) == pytest.approx(0.9)


def test_unknown_distance_moves_up_only():
    spread = Spread(0.0).widened(4.0)
    assert spread.probability_below(0.0) == pytest.approx(0.0, abs=1e-12)
    assert spread.probability_below(1.0) == pytest.approx(0.25, abs=1e-12)
    assert spread.probability_below(4.0) == 1.0
    assert Spread(1.0).widened(0.0) == Spread(1.0)


def test_unknown_distance_downward_mirrors_the_one_upward():
    up, down = Spread(0.4, 5.0).widened(4.0), Spread(0.4, 5.0).widened(-4.0)
    for z in (-4.5, -2.0, 0.0, 0.3):
        assert down.probability_below(z) == pytest.approx(1.0 - up.probability_below(-z), abs=1e-12)


def test_known_value():
    assert Spread(0.0).expanded(0.95) == 0.0
    assert [Spread(0.0).probability_below(z) for z in (-1e-9, 0.0, 1e-9)] == [0.0, 1.0, 1.0]


def test_welch_satterthwaite():
    assert effective_degrees_of_freedom([(1.0, 4.0), (1.0, 4.0)]) == pytest.approx(8.0)
    assert effective_degrees_of_freedom([(1e-200, 4.0), (0.0, 1.0)]) == pytest.approx(4.0)
    assert math.isinf(effective_degrees_of_freedom([(1.0, math.inf)]))
    assert math.isinf(effective_degrees_of_freedom([]))


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1, math.nan])
def test_probability_is_checked(probability):
    with pytest.raises(FirstliftError, match="UNC-001"):
        Spread(1.0, half_widths=(1.0,)).expanded(probability)


def test_degrees_of_freedom_are_checked():
    with pytest.raises(FirstliftError, match="UNC-002"):
        student_factor(0.95, 0.0)
