"""The arithmetic of a pull, and units from exact definitions."""

import math

import pytest

from firstlift.core.job import Decision, Purpose
from firstlift.core.result import VerdictOutcome
from firstlift.core.tolerance.judge import judge, probability_within
from firstlift.core.tolerance.limits import find_limits
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.core.uncertainty.coverage import Spread, student_factor
from firstlift.core.uncertainty.propagate import propagate
from firstlift.core.uncertainty.pulls import mean_over_pulls
from firstlift.core.units import Kind, parse_quantity, to_si
from firstlift.core.valve import circle_area_m2
from firstlift.formats.rulesets import read_rule_set

SOURCES = ("lift-arithmetic.toml", "units.toml")
BAR = 1e5
KINDS = {"line": Kind.PRESSURE, "pull": Kind.FORCE, "seat": Kind.LENGTH}


def si(given, name):
    return parse_quantity(given[name], KINDS[name.removeprefix("u_")]).si


def set_pressure(x):
    return x[0] + x[1] / circle_area_m2(x[2])


def lifted(given):
    values = [si(given, name) for name in KINDS]
    uncertainties = [si(given, f"u_{name}") if f"u_{name}" in given else 0.0 for name in KINDS]
    dof = [math.inf, given.get("dof_pull", math.inf), given.get("dof_seat", math.inf)]
    return propagate(set_pressure, values, uncertainties, degrees_of_freedom=dof), values, uncertainties, dof


def budget_of(given):
    measured, values, uncertainties, dof = lifted(given)
    names, shared = ("line pressure", "pull", "seat diameter"), ("gauge:line", "cell:1", "seat")
    rows = zip(names, values, ("Pa", "N", "m"), uncertainties, dof, measured.sensitivities, shared, strict=True)
    return make_budget([Input(n, v, unit, u, "normal", nu, c, tag) for n, v, unit, u, nu, c, tag in rows])


def area_sensitivity(given):
    line, area = given["line_ratio"], 1.0
    measured = propagate(lambda x: line + (1.0 - line) * area / x[0], [area], [0.01])
    return measured.sensitivities[0] * given["area_err_pct"]


def ring(given):
    bore, edge = 1.0, given["od_over_id"]
    small = circle_area_m2(bore)
    return [circle_area_m2(edge) / small - 1.0, circle_area_m2(0.5 * (bore + edge)) / small - 1.0]


def openings(given):
    mean = mean_over_pulls(given["x_bar"], [0.0] * 3, 0.0)
    assert mean.degrees_of_freedom == pytest.approx(2.0)
    return [mean.mean_pa, mean.repeatability_pa, mean.standard_uncertainty_pa, mean.coverage_factor]


def limits_of(given):
    return find_limits(
        read_rule_set(given["code"]), parse_quantity(given["set"], Kind.PRESSURE), purpose=Purpose.AS_FOUND
    )


def acceptance(given):
    """Find where the guarded verdict turns from within to undecided, below and above."""
    limits, u, edges = limits_of(given), given["u"] * BAR, []
    wanted = Spread(1.0).probability_below(given["z"])
    for end in (limits.lower_pa, limits.upper_pa):
        inside, outside = 10.0 * BAR, end
        for _ in range(60):
            middle = 0.5 * (inside + outside)
            accepted = judge(middle, u, limits, Decision.GUARDED, wanted).outcome is VerdictOutcome.WITHIN
            inside, outside = (middle, outside) if accepted else (inside, middle)
        edges.append(inside / BAR)
    return edges


def units(_given):
    psi = to_si(1.0, "psi")
    return [psi, BAR / psi, to_si(1.0, "in2") * 1e6, to_si(1.0, "lbf"), to_si(1.0, "kgf")]


COMPUTE = {
    "lift-basic": lambda given: lifted(given)[0].value / BAR,
    "lift-u": lambda given: budget_of(given).standard_uncertainty_pa / BAR,
    "lift-parts": lambda given: [row.contribution_pa / BAR for row in budget_of(given).lines],
    "lift-dof": lambda given: [budget_of(given).degrees_of_freedom, budget_of(given).coverage_factor],
    "area-sens": area_sensitivity,
    "ring": ring,
    "openings-stat": openings,
    "pc-1025": lambda given: probability_within(given["value"] * BAR, given["u"] * BAR, limits_of(given)),
    "accept-int": acceptance,
    "unit-psi": units,
}


def test_row_agrees(check, agree):
    compute = COMPUTE.get(check["id"]) or COMPUTE[check["id"].rsplit("-", 1)[0]]
    agree(check, compute(check["given"]))


def test_budget_agrees_with_a_second_library():
    gtc = pytest.importorskip("GTC")
    line, pull, seat = gtc.ureal(8e5, 2e3), gtc.ureal(141.37, 1.0, 4), gtc.ureal(0.030, 1e-4, 8)
    theirs = line + pull / (math.pi / 4.0 * seat**2)
    given = {"line": "8 bar", "pull": "141.37 N", "seat": "30 mm"}
    given |= {"u_line": "0.02 bar", "u_pull": "1 N", "u_seat": "0.1 mm", "dof_pull": 4, "dof_seat": 8}
    ours = budget_of(given)
    assert ours.standard_uncertainty_pa == pytest.approx(theirs.u, rel=1e-9)
    assert ours.degrees_of_freedom == pytest.approx(theirs.df, rel=1e-9)
    assert ours.coverage_factor == pytest.approx(student_factor(0.95, theirs.df), rel=1e-9)
    for row, part in zip(ours.lines, (line, pull, seat), strict=True):
        assert row.contribution_pa == pytest.approx(abs(gtc.component(theirs, part)), rel=1e-9)
