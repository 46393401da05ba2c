"""The hazard sheet: all that may happen if the valve opens fully, as one frozen record."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from firstlift.core.errors import Finding, Severity
from firstlift.core.hazard.away import BURN_K, KeepAway, NoiseAt, hearing_distances, jet_distances, noise_at
from firstlift.core.hazard.gas import gas_flow_kg_s, sound_speed_m_s
from firstlift.core.hazard.inputs import ATMOSPHERE_PA, Fluid, HazardInputs, check_inputs
from firstlift.core.hazard.jet import Discharged, discharge_state, known_properties, liquid_properties
from firstlift.core.hazard.liquid import flashes, liquid_flow_kg_s
from firstlift.core.hazard.noise import noise_db
from firstlift.core.hazard.reaction import Reaction, gas_reaction, liquid_reaction
from firstlift.core.hazard.steam import saturation_temperature_k, steam_flow_kg_s
from firstlift.core.valve import Medium

FORMAT = "firstlift-hazard-1"
# steam: ideal-gas ratio of specific heats and molar mass of water (API 520-II worked practice, memory)
STEAM_HEAT_RATIO = 1.3
STEAM_MOLAR_MASS_KG_MOL = 0.018015
_BRITTLE_K = 244.15
# no relation here holds within a few metres of the outlet: nobody stands there (common practice)
_LEAST_KEPT_M = 5.0


@dataclass(frozen=True, slots=True)
class HazardSheet:
    """What may happen if the valve opens fully; None where it does not apply or cannot be said."""

    format: str
    medium: str
    fluid: str
    relieving_pressure_pa: float
    flow_area_m2: float
    discharge_coefficient: float
    mass_flow_kg_per_s: float | None
    reaction_n: float | None
    sudden_reaction_n: float | None
    exit_pressure_pa: float | None
    noise_at_30_m_db: float | None
    noise: tuple[NoiseAt, ...]
    discharge_temperature_k: float | None
    keep_away: tuple[KeepAway, ...]
    people_distance_m: float | None
    hazards: tuple[str, ...]
    findings: tuple[Finding, ...]


def hazard_sheet(inputs: HazardInputs) -> HazardSheet:
    """Work out what may happen if the valve opens fully.

    Parameters
    ----------
    inputs : HazardInputs

    Returns
    -------
    HazardSheet
        A liquid that flashes gets no flow, reaction or distance: the relations do not hold, and a severe
        finding says so.

    Raises
    ------
    FirstliftError
        HAZ-001 to HAZ-005, HAZ-007: a number out of range, missing data, a state the relations do not cover.
    """
    inputs = _completed(inputs)
    check_inputs(inputs)
    fluid = inputs.fluid
    outlet = ATMOSPHERE_PA + inputs.back_pressure_pa
    findings = _cautions(inputs)
    boils = flashes(fluid.vapour_pressure_pa_abs, outlet) if fluid.medium is Medium.LIQUID else False
    if boils:
        parameters = {"vapour_pressure_pa": (fluid.vapour_pressure_pa_abs or 0.0) - ATMOSPHERE_PA}
        findings.append(_said("hazard-flashing", Severity.SEVERE, parameters))
        return _sheet(inputs, findings)
    if fluid.medium is Medium.LIQUID and not inputs.closed_discharge:
        findings.append(_said("hazard-liquid-jet", Severity.WARNING))
    if boils is None:
        findings.append(_said("hazard-flashing-unknown", Severity.WARNING))
    flow = _flow(inputs, outlet)
    reaction = _reaction(inputs, flow)
    if reaction is None:
        findings.append(_said("hazard-outlet-unknown", Severity.WARNING))
    state = _discharged(inputs)
    if state is not None:
        findings.extend(_temperature_findings(state, inputs.ambient_temperature_k))
    level = _noise_at_30_m(inputs, flow, outlet)
    away = [] if inputs.closed_discharge else [*hearing_distances(level), *jet_distances(inputs, flow, reaction, state)]
    return _sheet(inputs, findings, flow, reaction, state, level, away)


def _sheet(
    inputs: HazardInputs,
    findings: list[Finding],
    flow: float | None = None,
    reaction: Reaction | None = None,
    state: Discharged | None = None,
    level: float | None = None,
    away: list[KeepAway] | None = None,
) -> HazardSheet:
    noise = () if level is None else tuple(noise_at(level, distance) for distance in inputs.distances_m)
    # hearing is kept by protection and time; the jet and what cannot be lived with are kept by distance
    kept = [entry.distance_m for entry in away or [] if not entry.reason.endswith(("action", "day"))]
    return HazardSheet(
        format=FORMAT,
        medium=str(inputs.fluid.medium),
        fluid=inputs.fluid.name,
        relieving_pressure_pa=inputs.relieving_pressure_pa,
        flow_area_m2=inputs.flow_area_m2,
        discharge_coefficient=inputs.coefficient,
        mass_flow_kg_per_s=flow,
        reaction_n=reaction.total_n if reaction else None,
        sudden_reaction_n=2.0 * reaction.total_n if reaction else None,
        exit_pressure_pa=max(0.0, reaction.exit_pressure_pa_abs - ATMOSPHERE_PA) if reaction else None,
        noise_at_30_m_db=level,
        noise=noise,
        discharge_temperature_k=state.temperature_k if state else None,
        keep_away=tuple(away or ()),
        people_distance_m=max([_LEAST_KEPT_M, *kept]) if kept else None,
        hazards=inputs.hazards,
        findings=tuple(findings),
    )


def _completed(inputs: HazardInputs) -> HazardInputs:
    """Fill what a named fluid's equation of state knows; what was entered by hand holds."""
    fluid = inputs.fluid
    pressure = inputs.relieving_pa_abs
    if not (math.isfinite(pressure) and pressure > 0.0):
        return inputs
    if fluid.medium is Medium.STEAM:
        steam = replace(fluid, name="Water", molar_mass_kg_mol=STEAM_MOLAR_MASS_KG_MOL, heat_ratio=STEAM_HEAT_RATIO)
        return replace(inputs, fluid=steam)
    if not fluid.name or fluid.temperature_k is None:
        return inputs
    if fluid.medium is Medium.LIQUID:
        density, vapour = liquid_properties(fluid.name, pressure, fluid.temperature_k)
        entered = fluid.vapour_pressure_pa_abs
        return replace(
            inputs,
            fluid=replace(
                fluid,
                density_kg_m3=fluid.density_kg_m3 or density,
                vapour_pressure_pa_abs=vapour if entered is None else entered,
            ),
        )
    molar_mass, heat_ratio, compressibility, _ = known_properties(fluid.name, pressure, fluid.temperature_k)
    by_hand = fluid.molar_mass_kg_mol is not None
    return replace(
        inputs,
        fluid=replace(
            fluid,
            molar_mass_kg_mol=fluid.molar_mass_kg_mol or molar_mass,
            heat_ratio=fluid.heat_ratio or heat_ratio,
            compressibility=fluid.compressibility if by_hand else compressibility,
        ),
    )


