"""Rounding by the uncertainty, in one step, half to even."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstlift.core.units import UNITS, Kind
from firstlift.words import numbers


@pytest.mark.parametrize(
    ("pa", "u_pa", "unit", "shown"),
    [
        (10.02e5, 5578.0, "bar", "10.020 ± 0.056 bar"),
        (1.0e6, 2789.0, "kPa", "1000.0 ± 2.8 kPa"),
        (10.02e5, 9960.0, "bar", "10.02 ± 0.10 bar"),  # the carry keeps two digits, not three
        (1234567.0, 99600.0, "Pa", "1230000 ± 100000 Pa"),
        (125_000.0, 100_000.0, "bar", "1.2 ± 1.0 bar"),  # exact tie, 1.25: to the even digit
        (135_000.0, 100_000.0, "bar", "1.4 ± 1.0 bar"),  # exact tie, 1.35: to the even digit
        (10.02e5, 12_500.0, "bar", "10.02 ± 0.12 bar"),  # the uncertainty's own tie
        (-300.0, 10_000.0, "bar", "0.00 ± 0.10 bar"),  # no minus before nothing
        (UNITS["psi"].factor * 150.0, UNITS["psi"].factor * 1.5, "psi", "150.0 ± 1.5 psi"),
        (101_325.0, 980.665, "kgf/cm2", "1.033 ± 0.010 kgf/cm²"),
    ],
)
def test_pressure_with_uncertainty(pa, u_pa, unit, shown):
    assert numbers.format_pressure(pa, unit, u_pa) == shown


@pytest.mark.parametrize("u_pa", [None, 0.0, float("nan"), float("inf"), -1.0])
def test_without_a_usable_uncertainty_four_digits_are_printed(u_pa):
    assert numbers.format_pressure(1234567.0, "bar", u_pa) == "12.35 bar"


@pytest.mark.parametrize("pa", [None, float("nan"), float("inf")])
def test_no_number_prints_as_a_dash(pa):
    assert numbers.format_pressure(pa, "bar", 10.0) == "–"


def test_rounding_is_one_step():
    # 0.1245 to two digits is 0.12; by way of 0.125 it would be 0.12 too, but 0.1349 by way of 0.135 gives 0.14
    assert numbers.round_significant(Decimal("0.13499"), 2) == Decimal("0.13")


@given(
    value=st.floats(-1e8, 1e8),
    u=st.floats(1e-3, 1e7),
    unit=st.sampled_from([u.symbol for u in UNITS.values() if u.kind is Kind.PRESSURE]),
)
def test_printed_value_lies_within_half_a_last_digit(value, u, unit):
    shown, shown_u = numbers.pressure_pair(value, unit, u)
    digit = Decimal(1).scaleb(Decimal(shown).as_tuple().exponent) if "." in shown else None
    factor = UNITS[unit].factor
    assert abs(float(shown_u) * factor - u) <= 0.051 * u
    if digit is not None:
        assert abs(float(shown) - value / factor) <= 0.5 * float(digit) * (1 + 1e-9) + 1e-12 * abs(value / factor)
        assert Decimal(shown).as_tuple().exponent == Decimal(shown_u).as_tuple().exponent


@pytest.mark.parametrize(
    ("call", "shown"),
    [
        (lambda: numbers.format_exact(1416200.0, "bar"), "14.162 bar"),
        (lambda: numbers.format_exact(1e6, "bar"), "10 bar"),
        (lambda: numbers.format_exact(0.0, "bar"), "0 bar"),
        (lambda: numbers.format_force(141.37), "141.4 N"),
        (lambda: numbers.format_force(19634.9), "19.63 kN"),
        (lambda: numbers.format_length(4.2e-4), "0.42 mm"),
        (lambda: numbers.format_length(7e-6), "7 µm"),
        (lambda: numbers.format_time(10.5, 0.034), "10.500 ± 0.034 s"),
        (lambda: numbers.format_time(10.5), "10.500 s"),
        (lambda: numbers.format_time(None), "–"),
        (lambda: numbers.format_share(0.0003), "< 0.1 %"),
        (lambda: numbers.format_share(-0.021), "-2.1 %"),
        (lambda: numbers.format_probability(0.99999), "> 99.9 %"),
        (lambda: numbers.format_probability(1e-9), "< 0.1 %"),
        (lambda: numbers.format_probability(1.0), "> 99.9 %"),
        (lambda: numbers.format_probability(0.0), "< 0.1 %"),
        (lambda: numbers.format_value(293.15, "degC"), "20.00 °C"),
        (lambda: numbers.format_value(None, "bar"), "–"),
        (lambda: numbers.show_unit("mm2"), "mm²"),
        (lambda: numbers.show_unit("furlong"), "furlong"),
    ],
)
def test_other_numbers(call, shown):
    assert call() == shown
