"""What must hold for every plan, sheet and turn, whatever the numbers."""

import math
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.made_plans import BAR, EDGES, make_job

from firstlift.core.adjust import AdjustInputs, advise
from firstlift.core.hazard.gas import gas_flow_kg_s
from firstlift.core.hazard.noise import distance_for_level_m, noise_db
from firstlift.core.hazard.steam import steam_flow_kg_s
from firstlift.core.plan.decide import find_edges, probability_decided
from firstlift.core.plan.forecast import balance_at, expected_pull_n, forecast_spread
from firstlift.core.plan.help import with_better_area
from firstlift.usecases.analyse import limits_of

JOBS = (make_job(), make_job(seat=EDGES), make_job(code="asme-xiii"), make_job(decision="simple"))
LINES = st.floats(0.0, 9.5)
RELAXED = settings(deadline=None, max_examples=40, derandomize=True)


@RELAXED
@given(job=st.sampled_from(JOBS), line=LINES, moment=st.floats(0.0, 0.05))
def test_what_is_within_lies_between_what_is_outside(job, line, moment):
    limits = limits_of(job)
    edges = find_edges(job, limits, line * BAR, moment * 10 * BAR)
    assert edges.outside_low_pa <= edges.outside_high_pa
    if edges.within_low_pa is not None:
        assert edges.outside_low_pa <= edges.within_low_pa <= edges.within_high_pa <= edges.outside_high_pa
        # where the rule means pop, first lift may lie below the lower limit by that unknown distance
        assert limits.lower_pa - limits.pop_distance_pa <= edges.within_low_pa
        assert edges.within_high_pa <= limits.upper_pa


@RELAXED
@given(job=st.sampled_from(JOBS[:3]), line=st.floats(0.5, 9.0))
def test_a_better_area_never_hurts(job, line):
    limits, better = limits_of(job), with_better_area(job)
    wide, narrow = (find_edges(one, limits, line * BAR, 3e3) for one in (job, better))
    assert narrow.best_probability >= wide.best_probability - 1e-9
    u = [forecast_spread(one, line * BAR, 10 * BAR, 3e3).standard_uncertainty for one in (job, better)]
    assert u[1] <= u[0]


@RELAXED
@given(mean=st.floats(5.0, 15.0), deviation=st.floats(0.0, 2.0), line=LINES)
def test_a_chance_is_a_chance(mean, deviation, line):
    edges = find_edges(JOBS[0], limits_of(JOBS[0]), line * BAR, 4e3)
    assert 0.0 <= probability_decided(edges, mean * BAR, deviation * BAR) <= 1.0


@settings(RELAXED, max_examples=200)
@given(line=st.floats(0.0, 12.0), set_bar=st.floats(0.5, 15.0))
def test_the_pull_and_the_set_pressure_are_two_sides_of_one_balance(line, set_bar):
    balance = balance_at(JOBS[0], line * BAR, set_bar * BAR)
    assert math.isclose(balance.set_pressure_pa, set_bar * BAR, rel_tol=1e-9)
    more = expected_pull_n(JOBS[0], (line + 1.0) * BAR, set_bar * BAR)
    assert math.isclose(balance.pull_force_n - more, BAR * balance.area_m2, rel_tol=1e-6)


@settings(RELAXED, max_examples=200)
@given(inlet=st.floats(1.2e5, 2e7), outlet=st.floats(1e5, 1.1e5), k=st.floats(1.05, 1.67), t=st.floats(200.0, 900.0))
def test_more_pressure_means_more_flow(inlet, outlet, k, t):
    state = {"temperature_k": t, "molar_mass_kg_mol": 0.028, "heat_ratio": k}
    low, high = (gas_flow_kg_s(1e-3, p, outlet, **state) for p in (inlet, 1.01 * inlet))
    assert 0.0 < low < high
    # no more than the choked flow at that inlet, wherever the outlet stands
    assert low <= gas_flow_kg_s(1e-3, inlet, 0.0, **state) * (1.0 + 1e-9)


@settings(RELAXED, max_examples=100)
@given(pressure=st.floats(2e5, 2.1e7))
def test_steam_flow_grows_with_pressure(pressure):
    assert steam_flow_kg_s(1e-3, pressure, None) < steam_flow_kg_s(1e-3, 1.01 * pressure, None)


@settings(RELAXED, max_examples=100)
@given(flow=st.floats(0.01, 100.0), level=st.floats(60.0, 140.0))
def test_the_distance_of_a_level_is_where_that_level_is(flow, level):
    at_30 = noise_db(flow, 1.1e6, 101325.0, 450.0, 30.0)
    distance = distance_for_level_m(at_30, level)
    assert math.isclose(noise_db(flow, 1.1e6, 101325.0, 450.0, distance), level, rel_tol=1e-9)


@settings(RELAXED, max_examples=100)
@given(reading=st.floats(7.0, 13.0), rate=st.floats(1e4, 2e5), pitch=st.floats(0.5e-3, 4e-3))
def test_a_turn_never_goes_the_wrong_way(reading, rate, pitch):
    job = make_job()
    valve = replace(job.valve, spring_rate_n_m=rate, screw_pitch_m=pitch)
    advice = advise(
        AdjustInputs(
            valve=valve,
            seat=job.seat,
            limits=limits_of(job),
            reading_pa=reading * BAR,
            u_reading_pa=3e3,
            target_pa=10 * BAR,
            authorised_by="owner",
            line_pressure_pa=5 * BAR,
            pull_off=True,
            mawp_pa=10 * BAR,
        )
    )
    assert not advice.blocked
    assert advice.flats * (10.0 - reading) >= 0.0
    # rounding to a quarter of a flat leaves at most an eighth of one
    assert abs(advice.expected_pa - 10 * BAR) <= advice.effect_pa_per_turn / 6.0 / 8.0 * (1.0 + 1e-9)
