"""Can this pull decide: the decision map against sampling, and the lowest line pressure."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.made_plans import BAR, EDGES, make_inputs, make_job

from firstlift.core.observe import whole
from firstlift.core.plan.decide import find_edges, lowest_line_pa, middle_pa, probability_decided
from firstlift.core.plan.forecast import balance_at, forecast_budget, forecast_lines, forecast_spread
from firstlift.core.plan.help import find_levers, with_better_area
from firstlift.core.plan.inputs import LEAST_LINE_SHARE
from firstlift.core.plan.plan import decision_map
from firstlift.core.tolerance.judge import judge
from firstlift.core.uncertainty.montecarlo import sample
from firstlift.core.valve import land_area_m2
from firstlift.usecases.analyse import limits_of

TRIALS = 200_000


def sampled_probability(job, limits, line_pa, reading_pa, u_moment_pa, generator):
    """Sample line, pull, area and moment through the force balance: how often the truth lies within the limits."""
    balance = balance_at(job, line_pa, reading_pa)
    area = balance.area_m2
    line = line_pa * (1.0 + 0.002 * generator.standard_normal(TRIALS))
    pull = balance.pull_force_n * (1.0 + 0.003 * generator.standard_normal(TRIALS))
    seat = job.seat
    areas = area + seat.u_area_m2 * generator.standard_normal(TRIALS)
    areas = areas + seat.half_width_m2 * generator.uniform(-1.0, 1.0, TRIALS)
    truth = line + pull / areas + u_moment_pa * generator.standard_normal(TRIALS)
    truth = truth + limits.pop_distance_pa * generator.random(TRIALS)
    return float(np.mean((truth >= limits.lower_pa) & (truth <= limits.upper_pa)))


@pytest.mark.parametrize(
    ("sheet", "margin"),
    # the budget is of first order, and pull over area is convex in the area: for a seat known to 7 % between its
    # edges, on a low line, that is worth up to 0.02 of the probability; for a measured one less than samples show
    [({}, 0.003), ({"code": "asme-xiii"}, 0.003), ({"seat": EDGES}, 0.02)],
    ids=["mean", "pop", "edges"],
)
def test_the_decision_map_agrees_with_sampling(sheet, margin):
    """A verdict on the map is the one that samples of the whole force balance give, wherever samples can tell."""
    generator = np.random.default_rng(20)
    inputs = make_inputs(sheet=sheet)
    job, limits = inputs.job, inputs.limits
    told = 0
    for edges in decision_map(inputs, 6):
        for reading in np.linspace(0.93, 1.07, 15) * 10 * BAR:
            within = sampled_probability(job, limits, edges.line_pressure_pa, reading, 4e3, generator)
            if min(abs(within - 0.95), abs(within - 0.05)) < margin:
                continue
            expected = "within" if within >= 0.95 else "outside" if within <= 0.05 else "undecided"
            assert edges.outcome(reading) == expected, (edges, reading, within)
            told += 1
    assert told > 60


def test_the_decision_map_agrees_with_samples_of_the_budgets_own_lines():
    """Rectangles and all, as the budget has them: then no margin is needed but the samples' own."""
    generator = np.random.default_rng(21)
    inputs = make_inputs(sheet={"seat": EDGES})
    limits = inputs.limits
    for edges in decision_map(inputs, 6):
        for reading in np.linspace(0.93, 1.07, 15) * 10 * BAR:
            truth = np.full(TRIALS, reading)
            for line in forecast_lines(inputs.job, edges.line_pressure_pa, reading, 4e3):
                u = abs(line.sensitivity) * line.standard_uncertainty
                flat = line.distribution == "rectangular"
                drawn = generator.uniform(-1.0, 1.0, TRIALS) * 3**0.5 if flat else generator.standard_normal(TRIALS)
                truth += u * drawn
            within = float(np.mean((truth >= limits.lower_pa) & (truth <= limits.upper_pa)))
            if min(abs(within - 0.95), abs(within - 0.05)) > 0.002:
                expected = "within" if within >= 0.95 else "outside" if within <= 0.05 else "undecided"
                assert edges.outcome(reading) == expected


def test_the_chance_of_a_decision_agrees_with_simulated_pulls():
    """Valves drawn about their stamp, pulls drawn with the stated errors: as many are decided as was said."""
    generator = np.random.default_rng(7)
    inputs = make_inputs(7.5)
    edges = find_edges(inputs.job, inputs.limits, 7.5 * BAR, 4e3)
    true = 10 * BAR * (1.0 + 0.03 * generator.standard_normal(TRIALS))
    area = inputs.job.seat.area_m2
    u_area = inputs.job.seat.u_area_m2
    pull = (true - 7.5 * BAR) * area * (1.0 + 0.003 * generator.standard_normal(TRIALS))
    line = 7.5 * BAR * (1.0 + 0.002 * generator.standard_normal(TRIALS))
    reading = (
        line + pull / (area + u_area * generator.standard_normal(TRIALS)) + 4e3 * generator.standard_normal(TRIALS)
    )
    inside = (reading >= edges.within_low_pa) & (reading <= edges.within_high_pa)
    decided = inside | (reading <= edges.outside_low_pa) | (reading >= edges.outside_high_pa)
    u = forecast_spread(inputs.job, 7.5 * BAR, 10 * BAR, 4e3).standard_uncertainty
    said = probability_decided(edges, 10 * BAR, math.hypot(0.03 * 10 * BAR, u))
    assert said == pytest.approx(float(decided.mean()), abs=0.01)


