"""Next dates: what binds, what is said, and how often fleets of known truth are answered rightly."""

import datetime as dt
import json

import numpy as np
import pytest

from firstlift import words
from firstlift.core.errors import FirstliftError, UsageError
from firstlift.core.reliability.belief import believe
from firstlift.core.reliability.recommend import evidence_after, recommend
from firstlift.core.reliability.rules import parse_tables
from firstlift.formats.interval_rows import read_interval_tables
from firstlift.sim.fleet import draw_truth, put_to_test
from firstlift.usecases.interval import draw_group_drift, draw_group_survival, plain


def codes(answer):
    return [finding.code for finding in answer.reasons]


def fleet(row, new, count=60, *, failed_every=6, found="stuck", group="all", years=(3.0, 6.0, 9.0)):
    rows = []
    for index in range(count):
        name = f"{group}-{index}"
        rows.append(new(name, group=group))
        for look, year in enumerate(years):
            fails = failed_every and (index + look) % failed_every == 0
            rows.append(row(name, year + 0.01 * index, found if fails else "within", overhauled=fails, group=group))
    return rows


def test_one_valve_that_never_failed_sits_at_the_codes_maximum_and_is_told_so(row, new, terms, tables):
    answer = recommend([new("A"), row("A", 3), row("A", 6)], terms(), tables)
    (valve,) = answer.valves
    assert valve.recommended_yr == 5.0
    assert valve.due == valve.last + dt.timedelta(days=int(5 * 365.25))
    assert codes(valve)[0] == "interval-code"
    assert {"no-failures-seen", "target-not-proven"} <= set(codes(valve))
    assert valve.evidence.low_yr < 1.0
    assert valve.evidence.high_yr > 5.0


def test_a_hundred_good_valves_prove_their_target(row, new, terms, tables):
    rows = fleet(row, new, 400, failed_every=0)
    (group,) = recommend(rows, terms(target=0.05), tables).groups
    assert group.recommended_yr == 5.0
    assert "target-not-proven" not in codes(group)


def test_failures_bring_evidence_in_and_its_safe_end_is_recommended(row, new, terms, tables):
    (group,) = recommend(fleet(row, new), terms(), tables).groups
    assert codes(group)[0] == "interval-evidence"
    assert group.recommended_yr == group.evidence.low_yr < group.evidence.estimate_yr < group.evidence.high_yr


@pytest.mark.parametrize(
    ("asked", "years", "code"),
    [
        ({"owner_max_yr": 0.25}, 0.25, "interval-owner"),
        ({"jurisdiction_max_yr": 0.3, "jurisdiction_rule": "boiler law"}, 0.3, "interval-jurisdiction"),
        ({"service": "nbic-vessel-steam", "target": 0.6}, 1.0, "interval-code"),
    ],
)
def test_rules_cap_what_evidence_allows(row, new, terms, tables, asked, years, code):
    (group,) = recommend(fleet(row, new), terms(**asked), tables).groups
    assert (group.recommended_yr, codes(group)[0]) == (years, code)


@pytest.mark.parametrize(
    ("finds", "years", "code"),
    [
        # a gap of two years before the last test
        (["within", "within"], 4.0, "interval-step"),
        (["within"], 2.0, "interval-held"),
        (["within", "low"], 2.0, "interval-held"),
        (["within", "leaked"], 2.0, "interval-held"),
        (["within", "stayed-open"], 1.0, "interval-halved"),
    ],
)
def test_the_last_results_hold_halve_or_step(row, new, terms, tables, finds, years, code):
    rows = [new("A")] + [row("A", 2.0 * (index + 1), found) for index, found in enumerate(finds)]
    (valve,) = recommend(rows, terms(), tables).valves
    assert valve.recommended_yr == pytest.approx(years, abs=0.01)
    assert codes(valve)[0] == code
    (free,) = recommend(rows, terms(step_rule=False), tables).valves
    assert free.recommended_yr == 5.0


