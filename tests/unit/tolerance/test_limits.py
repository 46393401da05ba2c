from decimal import Decimal

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.job import OwnerLimit, OwnerLimits, Purpose
from firstlift.core.tolerance.limits import convert, find_limits
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Definition, Medium
from firstlift.formats.rulesets import read_rule_set


def limits(code, text, **more):
    arguments = {"purpose": Purpose.AS_FOUND} | more
    return find_limits(read_rule_set(code), parse_quantity(text, Kind.PRESSURE), **arguments)


@pytest.mark.parametrize(
    ("code", "text", "lower", "upper"),
    [
        # One bar is 100 kPa: a bar nameplate is judged by the SI column, whose steps are not those of psi.
        ("asme-xiii", "5 bar", "4.85", "5.15"),
        ("asme-xiii", "5.01 bar", "4.8597", "5.1603"),
        ("asme-xiii", "0.5 MPa", "0.485", "0.515"),
        ("asme-i", "21 bar", "20.37", "21.63"),
        ("asme-i", "21.01 bar", "20.31", "21.71"),
        ("asme-i", "70 bar", "69.3", "70.7"),
        ("asme-i", "70.1 bar", "69.399", "70.801"),
        ("asme-i", "0.07 ksi", "0.068", "0.072"),
        ("iso-4126-1", "1 MPa", "0.97", "1.03"),
        ("iso-4126-1", "200 kPa", "190", "210"),
        ("iso-4126-1", "0.1 bar", "0", "0.2"),
        ("asme-iv-steam", "15 psi", "13", "17"),
    ],
)
def test_limits_in_the_nameplates_own_decimal(code, text, lower, upper):
    found = limits(code, text)
    assert (found.lower, found.upper) == (Decimal(lower), Decimal(upper))


def test_a_bar_nameplate_is_not_judged_by_the_psi_column():
    # 5 bar is 72.5 psi: above the psi column's step, on the SI column's.
    psi = limits("asme-xiii", "72.5 psi")
    assert psi.upper - Decimal("72.5") == Decimal("2.175")
    assert limits("asme-xiii", "5 bar").upper - 5 == Decimal("0.15")


def test_kgf_per_cm2_goes_by_kilopascals():
    found = limits("asme-xiii", "5 kgf/cm2")
    assert found.upper - 5 == pytest.approx(Decimal(15) / Decimal("98.0665"))
    assert found.upper_pa == pytest.approx(5 * 98066.5 + 15000.0, rel=1e-12)


def test_a_psi_nameplate_under_iso_keeps_a_tenth_of_a_bar():
    found = limits("iso-4126-1", "30 psi")
    assert found.upper_pa - found.set_pressure_pa == pytest.approx(1e4, rel=1e-9)


def test_pascals_agree_with_the_nameplate():
    found = limits("iso-4126-1", "12.5 bar")
    assert (found.lower_pa, found.upper_pa) == pytest.approx((12.125e5, 12.875e5), rel=1e-12)
    assert found.upper_pa == parse_quantity("12.875 bar", Kind.PRESSURE).si


def test_rule_that_means_pop_says_how_far_first_lift_may_lie_below():
    gas = limits("asme-xiii", "100 psi", medium=Medium.GAS)
    liquid = limits("asme-xiii", "100 psi", medium=Medium.LIQUID)
    stated = limits("asme-xiii", "100 psi", medium=Medium.GAS, opening_definition=Definition.FIRST_LIFT)
    assert gas.definition is Definition.POP
    assert gas.pop_distance_pa == pytest.approx(0.03 * gas.set_pressure_pa)
    assert (liquid.definition, liquid.pop_distance_pa) == (Definition.FIRST_LIFT, 0.0)
    assert (stated.definition, stated.pop_distance_pa) == (Definition.FIRST_LIFT, 0.0)
    assert limits("iso-4126-1", "10 bar", opening_definition=Definition.POP).definition is Definition.POP


def test_iso_valve_that_pops_by_nameplate_carries_a_distance():
    found = limits("iso-4126-1", "10 bar", opening_definition=Definition.POP)
    assert found.pop_distance_pa == pytest.approx(0.03e6)


def test_fire_case_never_opens_below_set():
    found = limits("asme-xiii", "200 psi", fire_case=True)
    assert (found.lower, found.upper) == (Decimal(200), Decimal(220))
    assert "fire" in found.clause
    assert found.status == "memory"


@pytest.mark.parametrize("code", ["iso-4126-1", "asme-i", "asme-iv-water", "owner"])
def test_fire_case_is_refused_where_the_code_has_none(code):
    with pytest.raises(FirstliftError, match="TOL-004"):
        limits(code, "10 bar", fire_case=True)


@pytest.mark.parametrize(
    ("code", "text"),
    [("asme-iv-steam", "15.1 psi"), ("asme-iv-steam", "2 bar"), ("iso-4126-1", "0.09 bar"), ("asme-i", "0 psi")],
)
def test_set_pressure_outside_the_codes_range(code, text):
    with pytest.raises(FirstliftError, match="TOL-002") as caught:
        limits(code, text)
    assert text in str(caught.value)


def share(text):
    return OwnerLimit(Decimal(text), None, is_deviation=True)


def pressure(text, *, is_deviation=False):
    return OwnerLimit(None, Decimal(text), is_deviation=is_deviation)


def test_owners_limits_as_share_as_deviation_and_as_pressure():
    owner = OwnerLimits(share("-0.03"), pressure("10.2"), pressure("-0.1", is_deviation=True), share("0.01"))
    found = limits("owner", "10 bar", owner_limits=owner)
    left = limits("owner", "10 bar", owner_limits=owner, purpose=Purpose.AS_LEFT)
    assert (found.lower, found.upper) == (Decimal("9.70"), Decimal("10.2"))
    assert (left.lower, left.upper) == (Decimal("9.9"), Decimal("10.10"))
    assert found.status == "owner"


def test_missing_owners_limits_are_all_named():
    owner = OwnerLimits(as_found_lower=share("-0.03"), as_found_upper=share("0.03"))
    with pytest.raises(FirstliftError) as caught:
        limits("owner", "10 bar", owner_limits=owner, purpose=Purpose.AS_LEFT)
    assert [problem.where for problem in caught.value.problems] == ["[rules] as_left_lower", "[rules] as_left_upper"]
    with pytest.raises(FirstliftError, match="as_found_upper"):
        limits("owner", "10 bar", owner_limits=OwnerLimits(as_found_lower=share("-0.03")))


def test_limits_that_enclose_nothing():
    owner = OwnerLimits(as_found_lower=pressure("10.2"), as_found_upper=pressure("9.8"))
    with pytest.raises(FirstliftError, match="TOL-005"):
        limits("owner", "10 bar", owner_limits=owner)


def test_convert_is_exact_among_powers_of_ten():
    assert convert(Decimal("3.3333"), "bar", "kPa") == Decimal("333.33")
    assert convert(Decimal("0.1"), "bar", "MPa") == Decimal("0.01")
