"""What a turn does: combined from spring and experience, and the cold pressure both ways."""

from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.adjust.cold import cold_pressure, temperature_multiplier
from firstlift.core.adjust.screw import Effect, Turned, combine_effects, learn_effect
from firstlift.core.errors import FirstliftError
from firstlift.core.setpressure import Balance, back_pressure_terms
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Valve, ValveType

BAR = 1e5
AREA = 7.0686e-4
PLAIN = Valve("PSV-1", "1", parse_quantity("10 bar", Kind.PRESSURE), Medium.GAS)


def test_a_line_through_the_origin_is_that_of_least_squares():
    generator = np.random.default_rng(5)
    turns = np.array([-0.5, 0.25, 0.5, -1.0])
    rises = 0.8 * BAR * turns + generator.normal(0.0, 0.01 * BAR, turns.size)
    turned = [Turned(t, 10 * BAR, 10 * BAR + d, 0.01 * BAR, 0.01 * BAR) for t, d in zip(turns, rises, strict=True)]
    slope = np.linalg.lstsq(turns[:, None], rises, rcond=None)[0][0]
    assert learn_effect(turned).pa_per_turn == pytest.approx(slope)


def test_learned_effects_cover_the_truth():
    generator = np.random.default_rng(11)
    inside = 0
    for _ in range(400):
        turned = [
            Turned(
                t, 10 * BAR + generator.normal(0, 2e3), 10 * BAR + 0.8 * BAR * t + generator.normal(0, 2e3), 2e3, 2e3
            )
            for t in (-0.5, 0.5)
        ]
        found = learn_effect(turned)
        inside += abs(found.pa_per_turn - 0.8 * BAR) < 1.96 * found.u_pa_per_turn
    assert inside / 400 > 0.93


def test_adjustments_that_scatter_widen_the_effect():
    close = [Turned(1.0, 0, 0.80 * BAR, 1e3, 1e3), Turned(1.0, 0, 0.80 * BAR, 1e3, 1e3)]
    apart = [Turned(1.0, 0, 0.70 * BAR, 1e3, 1e3), Turned(1.0, 0, 0.90 * BAR, 1e3, 1e3)]
    assert learn_effect(apart).u_pa_per_turn > 5.0 * learn_effect(close).u_pa_per_turn


def test_nothing_known_is_nothing():
    assert learn_effect([]) is None
    assert combine_effects(None, None) is None


def test_agreeing_effects_are_weighed_by_their_variance():
    both = combine_effects(Effect(1.0, 0.1, "spring"), Effect(1.1, 0.1, "learned"))
    assert both.pa_per_turn == pytest.approx(1.05)
    assert both.u_pa_per_turn == pytest.approx(0.1 / 2**0.5)


@pytest.mark.parametrize("kind", list(ValveType))
def test_the_cold_pressure_goes_both_ways(kind):
    valve = replace(PLAIN, type=kind, superimposed_back_pressure_pa=1.5 * BAR)
    cold = cold_pressure(valve, AREA, temperature_k=320.0, multiplier=1.02, set_pressure_pa=10 * BAR)
    back = cold_pressure(valve, AREA, temperature_k=None, multiplier=1.02, cold_pressure_pa=cold.cold_pressure_pa)
    assert back.set_pressure_pa == pytest.approx(10 * BAR)


def test_a_conventional_valve_loses_its_back_pressure_on_the_bench():
    valve = replace(PLAIN, superimposed_back_pressure_pa=1.5 * BAR)
    cold = cold_pressure(valve, AREA, temperature_k=550.0, set_pressure_pa=10 * BAR)
    assert cold.cold_pressure_pa == pytest.approx(1.01 * 8.5 * BAR)
    assert cold.multiplier_assumed


def test_a_vented_bonnet_opens_higher_on_the_bench():
    valve = replace(
        PLAIN, type=ValveType.VENTED_BONNET, disc_guide_diameter_m=0.034, superimposed_back_pressure_pa=1.5 * BAR
    )
    assert cold_pressure(valve, AREA, temperature_k=300.0, set_pressure_pa=10 * BAR).cold_pressure_pa > 10 * BAR


def test_the_cold_pressure_is_that_of_the_force_balance():
    valve = replace(PLAIN, superimposed_back_pressure_pa=1.5 * BAR)
    cold = cold_pressure(valve, AREA, temperature_k=300.0, set_pressure_pa=10 * BAR).cold_pressure_pa
    terms = back_pressure_terms(valve, AREA)
    # on the bench the line alone opens it: the same balance must give the set pressure back
    assert Balance(cold, 0.0, AREA, 0.0, 1.5 * BAR, terms).set_pressure_pa == pytest.approx(10 * BAR)


@pytest.mark.parametrize(
    "changes",
    [
        {"temperature_k": 900.0},
        {"temperature_k": None},
        {"temperature_k": 300.0, "multiplier": 2.0},
    ],
)
def test_an_unknown_multiplier_is_refused(changes):
    with pytest.raises(FirstliftError, match="ADJ-003"):
        cold_pressure(PLAIN, AREA, set_pressure_pa=10 * BAR, **changes)


def test_a_hot_vented_bonnet_needs_the_makers_multiplier():
    with pytest.raises(FirstliftError, match="ADJ-003"):
        temperature_multiplier(500.0, ValveType.VENTED_BONNET)


@pytest.mark.parametrize(
    "pressures", [{}, {"set_pressure_pa": 1e6, "cold_pressure_pa": 1e6}, {"set_pressure_pa": 1.0 * BAR}]
)
def test_a_pressure_that_leaves_nothing_is_refused(pressures):
    valve = replace(PLAIN, superimposed_back_pressure_pa=1.5 * BAR)
    with pytest.raises(FirstliftError, match="ADJ-004"):
        cold_pressure(valve, AREA, temperature_k=300.0, **pressures)
