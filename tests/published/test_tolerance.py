"""Set pressure tolerances, row by row, from the tables that come with the package."""

from decimal import Decimal

from firstlift.core.job import Decision, OwnerLimit, OwnerLimits, Purpose
from firstlift.core.tolerance.judge import judge
from firstlift.core.tolerance.limits import find_limits
from firstlift.core.units import Kind, parse_quantity
from firstlift.formats.rulesets import read_rule_set

SOURCES = ("asme.toml", "iso-4126-1.toml", "owner-limits.toml")


def share(text):
    return OwnerLimit(relative=Decimal(text), absolute=None, is_deviation=True)


def limits_of(given, **more):
    pressure = parse_quantity(given["set"], Kind.PRESSURE)
    fire = given.get("fire_case", False)
    arguments = {"purpose": Purpose.AS_FOUND, "fire_case": fire} | more
    return find_limits(read_rule_set(given["code"]), pressure, **arguments), pressure


def deviations(given):
    limits, pressure = limits_of(given)
    return [float(limits.lower - pressure.number), float(limits.upper - pressure.number)]


def crossover(given):
    """Find the highest set pressure at which the tolerance is still 0.1 bar."""
    low, high = Decimal(1), Decimal(10)
    for _ in range(60):
        middle = (low + high) / 2
        limits, pressure = limits_of({**given, "set": f"{middle} bar"})
        low, high = (middle, high) if limits.upper - pressure.number == Decimal("0.1") else (low, middle)
    return float(low)


def lopsided(given):
    owner = OwnerLimits(as_found_lower=share(given["lower"]), as_found_upper=share(given["upper"]))
    limits, _ = limits_of(given, owner_limits=owner)
    return [float(limits.lower), float(limits.upper)]


def found_and_left(given):
    owner = OwnerLimits(share("-0.03"), share("0.03"), share("-0.01"), share("0.01"))
    outcomes = []
    for purpose in (Purpose.AS_FOUND, Purpose.AS_LEFT):
        limits, pressure = limits_of(given, owner_limits=owner, purpose=purpose)
        value = pressure.si * (1.0 + given["deviation"])
        outcomes.append(judge(value, 1.0, limits, Decision.GUARDED).outcome)
    return outcomes


SPECIAL = {"tol-iso-crossover": crossover, "tol-owner-asym": lopsided, "tol-asfound-asleft": found_and_left}


def test_row_agrees(check, agree):
    agree(check, SPECIAL.get(check["id"], deviations)(check["given"]))


def test_status_of_a_row_is_that_of_the_table(check):
    if check["id"] in SPECIAL:
        return
    limits, _ = limits_of(check["given"])
    # A row printed in two columns keeps the weaker status where only one of the two was seen.
    assert limits.status == check["status"]
    assert limits.clause == check["clause"]
