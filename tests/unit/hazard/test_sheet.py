"""The hazard sheet: what stands on it, what is refused, and what is said when something is not known."""

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.hazard import ATMOSPHERE_PA, Fluid, HazardInputs, hazard_sheet
from firstlift.core.hazard.jet import distance_for_share_m, distance_for_speed_m, mass_share
from firstlift.core.hazard.liquid import liquid_flow_kg_s
from firstlift.core.hazard.noise import distance_for_level_m
from firstlift.core.valve import Medium, circle_area_m2

BORE = circle_area_m2(0.028)
OUTLET = circle_area_m2(0.1023)


def steam(**changes):
    given = {"relieving_pressure_pa": 10e5, "flow_area_m2": BORE, "outlet_area_m2": OUTLET, "hazards": ("hot",)}
    return HazardInputs(**{"fluid": Fluid(Medium.STEAM), **given, **changes})


def gas(**changes):
    return steam(fluid=Fluid(Medium.GAS, "Methane", 293.15), **changes)


def liquid(temperature_k=293.15, **changes):
    return steam(fluid=Fluid(Medium.LIQUID, "Water", temperature_k), **changes)


def codes(sheet):
    return {finding.code for finding in sheet.findings}


def test_steam_sheet_holds_every_part():
    sheet = hazard_sheet(steam())
    # Napier by hand: 51.5 * 0.9544 in2 * 159.73 psia * 0.975 = 7655 lb/h = 0.9646 kg/s
    assert sheet.mass_flow_kg_per_s == pytest.approx(0.9646, rel=1e-3)
    assert sheet.sudden_reaction_n == pytest.approx(2.0 * sheet.reaction_n)
    assert [row.distance_m for row in sheet.noise] == [10.0, 30.0]
    assert sheet.noise[1].level_db == pytest.approx(sheet.noise_at_30_m_db)
    assert sheet.people_distance_m >= max(row.distance_m for row in sheet.keep_away if row.reason.startswith("jet"))
    assert "hazard-owner-decides" in codes(sheet)


def test_saturated_steam_comes_out_superheated():
    sheet = hazard_sheet(steam())
    assert 373.15 < sheet.discharge_temperature_k < 457.0
    assert "hazard-hot-jet" in codes(sheet)


def test_a_gas_that_cools_by_throttling_is_said():
    sheet = hazard_sheet(steam(fluid=Fluid(Medium.GAS, "CarbonDioxide", 273.15), relieving_pressure_pa=30e5))
    assert sheet.discharge_temperature_k < 250.0
    assert {"hazard-icing", "hazard-brittle"} & codes(sheet)


def test_a_flashing_liquid_gets_no_number_and_a_severe_warning():
    sheet = hazard_sheet(liquid(temperature_k=433.15))
    assert sheet.mass_flow_kg_per_s is None
    assert sheet.reaction_n is None
    assert "hazard-flashing" in codes(sheet)


def test_a_cold_liquid_has_flow_and_no_noise():
    sheet = hazard_sheet(liquid())
    # 0.65 * 615.75 mm2 * sqrt(2 * 998.6 * 1e6): incompressible flow by hand
    assert sheet.mass_flow_kg_per_s == pytest.approx(0.65 * BORE * (2.0 * 998.6 * 10e5) ** 0.5, rel=1e-3)
    assert sheet.noise_at_30_m_db is None
    assert "hazard-liquid-jet" in codes(sheet)


def test_a_liquid_of_unknown_vapour_pressure_is_warned_about():
    sheet = hazard_sheet(steam(fluid=Fluid(Medium.LIQUID, density_kg_m3=850.0)))
    assert "hazard-flashing-unknown" in codes(sheet)
    assert sheet.mass_flow_kg_per_s is not None


def test_without_an_outlet_there_is_no_reaction_and_it_is_said():
    sheet = hazard_sheet(gas(outlet_area_m2=None))
    assert sheet.reaction_n is None
    assert "hazard-outlet-unknown" in codes(sheet)


def test_a_closed_header_keeps_no_jet_distance():
    sheet = hazard_sheet(gas(closed_discharge=True))
    assert sheet.keep_away == ()
    assert "hazard-closed-header" in codes(sheet)


