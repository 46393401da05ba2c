"""The advisor: which way, how far, and everything that stops it."""

import pytest

from firstlift.core.adjust import Place, Turned, advise
from firstlift.core.errors import FirstliftError

BAR = 1e5


def codes(advice):
    return {finding.code for finding in advice.findings}


def test_a_high_valve_is_turned_left_by_the_springs_arithmetic(given):
    advice = advise(given())
    assert not advice.blocked
    assert advice.turns == pytest.approx(-0.4 / 0.8615927116586531, rel=1e-9)
    # -0.4643 turns are -2.786 flats; a hand sets -2.75
    assert advice.flats == -2.75
    assert advice.direction == "left"
    assert advice.expected_pa == pytest.approx((10.4 - 2.75 / 6.0 * 0.8615927116586531) * BAR)


def test_a_low_valve_is_turned_right(given):
    advice = advise(given(reading_pa=9.6 * BAR))
    assert advice.direction == "right"
    assert advice.flats == 2.75


def test_the_uncertainty_grows_with_the_turn(given):
    far, near = (advise(given(reading_pa=reading * BAR)) for reading in (10.8, 10.1))
    assert far.u_expected_pa > near.u_expected_pa > 0.03 * BAR
    assert far.u_turns > near.u_turns


def test_the_probability_after_the_turn_is_that_of_the_decision_rule(given):
    sure, unsure = (advise(given(u_reading_pa=u * BAR)) for u in (0.02, 0.4))
    assert sure.probability_within > 0.99 > unsure.probability_within


def test_a_valve_at_its_target_is_left_alone(given):
    advice = advise(given(reading_pa=10.01 * BAR))
    assert advice.direction == "none"
    assert "adjust-nothing-to-do" in codes(advice)


@pytest.mark.parametrize(
    ("changes", "valve", "code"),
    [
        ({"authorised_by": " "}, {}, "adjust-not-authorised"),
        ({"reading_codes": ("leaking-before-lift",)}, {}, "adjust-leaking"),
        ({"reading_codes": ("stayed-open",)}, {}, "adjust-stayed-open"),
        ({"reading_codes": ("eccentric-pull",)}, {}, "adjust-doubtful"),
        ({"reading_codes": ("stuck-first-pull",)}, {}, "adjust-doubtful"),
        ({"pull_off": False}, {}, "adjust-pull-on"),
        ({"line_pressure_pa": None}, {}, "adjust-line-unknown"),
        ({"line_pressure_pa": 9.5 * BAR}, {}, "adjust-line-too-high"),
        ({"target_pa": 11.9 * BAR}, {}, "adjust-spring-range"),
        ({"target_pa": 11.9 * BAR}, {"spring_range_high_pa": None}, "adjust-beyond-change"),
        ({"target_pa": 10.2 * BAR}, {}, "adjust-above-code"),
        ({}, {"spring_rate_n_m": None}, "adjust-no-spring-data"),
    ],
)
def test_what_stops_an_adjustment(given, changes, valve, code):
    advice = advise(given(valve=valve, **changes))
    assert advice.blocked
    assert (advice.turns, advice.flats, advice.hold_points) == (None, None, ())
    assert code in codes(advice)


def test_findings_that_do_not_touch_the_setting_do_not_stop_it(given):
    assert not advise(given(reading_codes=("temperature-missing", "friction"))).blocked


@pytest.mark.parametrize(
    ("code", "place", "allowed"),
    [
        ("asme-i", Place.FURTHER, 10.3),
        ("asme-xiii", Place.FURTHER, 10.5),
        ("asme-xiii", Place.FIRE, 11.0),
        ("iso-4126-1", Place.FURTHER, 10.0),
    ],
)
def test_a_further_valve_may_go_as_far_as_its_code_says(given, code, place, allowed):
    valve = {"spring_range_high_pa": 12.0 * BAR}
    at = advise(given(code=code, place=place, target_pa=allowed * BAR, valve=valve))
    above = advise(given(code=code, place=place, target_pa=(allowed + 0.01) * BAR, valve=valve))
    assert at.highest_allowed_pa == pytest.approx(allowed * BAR)
    assert "adjust-above-code" not in codes(at)
    assert "adjust-above-code" in codes(above)


def test_a_silent_code_is_named_as_such(given):
    assert "adjust-group-silent" in codes(advise(given(place=Place.FURTHER)))


def test_what_was_learned_narrows_the_turn(given):
    turned = (Turned(-0.5, 10.4 * BAR, 9.98 * BAR, 0.01 * BAR, 0.01 * BAR),)
    taught, untaught = advise(given(turned=turned)), advise(given())
    assert taught.effect_source == "spring and learned"
    assert taught.u_effect_pa_per_turn < untaught.u_effect_pa_per_turn


def test_what_was_learned_serves_without_spring_data(given):
    turned = (Turned(-0.5, 10.4 * BAR, 10.0 * BAR, 0.01 * BAR, 0.01 * BAR),)
    advice = advise(given(turned=turned, valve={"spring_rate_n_m": None, "screw_pitch_m": None}))
    assert advice.effect_source == "learned"
    assert advice.effect_pa_per_turn == pytest.approx(0.8 * BAR)


def test_a_wrong_spring_is_said_and_what_was_learned_holds(given):
    turned = (Turned(-0.5, 10.4 * BAR, 9.7 * BAR, 0.01 * BAR, 0.01 * BAR),)
    advice = advise(given(turned=turned))
    assert "adjust-effect-disagrees" in codes(advice)
    assert advice.effect_pa_per_turn == pytest.approx(1.4 * BAR)


@pytest.mark.parametrize(
    ("changes", "valve", "code"),
    [
        ({}, {"spring_rate_n_m": 0.0}, "ADJ-001"),
        ({}, {"screw_pitch_m": -1e-3}, "ADJ-001"),
        ({"turned": (Turned(0.0, 1e6, 1e6, 1e3, 1e3),)}, {}, "ADJ-002"),
        ({"turned": (Turned(1.0, 1e6, 0.9e6, 1e3, 1e3),)}, {}, "ADJ-002"),
        ({"reading_pa": 0.0}, {}, "ADJ-005"),
        ({"u_reading_pa": 0.0}, {}, "ADJ-005"),
        ({"target_pa": 20.0 * BAR}, {}, "ADJ-005"),
        ({"mawp_pa": -1.0}, {}, "ADJ-005"),
    ],
)
def test_what_makes_no_sense_is_refused(given, changes, valve, code):
    with pytest.raises(FirstliftError, match=code):
        advise(given(valve=valve, **changes))