def test_a_stuck_valve_is_halved(row, new, terms, tables):
    rows = [*fleet(row, new, 200, failed_every=40), new("A"), row("A", 2.0), row("A", 4.0, "stuck", overhauled=True)]
    valve = recommend(rows, terms(target=0.3), tables).valves[-1]
    assert codes(valve)[0] == "interval-halved"
    assert valve.recommended_yr == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("pulled", "on_the_bench", "years", "code"),
    [("stuck", "within", 1.0, "interval-halved"), ("within", "leaked", 2.0, "interval-held"),
     ("within", "within", 4.0, "interval-step")],
)  # fmt: skip
def test_a_pull_and_the_bench_two_days_later_are_one_find(row, new, terms, tables, pulled, on_the_bench, years, code):
    rows = [*fleet(row, new, 200, failed_every=40), new("A"), row("A", 2.0), row("A", 4.0, pulled),
            row("A", 4.0055, on_the_bench), row("A", 4.04, "none", overhauled=True)]  # fmt: skip
    valve = recommend(rows, terms(target=0.3), tables).valves[-1]
    assert codes(valve)[0] == code
    assert valve.recommended_yr == pytest.approx(years, abs=0.01)
    # and a valve tested within the month it was new in has had no interval yet
    (fresh,) = recommend([new("B"), row("B", 0.01)], terms(), tables).valves
    assert codes(fresh)[0] == "interval-code"


def test_an_assisted_lift_is_marked_down_and_an_old_valve_is_sent_to_overhaul(row, new, terms, tables):
    rows = fleet(row, new, years=(3.0, 6.0, 9.0, 12.0))
    lift, bench = (recommend(rows, terms(method=method), tables) for method in ("lift", "bench"))
    assert lift.groups[0].evidence.estimate_yr < bench.groups[0].evidence.estimate_yr
    assert "effectiveness-marked-down" in [finding.code for finding in lift.findings]
    oldest = max(lift.valves, key=lambda valve: valve.age_yr)
    assert oldest.age_yr > 11.0
    assert "hidden-risk-spent" in codes(oldest)
    assert oldest.due == oldest.last


def test_a_drifting_group_is_capped_by_drift(row, new, terms, tables):
    rng = np.random.default_rng(6)
    rows = []
    for index in range(20):
        name, slope = f"V{index}", rng.normal(0.02, 0.002)
        rows += [new(name), *(row(name, t, "within", 1.0 + slope * t + rng.normal(0, 0.003)) for t in (1.0, 2.0, 3.0))]
    answer = recommend(rows, terms(step_rule=False), tables)
    (group,) = answer.groups
    assert codes(group)[0] == "interval-drift"
    assert 3.0 < group.recommended_yr < 5.0
    assert "drift-up" in codes(group)
    # at 6 % after three years, with 2 % a year, there are less than two years left
    assert all(0.3 < valve.recommended_yr < 2.6 for valve in answer.valves)
    last = {entry.valve: entry.ratio for entry in rows if entry.ratio is not None}
    left = {valve.valve: valve.recommended_yr for valve in answer.valves}
    assert np.corrcoef([last[name] for name in left], list(left.values()))[0, 1] < -0.9


def test_openings_that_spread_too_widely_are_said_and_make_no_interval_of_nothing(row, new, terms, tables):
    rng = np.random.default_rng(9)
    rows = []
    for index in range(40):
        name = f"V{index}"
        rows += [new(name), *(row(name, t, "within", rng.normal(1.0, 0.004)) for t in (1.0, 3.0))]
        # a few stick: they alone make the spread of all so wide
        last = [row(name, 5.0, "stuck", 1.22)] if index < 3 else [row(name, 5.0, "within", rng.normal(1.0, 0.004))]
        rows += last
    rows += [new("fresh"), row("fresh", 1.0, "within")]
    (group,) = (answer := recommend(rows, terms(target=0.001, step_rule=False), tables)).groups
    assert group.drift.over_when_set(None, 1.1, 0.001)
    said = next(finding for finding in group.reasons if finding.code == "spread-when-set")
    assert (said.parameters["count"], said.parameters["high_count"]) == (120, 3)
    assert "interval-drift" not in codes(group)
    assert group.recommended_yr > 0.0
    assert group.recommended_yr == min(group.evidence.low_yr, *(cap.years for cap in terms().caps))
    assert "spread-when-set" in codes(next(valve for valve in answer.valves if valve.valve == "fresh"))


def test_what_is_not_known_is_said(row, terms, tables):
    answer = recommend([row("A", 1), row("A", 3, "lower-bound", 0.8), row("A", 5)], terms(), tables)
    assert {"start-unknown", "lower-bounds-only"} <= {finding.code for finding in answer.findings}
    assert "start-unknown" in codes(answer.valves[0])


def test_groups_lend_and_are_told_apart(row, new, terms, tables):
    rows = fleet(row, new, group="steam", failed_every=3) + fleet(row, new, group="air", failed_every=30)
    answer = recommend([*rows, new("lone", group="water")], terms(), tables)
    steam, air, water = answer.groups
    assert steam.recommended_yr < air.recommended_yr
    assert water.lives.total == 0
    assert water.shares is None
    assert water.recommended_yr < air.recommended_yr
    assert "groups-lent" in [finding.code for finding in answer.findings]


