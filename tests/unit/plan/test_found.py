"""As found for the plant: categories, what they suggest, systems judged together, siblings named."""

from dataclasses import replace

import pytest
from tests.made_plans import BAR, make_job

from firstlift.core.errors import Finding, FirstliftError, Severity
from firstlift.core.plan.found import Category, OwnerRules, Suggestion, judge_found
from firstlift.core.plan.system import FleetValve, Member, SamplingRule, judge_system, siblings_of
from firstlift.core.result import AsFound, Outcome, Pull, PullOutcome, VerdictOutcome
from firstlift.usecases.analyse import limits_of
from firstlift.usecases.quick import ByHand, calculate

LIMITS = limits_of(make_job())
SEVERE = Severity.SEVERE


def result_of(set_bar, *codes, more=()):
    """A pull read off by hand on a line of 8 bar, 30 mm seat, and what was found beside it."""
    pull = (set_bar - 8.0) * BAR * 3.14159265 / 4.0 * 0.030**2
    hand = ByHand("8 bar", f"{pull:.4f} N", "10 bar", "iso-4126-1", seat_diameter="30 mm")
    result = calculate(hand)
    further = tuple(
        Pull(number=n, outcome=PullOutcome.MEASURED, start_s=None, end_s=None, set_pressure_pa=value * BAR)
        for n, value in enumerate(more, start=2)
    )
    return replace(result, findings=tuple(Finding(c, SEVERE) for c in codes), pulls=(*result.pulls, *further))


def not_lifted(bound_bar, outcome=VerdictOutcome.OUTSIDE):
    result = result_of(10.0)
    found = AsFound(1, PullOutcome.NOT_LIFTED, None, bound_bar * BAR, 0.05 * BAR, 2.0, 0.95)
    verdict = None if outcome is None else replace(result.verdict, outcome=outcome)
    return replace(result, outcome=Outcome.NOT_LIFTED, as_found=found, verdict=verdict)


@pytest.mark.parametrize(
    ("result", "categories"),
    [
        (result_of(10.0), ["within"]),
        (result_of(10.8), ["high"]),
        (result_of(9.3), ["low"]),
        (result_of(10.3), ["undecided"]),
        (result_of(9.3, "leaking-before-lift"), ["leaked", "low"]),
        (result_of(10.0, "stayed-open"), ["stayed-open", "within"]),
        (result_of(10.0, "already-open"), ["stayed-open", "within"]),
        (not_lifted(11.0), ["high"]),
        (not_lifted(13.2), ["stuck"]),
        (not_lifted(9.0, None), ["not-shown"]),
    ],
)
def test_categories(result, categories):
    assert [str(category) for category in judge_found(result, LIMITS).categories] == categories


def test_a_bound_is_said_as_such():
    found = judge_found(not_lifted(11.0), LIMITS)
    assert (found.ratio, found.is_bound, found.failed) == (pytest.approx(1.1), True, True)


def test_a_high_first_opening_and_normal_ones_after_are_deposits_not_the_spring():
    bonded = judge_found(result_of(10.9, more=(10.05, 10.02)), LIMITS)
    high = judge_found(result_of(10.9, more=(10.8, 10.85)), LIMITS)
    assert bonded.bonded
    assert Suggestion.ADJUST not in bonded.suggestions
    assert not high.bonded
    assert Suggestion.ADJUST in high.suggestions


def test_a_leak_is_not_adjusted_away():
    assert Suggestion.OVERHAUL in judge_found(result_of(9.97, "leaking-before-lift"), LIMITS).suggestions


def test_the_owners_rules_go_on_top():
    owner = OwnerRules(suggests={Category.LOW: (Suggestion.REMOVE,)}, failed=frozenset({Category.LOW}))
    ours, theirs = judge_found(result_of(9.3), LIMITS), judge_found(result_of(9.3), LIMITS, owner)
    assert (ours.failed, theirs.failed) == (False, True)
    assert theirs.suggestions == (Suggestion.REMOVE,)


def test_the_source_is_named():
    assert "API RP 576" in judge_found(result_of(10.0), LIMITS).source


def system(code, *stamped, mawp=10.0, opens=None, fire=()):
    opened = opens or [None] * len(stamped)
    members = [
        Member(f"PSV-{n}", bar * BAR, None if at is None else at * BAR, n in fire)
        for n, (bar, at) in enumerate(zip(stamped, opened, strict=True), start=1)
    ]
    return judge_system(members, mawp * BAR, code)


def codes(judged):
    return {finding.code for finding in judged.findings}


@pytest.mark.parametrize(
    ("code", "stamped", "wrong"),
    [
        ("asme-i", (10.0, 10.3), set()),
        ("asme-i", (10.0, 10.31), {"system-above-code"}),
        ("asme-i", (9.0, 10.2), {"system-spread"}),
        ("asme-i", (10.1, 10.2), {"system-none-at-mawp"}),
        ("asme-xiii", (10.0, 10.5), set()),
        ("asme-xiii", (10.0, 10.6), {"system-above-code"}),
        ("asme-xiii", (8.0, 10.5), set()),
        ("iso-4126-1", (10.0, 10.1), {"system-above-code"}),
    ],
)
def test_valves_of_one_system_are_judged_together(code, stamped, wrong):
    judged = system(code, *stamped)
    assert {finding.code for finding in judged.findings if finding.severity is SEVERE} == wrong
    assert judged.sound == (not wrong)
    assert judged.first == "PSV-1"


def test_a_fire_valve_may_stand_higher():
    assert system("asme-xiii", 10.0, 11.0, fire=(2,)).sound
    assert not system("asme-xiii", 10.0, 11.0).sound


def test_settings_that_all_coincide_are_named():
    assert "system-not-staggered" in codes(system("asme-xiii", 10.0, 10.0))
    assert "system-not-staggered" not in codes(system("asme-xiii", 10.0))


def test_stamps_in_order_do_not_hide_openings_above_mawp():
    assert "system-none-opens-at-mawp" in codes(system("asme-xiii", 10.0, 10.5, opens=(10.4, 10.6)))
    half_known = codes(system("asme-xiii", 10.0, 10.5, opens=(10.4, None)))
    assert "system-none-opens-at-mawp" not in half_known
    assert "system-untested" in half_known


@pytest.mark.parametrize("members", [[], [Member("A", -1.0)], [Member("A", BAR), Member("A", BAR)]])
def test_a_system_that_makes_no_sense_is_refused(members):
    with pytest.raises(FirstliftError, match="PLN-006"):
        judge_system(members, 10 * BAR, "asme-xiii")


def test_siblings_come_nearest_first():
    failed = FleetValve("F", "group 1", "maker a", "model x", "sour gas")
    fleet = [
        failed,
        FleetValve("far", "", "maker b", "model y", "steam"),
        FleetValve("service", "", "maker a", "model y", "sour gas"),
        FleetValve("twin", "group 1", "maker a", "model x", "sour gas"),
        FleetValve("model", "", "maker a", "model x", "steam"),
        FleetValve("maker", "", "maker a", "model z", "steam"),
        FleetValve("unstated", "", "", "", ""),
    ]
    siblings, wanted = siblings_of(failed, fleet)
    assert [sibling.tag for sibling in siblings] == ["twin", "model", "service"]
    assert wanted == 2
    assert siblings_of(failed, fleet, SamplingRule(0))[1] == 3


def test_what_nobody_stated_is_no_kinship():
    assert siblings_of(FleetValve("F"), [FleetValve("G")]) == ((), 0)
