"""What the papers of a job are made from: a visit and its valves, as the register knew them, and who prints."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from firstlift.certificate.settings import PLAIN, PaperSettings
from firstlift.core.errors import Problem
from firstlift.core.job import Job
from firstlift.core.plan.plan import Plan
from firstlift.core.register.equipment import Calibration, Instrument, RegisteredValve, UseCheck
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import AdjustmentMade, HoldPoint, SiteVisit, ValveTest


@dataclass(frozen=True, slots=True)
class Printing:
    """How a paper is printed: the issuer's settings, as a draft or not, on which day, by which release."""

    day: dt.date
    release: str
    settings: PaperSettings = PLAIN
    draft: bool = False


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """A visit: where, and who; ``invented`` where the owner is."""

    visit: SiteVisit
    site: Site
    owner: Owner
    people: tuple[str, ...]
    seal_breakers: tuple[str, ...]
    invented: bool


@dataclass(frozen=True, slots=True)
class Hung:
    """A valve where it hung on the day; None where it hung nowhere."""

    valve: RegisteredValve
    position: Position | None

    @property
    def tag(self) -> str:
        """The tag, else the serial."""
        return self.valve.serial if self.position is None else self.position.tag

    @property
    def place(self) -> str:
        """Unit and equipment."""
        return "" if self.position is None else " · ".join(filter(None, (self.position.unit, self.position.equipment)))

    @property
    def unit(self) -> str:
        """The nameplate's pressure unit."""
        return self.valve.set_pressure.unit


@dataclass(frozen=True, slots=True)
class Tool:
    """An instrument with its calibration in force on the day, if any."""

    instrument: Instrument
    calibration: Calibration | None


@dataclass(frozen=True, slots=True)
class ToTest:
    """A valve to be tested: its plan, or why there is none; the last test before, where it hangs now."""

    hung: Hung
    job: Job | None
    plan: Plan | None
    why_not: tuple[Problem, ...]
    tools: tuple[Tool, ...]
    last: ValveTest | None


@dataclass(frozen=True, slots=True)
class Tested:
    """What a visit did at one valve: its tests in their order, without those corrected since, and adjustments.

    ``papers`` are the numbers of certificates by test.
    """

    hung: Hung
    tests: tuple[ValveTest, ...]
    adjustments: tuple[AdjustmentMade, ...]
    papers: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Sibling:
    """Another valve in use that may share a fault, and its last as-found test.

    ``system`` is the name of the protected system that both serve, "" where it is another. ``build`` is "spring" where
    make, model, spring and medium are the same, "build" where nobody noted one of the springs, "" where they differ.
    ``amiss``: it was out of order itself in that test.
    """

    hung: Hung
    system: str
    build: str
    found: ValveTest | None
    amiss: bool


@dataclass(frozen=True, slots=True)
class Siblings:
    """The siblings of a valve: those shown, how many more there are, and whether its build is noted at all."""

    shown: tuple[Sibling, ...]
    more: int
    build_noted: bool


@dataclass(frozen=True, slots=True)
class UseChecked:
    """A check of an instrument before or after use."""

    tool: Instrument
    check: UseCheck


@dataclass(frozen=True, slots=True)
class Released:
    """A hold point with the names of who gave word and who witnessed it."""

    point: HoldPoint
    by: str
    witness: str
