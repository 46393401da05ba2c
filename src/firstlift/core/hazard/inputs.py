"""What a hazard sheet is made from: the opening, the fluid, the outlet, where people stand."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.valve import Medium

ATMOSPHERE_PA = 101325.0
GAS_CONSTANT_J_MOL_K = 8.314462618

# effective coefficients of discharge of API 520-I for a valve nobody has certified values of (memory)
_COEFFICIENT = {Medium.GAS: 0.975, Medium.STEAM: 0.975, Medium.LIQUID: 0.65}


@dataclass(frozen=True, slots=True)
class Fluid:
    """The medium in numbers, SI; None where nobody knows. ``name`` is CoolProp's, empty where it has none.

    A gas needs molar mass, ratio of specific heats and temperature; steam its temperature (None: saturated); a
    liquid its density, and its vapour pressure where it may flash.
    """

    medium: Medium
    name: str = ""
    temperature_k: float | None = None
    molar_mass_kg_mol: float | None = None
    heat_ratio: float | None = None
    compressibility: float = 1.0
    density_kg_m3: float | None = None
    vapour_pressure_pa_abs: float | None = None


@dataclass(frozen=True, slots=True)
class HazardInputs:
    """Everything a hazard sheet looks at: SI, pressures gauge.

    ``relieving_pressure_pa`` stands before the open valve; ``flow_area_m2`` is the actual least area of the
    way through it, not an orifice letter's. ``outlet_area_m2`` is the inside of the outlet pipe at its end.
    ``distances_m`` are the distances at which people stand; ``harmful_share`` is the volume share in air that
    nobody should stand in, as entered; ``hazards`` are the medium's hazards in the words of whoever entered
    them. ``closed_discharge``: the outlet goes to a closed header, there is no jet.
    """

    fluid: Fluid
    relieving_pressure_pa: float
    flow_area_m2: float
    outlet_area_m2: float | None = None
    back_pressure_pa: float = 0.0
    discharge_coefficient: float | None = None
    distances_m: tuple[float, ...] = (10.0, 30.0)
    ambient_temperature_k: float = 293.15
    harmful_share: float | None = None
    hazards: tuple[str, ...] = ()
    closed_discharge: bool = False

    @property
    def coefficient(self) -> float:
        """Coefficient of discharge: the one stated, else the effective one of API 520-I."""
        stated = self.discharge_coefficient
        return _COEFFICIENT[self.fluid.medium] if stated is None else stated

    @property
    def relieving_pa_abs(self) -> float:
        """Pressure before the open valve, [Pa absolute]."""
        return self.relieving_pressure_pa + ATMOSPHERE_PA


def check_inputs(inputs: HazardInputs) -> None:
    """Hold the inputs to what makes sense, and say everything that is missing at once.

    Parameters
    ----------
    inputs : HazardInputs

    Raises
    ------
    FirstliftError
        HAZ-001 a number out of range, HAZ-002 the medium's data are missing, HAZ-003 a distance that says
        nothing.
    """
    problems = [*_ranges(inputs), *_missing(inputs.fluid), *_distances(inputs.distances_m)]
    if problems:
        raise FirstliftError(problems)


def _ranges(inputs: HazardInputs) -> list[Problem]:
    fluid = inputs.fluid
    rows: list[tuple[str, float | None, float, float, str]] = [
        ("relieving pressure", inputs.relieving_pressure_pa, 0.0, 1e9, "Pa, above 0"),
        ("flow area", inputs.flow_area_m2, 0.0, 1.0, "m2, above 0 and up to 1"),
        ("outlet area", inputs.outlet_area_m2, 0.0, 10.0, "m2, above 0 and up to 10"),
        ("discharge coefficient", inputs.discharge_coefficient, 0.0, 1.0, "above 0 and up to 1"),
        ("temperature", fluid.temperature_k, 0.0, 2000.0, "K, above 0 and up to 2000"),
        ("ambient temperature", inputs.ambient_temperature_k, 200.0, 340.0, "K, 200 to 340"),
        ("molar mass", fluid.molar_mass_kg_mol, 0.002, 1.0, "kg/mol, 0.002 to 1"),
        ("ratio of specific heats", fluid.heat_ratio, 1.0, 2.0, "above 1 and up to 2"),
        ("compressibility", fluid.compressibility, 0.1, 3.0, "0.1 to 3"),
        ("density", fluid.density_kg_m3, 10.0, 25000.0, "kg/m3, 10 to 25000"),
        ("harmful share", inputs.harmful_share, 0.0, 1.0, "above 0 and up to 1"),
    ]
    problems = [
        Problem("HAZ-001", f"{name} {value:g} is out of range", name, needed)
        for name, value, low, high, needed in rows
        if value is not None and not (math.isfinite(value) and low < value <= high)
    ]
    if not 0.0 <= inputs.back_pressure_pa < max(inputs.relieving_pressure_pa, 1e-9):
        problems.append(
            Problem(
                "HAZ-001",
                f"back pressure {inputs.back_pressure_pa:g} Pa is not below the relieving pressure",
                "back pressure",
                "0 or more, below the relieving pressure",
            )
        )
    return problems


def _missing(fluid: Fluid) -> list[Problem]:
    needed: dict[str, float | None] = {}
    if fluid.medium is Medium.GAS:
        needed = {
            "temperature": fluid.temperature_k,
            "molar mass": fluid.molar_mass_kg_mol,
            "ratio of specific heats": fluid.heat_ratio,
        }
    elif fluid.medium is Medium.LIQUID:
        needed = {"density": fluid.density_kg_m3}
    return [
        Problem(
            "HAZ-002",
            f"the {name} of the {fluid.medium} is not known",
            name,
            f"the medium's {name}, or a fluid whose properties are known",
            "Take it from the medium's data sheet",
        )
        for name, value in needed.items()
        if value is None
    ]


def _distances(distances_m: tuple[float, ...]) -> list[Problem]:
    return [
        Problem(
            "HAZ-003",
            f"a distance of {distance:g} m says nothing about noise or jet",
            "distance",
            "1 m to 2000 m from the outlet",
            "Give where people stand",
        )
        for distance in distances_m
        if not 1.0 <= distance <= 2000.0
    ]