def test_every_reason_has_its_sentence(row, new, terms, tables):
    answer = recommend(fleet(row, new), terms(owner_max_yr=4.0), tables)
    for finding in [*answer.findings, *(f for part in (*answer.groups, *answer.valves) for f in part.reasons)]:
        assert words.message(finding).endswith(".")


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"target": 0.0}, "REL-002"),
        ({"target": 5.0}, "REL-002"),
        ({"danger_ratio": 1.0}, "REL-002"),
        ({"danger_ratio": float("nan")}, "REL-002"),
        ({"effectiveness": 0.0}, "REL-002"),
        ({"effectiveness": 1.2}, "REL-002"),
        ({"service": "api-510"}, "REL-008"),
        ({"prior": "strong"}, "REL-008"),
        ({"method": "ear"}, "REL-008"),
        ({"owner_max_yr": -1.0}, "REL-009"),
        ({"jurisdiction_max_yr": 0.0}, "REL-009"),
    ],
)
def test_what_makes_no_sense_is_refused(terms, asked, code):
    with pytest.raises(UsageError, match=code):
        terms(**asked)


def test_whatever_rows_say_the_answer_is_whole(row, new, terms, tables):
    """Hold the answer to JSON for odd histories: unknown starts, bounds only, absurd targets, single days."""
    odd = [
        [row("A", 1)],
        [new("A")],
        [new("A"), row("A", 1, "lower-bound")],
        [new("A"), row("A", 0.003, "stuck")],
        [row("A", 1, "stuck"), row("A", 2, "stuck"), row("B", 1, "high", 9.0, group="b"), row("B", 30, group="b")],
        [new("A"), row("A", 30, overhauled=True), new("B", 5, group="b"), row("B", 5.5, "leaked", 0.06, group="b")],
        [new("A"), row("A", 3), row("A", 3.01, "stuck"), row("A", 3.02), row("A", 20, "stuck", overhauled=True)],
    ]
    for rows in odd:
        for asked in ({}, {"target": 0.999, "effectiveness": 1.0, "prior": "api-581-mild"}, {"target": 1e-6}):
            answer = recommend(rows, terms(**asked), tables)
            json.dumps(plain(answer), allow_nan=False)
            for group in answer.groups:
                assert draw_group_survival(answer, group).startswith("<svg")
                assert draw_group_drift(answer, group).startswith("<svg")
            for valve in answer.valves:
                assert 0.0 <= valve.recommended_yr <= 5.0


def test_no_rows_are_refused(terms, tables):
    with pytest.raises(FirstliftError, match="REL-004"):
        recommend([], terms(), tables)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "not toml",
        'format = "firstlift-intervals-1"',
        'format = "firstlift-intervals-1"\n[ceiling.x]\nvalue = -1',
        'format = "firstlift-intervals-1"\n[ceiling.x]\nvalue = 5\nclause = "c"\nstatus = "heard"\nsource = "s"',
    ],
)
def test_a_damaged_table_is_refused(text):
    with pytest.raises(FirstliftError, match="REL-007"):
        parse_tables(text, where="t.toml")


def test_every_number_of_the_table_says_where_it_comes_from(tables):
    rows = [*tables.ceilings.values(), *tables.steps.values(), *tables.effectiveness.values()]
    rows += tables.prior_sources.values()
    assert {row.status for row in rows} <= {"looked-up", "computed", "memory", "common-practice"}
    assert (tables.ceilings["api-510-typical"].value, tables.ceilings["api-510-clean"].value) == (5, 10)


def test_fleets_of_known_truth_are_answered_rightly():
    """Short form of the benchmark: intervals hold the truth, few are too long, and not by timidity."""
    rng, prior = np.random.default_rng(41), read_interval_tables().priors["weak"]
    covered, over, large = [], [], []
    for valves, times in ((10, 90), (100, 90), (1000, 50)):
        for _ in range(times):
            truth, target = draw_truth(rng), float(rng.choice([0.01, 0.05, 0.1]))
            lives = put_to_test(truth, valves, rng)
            if not lives.ended:
                continue
            found, optimal = evidence_after(believe(lives, prior), 0.0, target, 1.0), truth.age_yr(target)
            covered.append(found.low_yr <= optimal <= found.high_yr)
            over.append(found.low_yr > optimal)
            if valves == 1000 and lives.ended >= 20:
                large.append(found.low_yr / optimal)
    assert len(covered) > 200
    assert 0.90 <= np.mean(covered) <= 0.99
    assert np.mean(over) <= 0.05
    assert np.median(large) >= 0.6
