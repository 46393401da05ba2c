import math

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.uncertainty.budget import Input
from firstlift.core.uncertainty.montecarlo import sample


def line(u, form="normal", dof=math.inf, value=0.0):
    return Input("x", value, "1", u, form, dof)


def draw(function, inputs, **more):
    return sample(function, inputs, generator=np.random.default_rng(11), trials=100_000, **more)


def test_same_generator_same_digits():
    first, second = (draw(lambda x: x, [line(1.0)]) for _ in range(2))
    assert first == second


def test_correlated_inputs_add_straight():
    both = [line(3.0), line(4.0)]
    assert draw(lambda a, b: a + b, both, correlations={(0, 1): 1.0}).standard_uncertainty == pytest.approx(7, rel=0.02)
    assert draw(lambda a, b: a - b, both, correlations={(0, 1): 1.0}).standard_uncertainty == pytest.approx(1, rel=0.02)
    assert draw(lambda a, b: a + b, both).standard_uncertainty == pytest.approx(5, rel=0.02)


@pytest.mark.parametrize("form", ["normal", "rectangular", "triangular", "one-sided"])
def test_each_form_has_its_standard_deviation(form):
    assert draw(lambda x: x, [line(2.0, form)]).standard_uncertainty == pytest.approx(2.0, rel=0.01)


def test_one_sided_reaches_up_from_its_value():
    drawn = draw(lambda x: x, [line(1.0, "one-sided", value=5.0)])
    assert drawn.value == pytest.approx(5.0 + 0.5 * math.sqrt(12.0), rel=0.01)
    assert drawn.symmetric[0] > 5.0


def test_few_degrees_of_freedom_reach_further():
    drawn = draw(lambda x: x, [line(1.0, dof=4.0)])
    assert drawn.symmetric == pytest.approx((-2.776, 2.776), rel=0.03)


def test_shortest_interval_of_a_lopsided_result():
    # Of an exponential the shortest 95 % starts at 0 and ends at ln 20; the symmetric one leaves 2.5 % below.
    drawn = draw(lambda x: -np.log1p(-x), [line(1.0 / math.sqrt(12.0), "one-sided")])
    assert drawn.shortest == pytest.approx((0.0, math.log(20.0)), abs=0.05)
    assert drawn.symmetric == pytest.approx((-math.log(0.975), math.log(40.0)), abs=0.06)


@pytest.mark.parametrize(
    ("code", "more"),
    [
        ("UNC-001", {"probability": 1.0}),
        ("UNC-003", {"correlations": {(0, 1): 0.5}}),
        ("UNC-011", {"trials": 100}),
    ],
)
def test_what_cannot_be_sampled(code, more):
    arguments = {"generator": np.random.default_rng(1), "trials": 10_000} | more
    with pytest.raises(FirstliftError, match=code):
        sample(lambda a, b: a + b, [line(1.0), line(1.0, "rectangular")], **arguments)


def test_unknown_form_and_formula_without_a_value():
    with pytest.raises(FirstliftError, match="UNC-004"):
        draw(lambda x: x, [line(1.0, "flat")])
    with pytest.raises(FirstliftError, match="UNC-007"):
        draw(lambda x: np.where(x > 0.0, np.nan, x), [line(1.0)])
