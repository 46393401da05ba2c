"""The pocket calculation: the same result form, one pull, no times."""

import dataclasses
import math

import pytest

from firstlift.core.errors import FirstliftError, UsageError
from firstlift.core.result import DispositionOutcome, VerdictOutcome, from_json, to_json
from firstlift.usecases.quick import ByHand, assumed, calculate

BAR = 1e5
HAND = ByHand("8 bar", "141.37 N", "10 bar", "iso-4126-1", seat_diameter="30 mm")
STATED = dataclasses.replace(HAND, u_line="0.02 bar", u_pull="1 N", u_seat="0.1 mm")


def test_the_value_is_the_force_balance():
    # 8 bar + 141.37 N / (pi/4 (30 mm)^2) = 9.999976 bar (as in the published arithmetic)
    result = calculate(HAND)
    assert result.pulls[0].set_pressure_pa / BAR == pytest.approx(9.999976, abs=5e-7)


def test_the_uncertainty_is_that_of_the_stated_parts():
    # hypot(0.02, 0.014147, 0.013333) bar = 0.027891 bar (as in the published arithmetic)
    result = calculate(STATED)
    found = result.as_found
    u = found.expanded_uncertainty_pa / found.coverage_factor / BAR
    assert u == pytest.approx(0.027891, abs=5e-7)
    assert math.hypot(*(line.contribution_pa for line in result.budget)) / BAR == pytest.approx(u, rel=1e-9)
    assert sum(line.share for line in result.budget) == pytest.approx(1.0)


def test_a_diameter_and_its_area_are_the_same_seat():
    area = math.pi / 4.0 * 30.0**2
    by_area = dataclasses.replace(
        STATED, seat_diameter=None, seat_area=f"{area!r} mm2", u_seat=f"{math.pi / 2.0 * 30.0 * 0.1!r} mm2"
    )
    first, second = calculate(STATED).as_found, calculate(by_area).as_found
    assert second.set_pressure_pa == pytest.approx(first.set_pressure_pa, rel=1e-12)
    assert second.expanded_uncertainty_pa == pytest.approx(first.expanded_uncertainty_pa, rel=1e-9)


def test_units_do_not_matter():
    psi = dataclasses.replace(STATED, line=f"{8e5 / 6894.757293168361!r} psi", u_line="2 kPa", pull="0.14137 kN")
    assert calculate(psi).as_found.set_pressure_pa == pytest.approx(calculate(STATED).as_found.set_pressure_pa)
    assert calculate(psi).as_found.expanded_uncertainty_pa == pytest.approx(
        calculate(STATED).as_found.expanded_uncertainty_pa
    )


def test_what_is_assumed_is_named_and_weighs_as_if_stated():
    assert dict(assumed(HAND)) == {"line": 0.005, "pull": 0.005, "seat": 0.003}
    assert dict(assumed(STATED)) == {}
    same = dataclasses.replace(HAND, u_line="0.5 %", u_pull="0.5 %", u_seat="0.09 mm")
    assert calculate(same).as_found.expanded_uncertainty_pa == pytest.approx(
        calculate(HAND).as_found.expanded_uncertainty_pa
    )


def test_it_has_one_pull_and_no_times_and_goes_to_json_and_back():
    result = calculate(STATED)
    (pull,) = result.pulls
    assert (pull.start_s, pull.end_s, pull.first_lift_s, pull.closure_s) == (None, None, None, None)
    assert from_json(to_json(result)) == result


@pytest.mark.parametrize(
    ("pull", "decision", "outcome", "disposition"),
    [
        ("141 N", "guarded", VerdictOutcome.WITHIN, DispositionOutcome.FIT),
        ("162 N", "guarded", VerdictOutcome.UNDECIDED, DispositionOutcome.FIT_WITH_RESTRICTION),
        ("162 N", "simple", VerdictOutcome.WITHIN, DispositionOutcome.FIT),
        ("190 N", "guarded", VerdictOutcome.OUTSIDE, DispositionOutcome.UNFIT),
        ("0 N", "guarded", VerdictOutcome.OUTSIDE, DispositionOutcome.UNFIT),
    ],
)
def test_verdict_and_disposition(pull, decision, outcome, disposition):
    result = calculate(dataclasses.replace(HAND, pull=pull, decision=decision))
    assert (result.verdict.outcome, result.disposition.outcome) == (outcome, disposition)


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"line": "8"}, "UNI-006"),
        ({"line": "8 bara"}, "UNI-003"),
        ({"line": "-1 bar"}, "QCK-001"),
        ({"pull": "3 mm"}, "UNI-002"),
        ({"pull": "1,200 N"}, "UNI-005"),
        ({"set_pressure": "0 bar"}, "QCK-001"),
        ({"seat_diameter": "0 mm"}, "QCK-001"),
        ({"seat_diameter": "-30 mm"}, "QCK-001"),
        ({"seat_diameter": None}, "QCK-002"),
        ({"seat_area": "700 mm2"}, "QCK-002"),
        ({"u_line": "-1 %"}, "QCK-001"),
        ({"u_seat": "1 N"}, "UNI-002"),
        ({"line": "nan bar"}, "UNI-004"),
        ({"pull": "1e999 N"}, "UNI-004"),
    ],
)
def test_what_makes_no_sense_is_wrong_use(changed, code):
    with pytest.raises(UsageError) as caught:
        calculate(dataclasses.replace(HAND, **changed))
    assert [problem.code for problem in caught.value.problems] == [code]


def test_a_code_that_does_not_exist_is_told():
    with pytest.raises(FirstliftError, match="iso-1"):
        calculate(dataclasses.replace(HAND, code="iso-1"))
