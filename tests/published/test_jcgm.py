"""Worked examples of the guides to uncertainty, and calibration fits with certified values."""

import functools
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, stats

from firstlift.core.job import Decision
from firstlift.core.result import VerdictOutcome
from firstlift.core.tolerance.judge import judge, probability_within
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.core.uncertainty.calibration import fit_calibration, lack_of_fit
from firstlift.core.uncertainty.coverage import Spread, student_factor
from firstlift.core.uncertainty.montecarlo import sample
from firstlift.core.uncertainty.propagate import correlation_between, propagate
from firstlift.core.uncertainty.pulls import mean_over_pulls
from firstlift.core.valve import Definition, Seat

SOURCES = ("jcgm-100.toml", "jcgm-101.toml", "jcgm-106.toml", "ilac-g8.toml", "nist-tn-1900.toml", "nist-strd.toml")
NIST = Path(__file__).parents[1] / "data" / "nist"


def between(lower, upper):
    """Limits of nothing in particular, for examples that are not pressures."""
    return Limits(0, 0, "Pa", lower, upper, 1.0, "", "", "", "", "", "", Definition.FIRST_LIFT, "", 0.0)  # type: ignore[arg-type]


def line(u, form="normal", dof=math.inf, sensitivity=1.0, value=0.0):
    return Input("x", value, "1", u, form, dof, sensitivity, "pull")


def mean_of_readings(given):
    mean = mean_over_pulls(given["t_C"], [0.0] * 20, 0.0)
    return [mean.mean_pa, mean.repeatability_pa, mean.standard_uncertainty_pa]


def half_width(given):
    a = given["a"]
    seat = Seat(1.0, 0.0, a, "", "")
    # The triangle's u is found by asking for the line whose convolved reach is exactly a on either side.
    triangle = make_budget([line(a / math.sqrt(6.0), "triangular")])
    assert sum(triangle.spread.half_widths) == pytest.approx(a, rel=1e-15)
    assert triangle.spread.probability_below(a) == pytest.approx(1.0, abs=1e-12)
    return [seat.standard_uncertainty_m2, triangle.spread.standard_uncertainty]


def three_relative(given):
    inputs = [line(u, dof=n - 1.0) for u, n in zip(given["u_pct"], given["n"], strict=True)]
    budget = make_budget(inputs)
    return [budget.standard_uncertainty_pa, budget.degrees_of_freedom, budget.expanded_uncertainty_pa]


def end_gauge(given, *, second_order=False):
    def length(x):
        ls, d, d1, d2, alpha, d_alpha, theta, d_theta = x
        return ls + d + d1 + d2 - ls * (d_alpha * theta + alpha * d_theta)

    third = math.sqrt(3.0)
    mean, u_mean, arcsine = given["theta"]
    values = [given["ls_nm"][0], given["d_nm"][0], 0.0, 0.0, given["alpha_s"][0], 0.0, mean, 0.0]
    uncertainties = [
        given["ls_nm"][1],
        given["d_nm"][1],
        given["d1"][0],
        given["d2"][0],
        given["alpha_s"][1] / third,
        given["d_alpha_halfwidth"][0] / third,
        math.hypot(u_mean, arcsine / math.sqrt(2.0)),
        given["d_theta_halfwidth"][0] / third,
    ]
    dof = [given["ls_nm"][2], given["d_nm"][2], given["d1"][1], given["d2"][1], math.inf]
    dof += [given["d_alpha_halfwidth"][1], math.inf, given["d_theta_halfwidth"][1]]
    return propagate(length, values, uncertainties, degrees_of_freedom=dof, second_order=second_order)


def end_gauge_first(given):
    gauge = end_gauge(given)
    return [gauge.value, gauge.standard_uncertainty, gauge.degrees_of_freedom]


def end_gauge_published(given):
    # The guide truncates the degrees of freedom and multiplies the rounded u.
    value, u, nu = end_gauge_first(given)
    k = student_factor(0.99, math.floor(nu))
    return [value, round(u), math.floor(nu), k, k * round(u)]


def impedance(given):
    readings = np.array([given["V"], np.array(given["I_mA"]) * 1e-3, given["phi"]])
    means = readings.mean(axis=1)
    u = readings.std(axis=1, ddof=1) / math.sqrt(5.0)
    r = np.corrcoef(readings)
    ties = {(0, 1): r[0, 1], (0, 2): r[0, 2], (1, 2): r[1, 2]}
    functions = (
        lambda x: x[0] / x[1] * math.cos(x[2]),
        lambda x: x[0] / x[1] * math.sin(x[2]),
        lambda x: x[0] / x[1],
    )
    return [propagate(f, list(means), list(u), ties, [4.0] * 3) for f in functions], u, ties


