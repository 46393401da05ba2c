"""The fast fit of bent curves against plain least squares on the design matrix."""

import numpy as np
import pytest

from firstlift.core.lift.bend import GROWTH_LIMIT, Shape, Window, design, residuals, side_by_side
from firstlift.core.lift.choose import MOTION_SHAPES, SOUND_SHAPES
from firstlift.core.lift.curves import fit_curves, profile

SHAPES = tuple(dict.fromkeys(MOTION_SHAPES + SOUND_SHAPES))
MORE_SHAPES = (
    Shape(2, 2, step=True),
    Shape(2, 2, leak=0.1),
    Shape(2, 1, grow=0.2),
    Shape(1, 1, leak=0.2, grow=0.1),
)


def random_window(rng, count):
    """A window with uneven steps, uneven noise, a large offset and a bend somewhere."""
    tau = np.sort(np.linspace(-1, 1, count) + rng.uniform(-0.2, 0.2, count) / count)
    sigma = rng.uniform(0.5, 2.0, count)
    value = 3e3 + 200 * tau + rng.normal(0, 100) * np.maximum(tau - rng.uniform(-0.5, 0.5), 0)
    return Window(5.0, 0.3, tau, value + rng.normal(0, 1, count) * sigma, sigma)


def plain(window, shape, at):
    """Weighted least squares on the design matrix by orthogonal factors: chi-square, coefficients, covariance."""
    matrix = design(shape, window.tau, np.array([at]))[0] / window.sigma[:, None]
    size = np.linalg.norm(matrix, axis=0)
    q, r = np.linalg.qr(matrix / size)
    inverse = np.linalg.inv(r) / size[:, None]
    target = window.value / window.sigma
    coefficients = inverse @ (q.T @ target)
    rest = target - matrix @ coefficients
    return rest @ rest, coefficients, inverse @ inverse.T


@pytest.mark.parametrize("shape", SHAPES + MORE_SHAPES, ids=str)
@pytest.mark.parametrize("count", [40, 160, 311])
def test_agrees_with_plain_least_squares(shape, count):
    rng = np.random.default_rng(count)
    window = random_window(rng, count)
    edge = 8 if shape in MORE_SHAPES else 3 if shape.grow is not None else 6
    low, high = window.tau[edge], window.tau[-edge - 1]
    if shape.grow is not None:
        low = max(low, window.tau[-1] - GROWTH_LIMIT * shape.grow)
    assert low < high
    at = np.sort(rng.uniform(low, high, 25))
    fast = profile(window, shape, at)
    for i, instant in enumerate(at):
        chi2, coefficients, covariance = plain(window, shape, instant)
        u = np.sqrt(np.diag(covariance))
        gain = 1 + shape.before
        assert fast.chi2[i] == pytest.approx(chi2, rel=1e-6)
        # a coefficient counts in units of its own uncertainty
        assert np.abs(fast.coefficients[i] - coefficients).max() <= 1e-5 * np.abs(coefficients).max()
        assert (np.abs(fast.coefficients[i] - coefficients) / u).max() < 1e-4
        assert fast.value[i] == pytest.approx(coefficients[0], rel=1e-9)
        assert fast.variance[i] == pytest.approx(covariance[0, 0], rel=1e-6)
        assert fast.slope_before[i] == fast.coefficients[i, 1]
        assert fast.slope_gain[i] == fast.coefficients[i, gain]
        assert fast.gain_variance[i] == pytest.approx(covariance[gain, gain], rel=1e-5)


def test_chi_square_is_never_negative_even_without_noise():
    tau = np.linspace(-1, 1, 100)
    window = Window(0.0, 1.0, tau, 1e6 + 3e5 * tau + 2e5 * np.maximum(tau - 0.1, 0), np.full(100, 1e-3))
    chi2 = profile(window, Shape(2, 2, step=True), np.linspace(-0.8, 0.8, 41)).chi2
    assert (chi2 >= 0).all()


def test_windows_of_different_length_do_not_touch_each_other():
    rng = np.random.default_rng(3)
    windows = tuple(random_window(rng, count) for count in (30, 160, 77))
    at = np.stack([np.linspace(-0.5 + shift, 0.4 + shift, 21) for shift in (0.0, 0.05, -0.1)])
    shapes = (Shape(1, 1), Shape(2, 1), Shape(1, 2), Shape(1, 1, leak=0.12), Shape(2, 2))
    curves = fit_curves(side_by_side(windows), shapes, at, np.ones(at.shape, dtype=bool))
    for s, shape in enumerate(curves.shapes):
        for w, window in enumerate(windows):
            alone, together = profile(window, shape, at[w]), curves.profile(s, w)
            assert together.samples == window.tau.size
            np.testing.assert_allclose(together.chi2, alone.chi2, rtol=1e-9)
            np.testing.assert_allclose(together.coefficients, alone.coefficients, rtol=1e-7, atol=1e-7)


def test_leftovers_are_the_residuals_of_the_design():
    rng = np.random.default_rng(4)
    windows = tuple(random_window(rng, count) for count in (50, 90))
    at = np.tile(np.linspace(-0.5, 0.5, 11), (2, 1))
    shapes = (Shape(1, 2), Shape(2, 1), Shape(1, 1, grow=0.3), Shape(1, 1, leak=0.2))
    curves = fit_curves(side_by_side(windows), (*SHAPES, *shapes), at, np.ones(at.shape, dtype=bool))
    best = np.nanargmin(curves.chi2, axis=2)
    shape, window = np.nonzero(np.isfinite(curves.chi2).any(axis=2))
    rest = curves.leftovers(shape, window, best[shape, window])
    for s, w, leftover in zip(shape, window, rest, strict=True):
        i, size = int(best[s, w]), windows[w].tau.size
        plainly = residuals(windows[w], curves.profile(s, w), i, at[w, i])
        np.testing.assert_allclose(leftover[:size], plainly, atol=1e-6)
        assert not leftover[size:].any()
        assert plainly @ plainly == pytest.approx(curves.chi2[s, w, i], rel=1e-6)


def test_candidates_not_asked_for_are_infinite_and_have_no_value():
    window = random_window(np.random.default_rng(5), 80)
    at = np.linspace(-1.5, 1.5, 31)[None, :]
    inside = np.abs(at) < 0.8
    curves = fit_curves(side_by_side((window,)), (Shape(1, 1),), at, inside)
    fitted = curves.profile(0, 0)
    assert np.isinf(fitted.chi2[~inside[0]]).all()
    assert np.isnan(fitted.value[~inside[0]]).all()
    assert np.isfinite(fitted.chi2[inside[0]]).all()
    assert np.isfinite(fitted.coefficients[inside[0]]).all()


def test_growth_seen_only_in_the_last_blocks_is_left_out():
    window = random_window(np.random.default_rng(6), 120)
    at = np.linspace(-0.5, 0.8, 14)
    chi2 = profile(window, Shape(1, 1, grow=0.03), at).chi2
    assert np.array_equal(np.isinf(chi2), window.tau[-1] - at > GROWTH_LIMIT * 0.03)