def test_a_harmful_share_gives_its_own_distance():
    near, far = (hazard_sheet(gas(harmful_share=share)) for share in (0.022, 0.0022))
    reach = [next(r.distance_m for r in s.keep_away if r.reason == "jet-harmful") for s in (near, far)]
    assert reach[1] == pytest.approx(10.0 * reach[0], rel=0.02)


def test_what_is_entered_by_hand_holds_before_the_library():
    sheet = hazard_sheet(steam(fluid=Fluid(Medium.GAS, "Methane", 293.15, molar_mass_kg_mol=0.0200, heat_ratio=1.25)))
    lighter = hazard_sheet(gas())
    assert sheet.mass_flow_kg_per_s > lighter.mass_flow_kg_per_s


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"fluid": Fluid(Medium.GAS)}, "HAZ-002"),
        ({"fluid": Fluid(Medium.LIQUID)}, "HAZ-002"),
        ({"fluid": Fluid(Medium.GAS, "Methane")}, "HAZ-002"),
        ({"fluid": Fluid(Medium.GAS, "Unobtainium", 300.0)}, "HAZ-007"),
        ({"fluid": Fluid(Medium.GAS, "Water", 300.0)}, "HAZ-007"),
        ({"distances_m": (0.0,)}, "HAZ-003"),
        ({"distances_m": (1e6,)}, "HAZ-003"),
        ({"distances_m": (float("nan"),)}, "HAZ-003"),
        ({"relieving_pressure_pa": -1.0}, "HAZ-001"),
        ({"relieving_pressure_pa": float("nan")}, "HAZ-001"),
        ({"flow_area_m2": 0.0}, "HAZ-001"),
        ({"discharge_coefficient": 1.5}, "HAZ-001"),
        ({"back_pressure_pa": 11e5}, "HAZ-001"),
        ({"ambient_temperature_k": 20.0}, "HAZ-001"),
        ({"relieving_pressure_pa": 250e5}, "HAZ-004"),
        ({"fluid": Fluid(Medium.STEAM, temperature_k=1000.0)}, "HAZ-004"),
        ({"fluid": Fluid(Medium.STEAM, temperature_k=400.0)}, "HAZ-005"),
    ],
)
def test_what_makes_no_sense_is_refused(changes, code):
    with pytest.raises(FirstliftError) as refused:
        hazard_sheet(steam(**changes))
    assert code in {problem.code for problem in refused.value.problems}


def test_everything_missing_is_said_at_once():
    with pytest.raises(FirstliftError) as refused:
        hazard_sheet(steam(fluid=Fluid(Medium.GAS), distances_m=(0.0, 1e9)))
    assert len(refused.value.problems) == 5


def test_the_jet_slows_and_thins_with_one_over_the_distance():
    assert distance_for_speed_m(1000.0, 5.0, 1.2) == pytest.approx(2.0 * distance_for_speed_m(1000.0, 10.0, 1.2))
    assert distance_for_share_m(1.0, 500.0, 0.01, 1.2) == pytest.approx(
        10.0 * distance_for_share_m(1.0, 500.0, 0.1, 1.2)
    )
    # an incompressible air jet of 0.1 m and 50 m/s: 6 * 0.1 m * 50 / 10
    area, speed, air = circle_area_m2(0.1), 50.0, 1.2
    assert distance_for_speed_m(air * area * speed**2, 10.0, air) == pytest.approx(3.0)
    assert distance_for_share_m(air * area * speed, air * area * speed**2, 0.5, air) == pytest.approx(1.0)


def test_twenty_decibels_are_ten_times_the_distance():
    assert distance_for_level_m(115.0, 95.0) == pytest.approx(300.0)


def test_a_volume_share_of_air_itself_is_its_mass_share():
    assert mass_share(0.3, 0.0289652) == pytest.approx(0.3)


def test_the_atmosphere_is_added_once():
    assert steam().relieving_pa_abs == 10e5 + ATMOSPHERE_PA


def test_the_relation_itself_refuses_a_liquid_that_flashes():
    with pytest.raises(FirstliftError, match="HAZ-006"):
        liquid_flow_kg_s(BORE, 11e5, 1.013e5, density_kg_m3=907.0, vapour_pressure_pa_abs=6.18e5)
    assert liquid_flow_kg_s(BORE, 11e5, 1.013e5, density_kg_m3=998.0, vapour_pressure_pa_abs=2.3e3) > 0.0