def impedance_correlations(given):
    (resistance, reactance, modulus), u, ties = impedance(given)
    pairs = ((resistance, reactance), (resistance, modulus), (reactance, modulus))
    return [correlation_between(a, b, list(u), ties) for a, b in pairs]


def impedance_published(given):
    return [number for part in impedance(given)[0] for number in (part.value, part.standard_uncertainty)]


def thermometer(given):
    fit = fit_calibration(np.array(given["t_C"]) - given["t0_C"], given["b_C"])
    (a, b), (u_a, u_b) = fit.coefficients, fit.standard_uncertainties
    assert fit.degrees_of_freedom == 9
    return [a, u_a, b, u_b, fit.correlation(0, 1), fit.residual_deviation, *fit.predict(10.0)]


def t_table(given):
    return [student_factor(p, given["nu"]) for p in (0.9545, 0.95)]


def sum_of_inputs(given):
    inputs = [line(u, given["form"]) for u in given["u"]]
    budget = make_budget(inputs)
    drawn = sample(lambda *x: sum(x), inputs, generator=np.random.default_rng(1), trials=400_000)
    # Two ways to the same interval: convolution and sampling.
    assert drawn.shortest[1] == pytest.approx(budget.expanded_uncertainty_pa, rel=0.02)
    assert drawn.standard_uncertainty == pytest.approx(budget.standard_uncertainty_pa, rel=0.01)
    return [budget.standard_uncertainty_pa, budget.expanded_uncertainty_pa]


def one_wide_rectangle(given):
    u, half = sum_of_inputs(given)
    return [u, half, student_factor(0.95) * u]


def mass(given):
    def deviation(m, dm, air, weight, reference):
        return (m + dm) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / reference)) - given["m_nom"]

    def box(name):
        low, high = given[name]
        return line((high - low) / math.sqrt(12.0), "rectangular", value=0.5 * (low + high))

    inputs = [line(given["m_R"][1], value=given["m_R"][0]), line(given["dm_R"][1], value=given["dm_R"][0])]
    inputs += [box("rho_a"), box("rho_W"), box("rho_R")]
    drawn = sample(deviation, inputs, generator=np.random.default_rng(2), trials=400_000)
    values, uncertainties = [i.value for i in inputs], [i.standard_uncertainty for i in inputs]
    first = propagate(lambda x: deviation(*x), values, uncertainties)
    second = propagate(lambda x: deviation(*x), values, uncertainties, second_order=True)
    # First order misses the product of air and weight density: the guide prints 0.0539 and 0.0750.
    assert first.standard_uncertainty == pytest.approx(0.0539, abs=1e-4)
    assert second.standard_uncertainty == pytest.approx(0.0750, abs=1e-3)
    return [drawn.value, drawn.standard_uncertainty, *drawn.symmetric]


def one_sided_factor(given):
    return student_factor(2.0 * given["pc"] - 1.0)


def conformity(given):
    return probability_within(-given["z"], 1.0, between(-1e9, 0.0))


def speed(given):
    """Highest reading from which the limit is exceeded with the stated probability."""
    low, high = given["limit"], 2.0 * given["limit"]
    for _ in range(60):
        middle = 0.5 * (low + high)
        kept = probability_within(middle, given["u_ratio"] * middle, between(-1e9, given["limit"]))
        low, high = (low, middle) if kept < 1.0 - given["probability"] else (middle, high)
    return low


def risks(given):
    process, limit = stats.norm(0.0, given["process"]), given["limit"]

    def accepted(truth):
        return probability_within(truth, given["test"], between(-limit, limit))

    bad, _ = integrate.quad(lambda x: process.pdf(x) * accepted(x), limit, limit + 10.0)
    good, _ = integrate.quad(lambda x: process.pdf(x) * (1.0 - accepted(x)), 0.0, limit)
    return [2.0 * bad, 2.0 * good]


def false_accept(given):
    return 1.0 - probability_within(-2.0 * given["r"], 1.0, between(-1e9, 0.0))


def expansion(given):
    pairs = [given[name] for name in ("L0", "L1", "T0", "T1")]
    values, scales = [v for v, _ in pairs], [u for _, u in pairs]
    found = propagate(lambda x: (x[1] - x[0]) / x[0] / (x[3] - x[2]), values, scales, degrees_of_freedom=[3.0] * 4)
    return [found.value, found.standard_uncertainty]