@pytest.mark.parametrize("sheet", [{}, {"seat": EDGES}, {"code": "asme-xiii"}, {"decision": "simple"}])
def test_the_map_says_what_the_decision_rule_says(sheet):
    """The verdict on a pull once made, by its whole budget, is the one that the map showed beforehand."""
    generator = np.random.default_rng(9)
    inputs = make_inputs(sheet=sheet)
    job, limits = inputs.job, inputs.limits
    for line in (4.0, 6.5, 9.0):
        edges = find_edges(job, limits, line * BAR, 4e3)
        for reading in generator.uniform(9.3, 10.7, 25) * BAR:
            budget = forecast_budget(job, line * BAR, reading, 4e3)
            rule = (job.rules.decision, job.rules.decision_probability)
            judged = judge(reading, budget, limits, *rule, limits.pop_distance_pa)
            assert edges.outcome(reading) == str(judged.outcome)


def test_first_order_agrees_with_sampling_through_the_library():
    job = make_job(seat=EDGES)
    lines = forecast_lines(job, 6 * BAR, 10 * BAR, 4e3)
    drawn = sample(
        lambda *parts: (
            10 * BAR + sum(line.sensitivity * (part - line.value) for part, line in zip(parts, lines, strict=True))
        ),
        lines,
        generator=np.random.default_rng(1),
    )
    spread = forecast_spread(job, 6 * BAR, 10 * BAR, 4e3)
    assert drawn.standard_uncertainty == pytest.approx(spread.standard_uncertainty, rel=0.01)


def test_the_lowest_line_is_where_the_middle_turns_within():
    job = make_job(seat=EDGES)
    limits = limits_of(job)
    lowest = lowest_line_pa(job, limits, 4e3, 9.5 * BAR)
    above, below = (find_edges(job, limits, lowest + step, 4e3) for step in (500.0, -500.0))
    assert above.outcome(middle_pa(limits)) == "within"
    assert below.within_low_pa is None


def test_the_lowest_line_by_hand():
    """Area known to 4 % (k = 1) and nothing else: 1.96 (1 - line/set) 4 % = 3 % where the verdict turns."""
    job = make_job()
    seat = replace(job.seat, u_area_m2=0.04 * job.seat.area_m2)
    exact = replace(job, seat=seat, channels=tuple(replace(c, relative_standard_uncertainty=0.0) for c in job.channels))
    lowest = lowest_line_pa(exact, limits_of(exact), 0.0, 9.9 * BAR)
    assert lowest / (10 * BAR) == pytest.approx(1.0 - 0.03 / (1.959964 * 0.04), abs=1e-5)


def test_a_line_that_shows_the_spring_only_never_decides():
    assert LEAST_LINE_SHARE == whole._SPRING_ONLY
    job = make_job(seat='mean_diameter = "30 mm"\nstandard_uncertainty = "0 mm"')
    assert lowest_line_pa(job, limits_of(job), 1e3, 9.5 * BAR) == LEAST_LINE_SHARE * 10 * BAR
    assert lowest_line_pa(job, limits_of(job), 1e3, 2.0 * BAR) is None


def test_where_no_line_pressure_is_enough_none_is_given():
    job = make_job()
    assert lowest_line_pa(job, limits_of(job), 0.03 * 10 * BAR, 9.5 * BAR) is None


def test_a_simple_rule_always_decides():
    job = make_job(decision="simple")
    limits = limits_of(job)
    edges = find_edges(job, limits, 2 * BAR, 4e3)
    assert lowest_line_pa(job, limits, 4e3, 9.5 * BAR) == LEAST_LINE_SHARE * 10 * BAR
    assert probability_decided(edges, 10 * BAR, 0.3 * BAR) == pytest.approx(1.0)
    assert edges.outcome(10.3 * BAR) == "within"


def test_more_line_widens_what_is_within_and_narrows_what_stays_open():
    inputs = make_inputs(sheet={"seat": EDGES})
    rows = [row for row in decision_map(inputs, 10) if row.within_low_pa is not None]
    widths = [row.within_high_pa - row.within_low_pa for row in rows]
    gaps = [row.outside_high_pa - row.within_high_pa for row in rows]
    assert widths == sorted(widths)
    assert gaps == sorted(gaps, reverse=True)
    assert len(rows) > 3


def test_the_levers_name_the_worst_known_part_first():
    levers = find_levers(make_inputs(6.5, sheet={"seat": EDGES}, highest_line_pa=7 * BAR))
    assert levers[0].action == "as-planned"
    assert levers[1].action == "better-area"
    gauge = find_levers(make_inputs(9.0, sheet={"seat": 'mean_diameter = "30 mm"\nstandard_uncertainty = "0 mm"'}))
    assert gauge[1].action == "better-gauge"


def test_a_line_that_may_not_be_raised_is_no_lever():
    levers = find_levers(make_inputs(8.0, highest_line_pa=8.0 * BAR))
    assert "more-line" not in {lever.action for lever in levers}


def test_a_better_area_keeps_its_place():
    job = make_job(seat=EDGES)
    better = with_better_area(job)
    assert better.seat.area_m2 == land_area_m2(0.029, 0.031)
    assert better.seat.half_width_m2 == pytest.approx(0.5 * job.seat.half_width_m2)
