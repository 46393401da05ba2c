"""``firstlift hazard``: what may happen if the valve opens fully."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from firstlift import words
from firstlift.cli.say import finding_lines, with_words
from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import Severity
from firstlift.core.hazard import HazardSheet
from firstlift.usecases.hazard import HazardAsked, make_hazard_sheet
from firstlift.words.numbers import format_exact, format_force, format_short, format_value
from firstlift.words.planning import phrase


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 done, 1 a severe warning stands on the sheet.

    Raises
    ------
    FirstliftError
        The job sheet cannot be read or no relation covers the case; UsageError where what was typed makes no
        sense.
    """
    made = make_hazard_sheet(_asked(arguments))
    sheet, unit = made.sheet, made.job.valve.set_pressure.unit
    if arguments.json:
        show(json.dumps(with_words(sheet, unit), ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        show(f"{made.job.valve.tag}  if it opens fully, {words.medium(sheet.medium)}")
        for line in _lines(sheet, unit):
            show(line)
    return 1 if any(finding.severity is Severity.SEVERE for finding in sheet.findings) else 0


def _asked(arguments: argparse.Namespace) -> HazardAsked:
    return HazardAsked(
        sheet=Path(arguments.jobsheet),
        bore=arguments.bore,
        flow_area=arguments.flow_area,
        outlet=arguments.outlet,
        pressure=arguments.pressure,
        back_pressure=arguments.back_pressure,
        fluid=arguments.fluid,
        temperature=arguments.temperature,
        molar_mass=arguments.molar_mass,
        heat_ratio=arguments.heat_ratio,
        compressibility=arguments.compressibility,
        density=arguments.density,
        vapour_pressure=arguments.vapour_pressure,
        coefficient=arguments.coefficient,
        ambient=arguments.ambient,
        distances=tuple(arguments.distance),
        harmful=arguments.harmful,
        hazards=tuple(arguments.hazard),
        closed=arguments.closed,
    )


def _lines(sheet: HazardSheet, unit: str) -> list[str]:
    lines = [f"before it     {format_exact(sheet.relieving_pressure_pa, unit)}, Kd {sheet.discharge_coefficient:g}"]
    if sheet.mass_flow_kg_per_s is not None:
        flow = sheet.mass_flow_kg_per_s
        lines.append(f"flow          {_three(flow)} kg/s, {_three(3600.0 * flow)} kg/h (API 520-I)")
    if sheet.reaction_n is not None and sheet.sudden_reaction_n is not None:
        lines.append(
            f"reaction      {format_force(round(sheet.reaction_n))} steady, up to "
            f"{format_force(round(sheet.sudden_reaction_n))} for an instant if it opens suddenly (API 520-II)"
        )
    if sheet.discharge_temperature_k is not None:
        lines.append(
            f"leaves at     {format_value(sheet.discharge_temperature_k, 'degC', digits=3)} (throttled to air)"
        )
    if sheet.noise_at_30_m_db is not None:
        lines.append(f"noise         {sheet.noise_at_30_m_db:.0f} dB at 30 m in the open (API 521)")
        lines += [f"              {_noise(row.distance_m, row.level_db, row.longest_stay_s)}" for row in sheet.noise]
    if sheet.people_distance_m is not None:
        lines += [
            "",
            f"people keep away at least {_metres(sheet.people_distance_m)} from the outlet and out of its line:",
        ]
        for away in sheet.keep_away:
            mark = " *" if away.status == "memory" else ""
            lines.append(f"  {_metres(away.distance_m):>8}  {phrase('away', away.reason)} ({away.source}){mark}")
        lines.append(f"  * {words.source('memory')}")
    if sheet.hazards:
        lines += ["", "hazards of the medium, as entered: " + "; ".join(sheet.hazards)]
    return [*lines, "", *finding_lines(sheet.findings, unit)]


def _noise(distance_m: float, level_db: float, stay_s: float) -> str:
    if stay_s <= 0.0:
        stay = "nobody without protection"
    elif stay_s >= 8.0 * 3600.0:
        stay = "a whole day without protection"
    else:
        stay = f"{format_short(stay_s / 60.0, '1', digits=2)} min a day without protection"
    return f"{distance_m:.4g} m: {level_db:.0f} dB, {stay}"


def _three(value: float) -> str:
    return format_short(value, "1")


def _metres(distance_m: float) -> str:
    """Round a distance up to two digits: a distance to keep is never rounded down."""
    if distance_m >= 10_000.0:
        return "> 10 km"
    if distance_m < 5.0:
        return "< 5 m"
    step = 1.0 if distance_m < 100.0 else 10.0 if distance_m < 1000.0 else 100.0
    return f"{step * -(-distance_m // step):.0f} m"
