"""Who works there and with what: people with their qualifications, instruments with their yearly calibrations."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from firstlift.core.job import Measures
from firstlift.core.register.codec import new_person
from firstlift.core.register.equipment import Calibration, Instrument
from firstlift.core.register.people import Person, PersonalDetails, Qualification
from firstlift.core.register.work import UsedInstrument
from firstlift.demo.register.draw import Draw

_PEOPLE = (
    # invented names, role, tasks
    ("Ada Quillfeather", "technician", ("pull", "adjust")),
    ("Bo Tarnwater", "technician", ("pull", "adjust", "break-seals")),
    ("Cleo Marshlight", "technician", ("pull",)),
    ("Dov Reedbank", "technician", ("pull", "adjust")),
    ("Eda Saltgrass", "engineer", ("sign",)),
    ("Finn Gullstep", "engineer", ("sign", "adjust")),
    ("Greta Lowtide", "inspector", ()),
    ("Hob Driftwood", "planner", ()),
)
_RIG = (
    ("LC", Measures.PULL_FORCE, "kN", 20e3, 0.002, 1.0),
    ("PG", Measures.LINE_PRESSURE, "bar", 60e5, 0.002, None),
    ("LV", Measures.SPINDLE_LIFT, "mm", 5e-3, 0.005, None),
    ("AE", Measures.ACOUSTIC, "mV", None, 0.05, None),
)
RIGS = 3
OVERDUE_SERIAL, WRONG_SERIAL = "LC-21", "LC-31"
_WRONG_GAIN = 0.012


@dataclass(slots=True)
class Tool:
    """An instrument, its calibrations, and by which share it reads wrong."""

    instrument: Instrument
    gain_error: float
    calibrations: list[Calibration] = field(default_factory=list)

    def used(self, day: dt.date) -> UsedInstrument:
        """Give it as used on a day, with the calibration then in force."""
        made = [one for one in self.calibrations if one.date <= day]
        last = max(made, key=lambda one: one.date) if made else None
        return UsedInstrument(self.instrument.serial, str(self.instrument.measures), last.id if last else None)


@dataclass(slots=True)
class Crew:
    """People and rigs; a rig is its three cells, gauge, lift and sound sensor."""

    people: list[Person]
    rigs: list[list[Tool]]
    entries: list[Any]
    later: list[Calibration]

    def who(self, role: str) -> list[Person]:
        """Give the people of a role."""
        return [person for person in self.people if person.role == role]


def draw_crew(draw: Draw, start: dt.date, today: dt.date) -> Crew:
    """Draw the crew at the start, and the calibrations that will come.

    One cell is overdue today, and one was found reading 1.2 % low at its last calibration.

    Parameters
    ----------
    draw : Draw
    start, today : date

    Returns
    -------
    Crew
        ``entries`` are there from the start, ``later`` come on their days.
    """
    crew = Crew([], [], [], [])
    for number, (name, role, tasks) in enumerate(_PEOPLE):
        details = PersonalDetails(draw.rng.bytes(16).hex(), name, f"{name.split()[0].lower()}@marrow-bay.example")
        person = new_person(Person(draw.new_id(), role, "Marrow Bay Energy (invented)"), details)
        crew.people.append(person)
        crew.entries.append(person)
        for task in tasks:
            granted = start - dt.timedelta(days=draw.whole(100, 700))
            # one technician's permission to pull has run out
            expires = today - dt.timedelta(days=40) if number == 2 else today + dt.timedelta(days=draw.whole(200, 900))
            crew.entries.append(Qualification(draw.new_id(), person.id, task, granted, expires, f"Q-{number + 1:02d}"))
    for rig in range(1, RIGS + 1):
        tools = [
            _tool(draw, *kind, f"{kind[0]}-{rig}{n}") for kind in _RIG for n in ((1, 2, 3) if kind[0] == "LC" else (1,))
        ]
        crew.rigs.append(tools)
        for tool in tools:
            crew.entries.append(tool.instrument)
            _calibrate(draw, tool, start, today)
            crew.entries += [one for one in tool.calibrations if one.date <= start]
            crew.later += [one for one in tool.calibrations if one.date > start]
    crew.later.sort(key=lambda one: (one.date, one.certificate_number))
    return crew


def _tool(
    draw: Draw, kind: str, measures: Measures, unit: str, capacity: float | None, u: float, zero: float | None,
    serial: str,
) -> Tool:  # fmt: skip
    del kind, zero
    instrument = Instrument(
        draw.new_id(), serial, measures, unit, "Maker D (invented)", f"model {draw.whole(2, 9)}", capacity
    )
    return Tool(instrument, draw.normal(u))


def _calibrate(draw: Draw, tool: Tool, start: dt.date, today: dt.date) -> None:
    _, _, unit, _, u, zero = next(kind for kind in _RIG if tool.instrument.serial.startswith(kind[0]))
    day = start - dt.timedelta(days=draw.whole(20, 300))
    last = today - dt.timedelta(days=460 if tool.instrument.serial == OVERDUE_SERIAL else 10)
    number = 0
    while day <= last:
        number += 1
        due = day.replace(year=day.year + 1, day=min(day.day, 28))
        tool.calibrations.append(
            Calibration(
                draw.new_id(), tool.instrument.id, f"CAL-{tool.instrument.serial}-{number}", day, due, unit,
                polynomial=(0.0, round(1.0 + draw.normal(0.3 * u), 6)), standard_uncertainty_si=zero,
                relative_standard_uncertainty=u, reference_standard=f"REF-{unit}",
            )
        )  # fmt: skip
        day += dt.timedelta(days=draw.whole(330, 362))
    if tool.instrument.serial == WRONG_SERIAL:
        tool.gain_error = -_WRONG_GAIN
        before = tool.calibrations[-1]
        tool.calibrations[-1] = Calibration(
            before.id, before.instrument_id, before.certificate_number, before.date, before.due, unit,
            polynomial=(0.0, 1.0 + _WRONG_GAIN), standard_uncertainty_si=zero, relative_standard_uncertainty=u,
            reference_standard=before.reference_standard, note="found reading 1.2 % low: look at the tests before it",
        )  # fmt: skip