def _flow(inputs: HazardInputs, outlet_pa_abs: float) -> float:
    fluid, area, inlet = inputs.fluid, inputs.flow_area_m2, inputs.relieving_pa_abs
    if fluid.medium is Medium.STEAM:
        return steam_flow_kg_s(area, inlet, fluid.temperature_k, coefficient=inputs.coefficient)
    if fluid.medium is Medium.LIQUID:
        return liquid_flow_kg_s(
            area,
            inlet,
            outlet_pa_abs,
            density_kg_m3=fluid.density_kg_m3 or 0.0,
            coefficient=inputs.coefficient,
            vapour_pressure_pa_abs=fluid.vapour_pressure_pa_abs,
        )
    return gas_flow_kg_s(
        area,
        inlet,
        outlet_pa_abs,
        temperature_k=_at_rest_k(inputs),
        molar_mass_kg_mol=fluid.molar_mass_kg_mol or 0.0,
        heat_ratio=fluid.heat_ratio or 0.0,
        compressibility=fluid.compressibility,
        coefficient=inputs.coefficient,
    )


def _at_rest_k(inputs: HazardInputs) -> float:
    known = inputs.fluid.temperature_k
    return known if known is not None else saturation_temperature_k(inputs.relieving_pa_abs)


def _reaction(inputs: HazardInputs, flow: float) -> Reaction | None:
    fluid, outlet = inputs.fluid, inputs.outlet_area_m2
    if outlet is None:
        return None
    if fluid.medium is Medium.LIQUID:
        return liquid_reaction(flow, outlet, fluid.density_kg_m3 or 0.0)
    return gas_reaction(
        flow,
        outlet,
        temperature_k=_at_rest_k(inputs),
        molar_mass_kg_mol=fluid.molar_mass_kg_mol or 0.0,
        heat_ratio=fluid.heat_ratio or 0.0,
    )


def _discharged(inputs: HazardInputs) -> Discharged | None:
    fluid = inputs.fluid
    named = fluid.name and (fluid.medium is Medium.STEAM or fluid.temperature_k is not None)
    return discharge_state(fluid.name, inputs.relieving_pa_abs, fluid.temperature_k) if named else None


def _noise_at_30_m(inputs: HazardInputs, flow: float, outlet_pa_abs: float) -> float | None:
    fluid = inputs.fluid
    if fluid.medium is Medium.LIQUID:
        return None
    speed = sound_speed_m_s(_at_rest_k(inputs), fluid.molar_mass_kg_mol or 0.0, fluid.heat_ratio or 0.0)
    return noise_db(flow, inputs.relieving_pa_abs, outlet_pa_abs, speed, 30.0)


def _cautions(inputs: HazardInputs) -> list[Finding]:
    findings = [_said("hazard-owner-decides", Severity.WARNING)]
    if inputs.discharge_coefficient is None:
        parameters = {"coefficient": inputs.coefficient}
        findings.append(_said("hazard-coefficient-assumed", Severity.INFO, parameters))
    if not inputs.hazards:
        findings.append(_said("hazard-medium-unstated", Severity.WARNING))
    if inputs.closed_discharge:
        findings.append(_said("hazard-closed-header", Severity.WARNING))
    return findings


def _temperature_findings(state: Discharged, ambient_k: float) -> list[Finding]:
    parameters = {"temperature_k": state.temperature_k}
    findings: list[Finding] = []
    if state.vapour_share is not None and state.vapour_share < 1.0:
        parameters_wet = {**parameters, "liquid_share": 1.0 - state.vapour_share}
        findings.append(_said("hazard-wet-jet", Severity.WARNING, parameters_wet))
    if state.temperature_k < _BRITTLE_K:
        findings.append(_said("hazard-brittle", Severity.SEVERE, parameters))
    elif state.temperature_k < 273.15 < ambient_k:
        findings.append(_said("hazard-icing", Severity.WARNING, parameters))
    if state.temperature_k > BURN_K:
        findings.append(_said("hazard-hot-jet", Severity.WARNING, parameters))
    return findings


def _said(code: str, severity: Severity, parameters: dict[str, float] | None = None) -> Finding:
    return Finding(code, severity, None, dict(parameters or {}))


__all__ = ["Fluid", "HazardInputs", "HazardSheet", "KeepAway", "NoiseAt", "hazard_sheet"]