def nist_fit(given):
    table = np.loadtxt(NIST / given["file"], skiprows=25)
    x, y = table[:, given["x_column"]], table[:, 1 - given["x_column"]]
    return fit_calibration(x, y, given["degree"]), x, y


def coefficients(given):
    return list(nist_fit(given)[0].coefficients)


def deviations_of(given):
    fit = nist_fit(given)[0]
    return [*fit.standard_uncertainties, fit.residual_deviation]


COMPUTE = {
    "gum-4.4.3": mean_of_readings,
    "gum-4.4.5": half_width,
    "gum-g4": three_relative,
    "gum-h1": end_gauge_first,
    "gum-h1-second": lambda given: end_gauge(given, second_order=True).standard_uncertainty,
    "gum-h1-published": end_gauge_published,
    "gum-h2": lambda given: [part.value for part in impedance(given)[0]],
    "gum-h2-u": lambda given: [part.standard_uncertainty for part in impedance(given)[0]],
    "gum-h2-r": impedance_correlations,
    "gum-h2-published": impedance_published,
    "gum-h3": thermometer,
    "t": t_table,
    "s1-9.2.2": sum_of_inputs,
    "s1-9.2.3": sum_of_inputs,
    "s1-9.2.4": one_wide_rectangle,
    "s1-9.3": mass,
    "z": one_sided_factor,
    "pc-1p4": conformity,
    "speed": speed,
    "risk-4-1-8": risks,
    "guard": false_accept,
    "nist-e13": expansion,
    "pontius": coefficients,
    "pontius-u": deviations_of,
    "loadcell": coefficients,
    "loadcell-u": deviations_of,
}


def test_row_agrees(check, agree):
    compute = COMPUTE.get(check["id"]) or COMPUTE[check["id"].split("-")[0]]
    agree(check, compute(check["given"]))


@functools.cache
def gtc():
    return pytest.importorskip("GTC")


def test_thermometer_agrees_with_a_second_library():
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]) - 20.0
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    a_b = gtc().type_a.line_fit(list(t), b).a_b
    fit = fit_calibration(t, b)
    assert list(fit.coefficients) == pytest.approx([a_b[0].x, a_b[1].x], rel=1e-10)
    assert list(fit.standard_uncertainties) == pytest.approx([a_b[0].u, a_b[1].u], rel=1e-10)
    theirs = a_b[0] + a_b[1] * 10.0
    assert fit.predict(10.0) == pytest.approx((theirs.x, theirs.u), rel=1e-10)


def test_impedance_agrees_with_a_second_library():
    pytest.importorskip("uncertainties")
    from uncertainties import correlated_values, umath

    given = {
        "V": [5.007, 4.994, 5.005, 4.990, 4.999],
        "I_mA": [19.663, 19.639, 19.640, 19.685, 19.678],
        "phi": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    }
    readings = np.array([given["V"], np.array(given["I_mA"]) * 1e-3, given["phi"]])
    v, i, phi = correlated_values(readings.mean(axis=1), np.cov(readings) / 5.0)
    theirs = [v / i * umath.cos(phi), v / i * umath.sin(phi), v / i]
    for ours, other in zip(impedance(given)[0], theirs, strict=True):
        assert ours.value == pytest.approx(other.nominal_value, rel=1e-12)
        assert ours.standard_uncertainty == pytest.approx(other.std_dev, rel=1e-8)
        # All three inputs come from the same five sets of readings: four degrees of freedom for the whole.
        assert ours.degrees_of_freedom == pytest.approx(4.0)


def test_straight_line_is_rejected_for_a_bent_cell():
    straight, x, y = nist_fit({"file": "PONTIUS.DAT", "degree": 1, "x_column": 1})
    bent, _, _ = nist_fit({"file": "PONTIUS.DAT", "degree": 2, "x_column": 1})
    assert lack_of_fit(x, y, straight) < 1e-9
    assert lack_of_fit(x, y, bent) > 0.05


def test_guarded_rule_turns_at_the_published_probability():
    limits = between(-1e9, 0.0)
    z = student_factor(0.90)
    assert judge(-z - 1e-6, 1.0, limits, Decision.GUARDED).outcome is VerdictOutcome.WITHIN
    assert judge(-z + 1e-6, 1.0, limits, Decision.GUARDED).outcome is VerdictOutcome.UNDECIDED
    assert judge(z + 1e-6, 1.0, limits, Decision.GUARDED).outcome is VerdictOutcome.OUTSIDE
    assert Spread(1.0).expanded(0.90) == pytest.approx(z, rel=1e-15)
