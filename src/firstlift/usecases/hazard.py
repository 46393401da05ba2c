"""Make the hazard sheet of a valve from its job sheet and what was typed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.hazard import Fluid, HazardInputs, HazardSheet, hazard_sheet
from firstlift.core.hazard.inputs import ATMOSPHERE_PA
from firstlift.core.job import Job
from firstlift.core.seat.orifice import letter_of, names_orifice
from firstlift.core.units import Kind
from firstlift.core.valve import circle_area_m2
from firstlift.formats.jobsheet import read_jobsheet
from firstlift.usecases.typed import typed_number, typed_quantity, typed_si

# an overpressure at which valves are full open (common practice; 10 % by most codes)
_FULL_OPEN = 1.10


@dataclass(frozen=True, slots=True)
class HazardAsked:
    """What was typed for a hazard sheet: texts with units; None where nothing was given."""

    sheet: Path
    bore: str | None = None
    flow_area: str | None = None
    outlet: str | None = None
    pressure: str | None = None
    back_pressure: str | None = None
    fluid: str = ""
    temperature: str | None = None
    molar_mass: str | None = None
    heat_ratio: str | None = None
    compressibility: str | None = None
    density: str | None = None
    vapour_pressure: str | None = None
    coefficient: str | None = None
    ambient: str | None = None
    distances: tuple[str, ...] = ()
    harmful: str | None = None
    hazards: tuple[str, ...] = ()
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Hazardous:
    """A hazard sheet with the job it belongs to."""

    job: Job
    sheet: HazardSheet


def make_hazard_sheet(asked: HazardAsked) -> Hazardous:
    """Make the hazard sheet.

    Parameters
    ----------
    asked : HazardAsked

    Returns
    -------
    Hazardous

    Raises
    ------
    FirstliftError
        The job sheet cannot be read. UsageError where what was typed makes no sense, data of the medium are
        missing, or no relation covers the case.
    """
    job = read_jobsheet(asked.sheet)
    pressure = typed_si(asked.pressure, Kind.PRESSURE, "--pressure")
    outlet = typed_si(asked.outlet, Kind.LENGTH, "--outlet")
    distances = tuple(typed_quantity(text, Kind.LENGTH, "--distance").si for text in asked.distances)
    ambient = typed_si(asked.ambient, Kind.TEMPERATURE, "--ambient")
    inputs = HazardInputs(
        fluid=_fluid(asked, job),
        relieving_pressure_pa=_FULL_OPEN * job.valve.set_pressure.si if pressure is None else pressure,
        flow_area_m2=_flow_area(asked),
        outlet_area_m2=None if outlet is None else circle_area_m2(outlet),
        back_pressure_pa=typed_si(asked.back_pressure, Kind.PRESSURE, "--back-pressure") or 0.0,
        discharge_coefficient=typed_number(asked.coefficient, "--coefficient"),
        distances_m=distances or (10.0, 30.0),
        ambient_temperature_k=_ambient(ambient, job),
        harmful_share=typed_si(asked.harmful, Kind.RATIO, "--harmful"),
        hazards=asked.hazards,
        closed_discharge=asked.closed,
    )
    try:
        return Hazardous(job, hazard_sheet(inputs))
    except FirstliftError as error:
        # all that can be wrong here was typed beside the job sheet
        raise UsageError(error.problems) from error


def _ambient(typed_k: float | None, job: Job) -> float:
    stated = job.visit.ambient_temperature_k if typed_k is None else typed_k
    return 293.15 if stated is None else stated


def _fluid(asked: HazardAsked, job: Job) -> Fluid:
    molar_mass = typed_number(asked.molar_mass, "--molar-mass")
    compressibility = typed_number(asked.compressibility, "--compressibility")
    vapour = typed_si(asked.vapour_pressure, Kind.PRESSURE, "--vapour-pressure")
    return Fluid(
        medium=job.valve.medium,
        name=asked.fluid.strip(),
        temperature_k=typed_si(asked.temperature, Kind.TEMPERATURE, "--temperature"),
        molar_mass_kg_mol=None if molar_mass is None else molar_mass / 1e3,
        heat_ratio=typed_number(asked.heat_ratio, "--heat-ratio"),
        compressibility=1.0 if compressibility is None else compressibility,
        density_kg_m3=typed_number(asked.density, "--density"),
        vapour_pressure_pa_abs=None if vapour is None else vapour + ATMOSPHERE_PA,
    )


def _flow_area(asked: HazardAsked) -> float:
    where = "--bore, --flow-area"
    if (asked.bore is None) == (asked.flow_area is None):
        raise UsageError(
            Problem("HAZ-008", "the way through the valve is not given once", where, "exactly one of the two")
        )
    text = asked.flow_area or asked.bore or ""
    if names_orifice(text):
        raise _letter(text, where)
    if asked.bore is not None:
        return circle_area_m2(typed_quantity(asked.bore, Kind.LENGTH, "--bore").si)
    area = typed_quantity(text, Kind.AREA, "--flow-area").si
    if (letter := letter_of(area)) is not None:
        raise _letter(f"{text}, the effective area of letter {letter}", "--flow-area")
    return area


def _letter(found: str, where: str) -> UsageError:
    return UsageError(
        Problem(
            "HAZ-008",
            f"'{found[:80]}' stands for an orifice letter",
            where,
            "the actual least bore: more flows through it than through the letter's effective area",
            "Take the bore from the maker's sheet or measure it",
        )
    )
