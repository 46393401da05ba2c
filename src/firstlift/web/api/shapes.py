"""What the interface gives and takes: every field that is there is always there, null where nothing is known."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Literal
from uuid import UUID

from pydantic import BeforeValidator, ConfigDict, Field

from firstlift.web.hooks.events import Event, EventKind

MOST_VALVES_OF_VISIT = 1000
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def _written_out(day: Any) -> Any:
    """Let only a date that is written out be read as one: a bare number is none."""
    if isinstance(day, str) and _DAY.fullmatch(day):
        return day
    raise ValueError("a date is written 2026-12-01")


Day = Annotated[dt.date, BeforeValidator(_written_out)]
Text = Annotated[str, Field(max_length=200, pattern=r"^[^\u0000-\u001f]*$")]


@dataclass(frozen=True, slots=True)
class Failure:
    """Why it could not be done."""

    code: str
    what: str
    where: str
    needed: str
    next: str


@dataclass(frozen=True, slots=True)
class Failed:
    """The one shape of every refusal."""

    errors: list[Failure]


@dataclass(frozen=True, slots=True)
class ValveOut:
    """A valve where it stands; set pressure as its nameplate writes it."""

    valve_id: UUID
    serial: str
    set_pressure: str
    owner: str
    in_use: bool
    tag: str | None
    site: str | None
    unit: str | None
    medium: str | None
    due: dt.date | None
    last_test_id: UUID | None
    last_day: dt.date | None
    last_verdict: str | None
    last_disposition: str | None
    not_tested: str | None


@dataclass(frozen=True, slots=True)
class ValvePage:
    """Valves from ``offset`` on; ``total`` is of all that fit, null where it was not counted."""

    items: list[ValveOut]
    offset: int
    total: int | None


@dataclass(frozen=True, slots=True)
class SiteOut:
    """A site; ``zone`` is its time zone's name, which due dates are told in."""

    site_id: UUID
    name: str
    zone: str


@dataclass(frozen=True, slots=True)
class TestOut:
    """A test in a valve's history; pressures in Pa, gauge."""

    test_id: UUID
    day: dt.date
    kind: str
    purpose: str
    tag: str | None
    verdict: str
    disposition: str
    set_pressure_pa: float | None
    expanded_uncertainty_pa: float | None
    lower_bound_pa: float | None
    not_tested: str | None
    superseded_by: UUID | None


@dataclass(frozen=True, slots=True)
class SeatRecordOut:
    """A seat record of a valve: area in m2, diameters of the contact in m, null where the source gives none.

    ``in_force``: the record that a test today computes with, as far as that can be told without its instruments; an
    area found from pulls serves only with ``instruments``. ``left_out``: the code of why another record is not in force
    (docs/seat.md); ``wrong``: somebody found it wrong, ``replaced_by`` stands in its place.
    """

    record_id: UUID
    day: dt.date
    source: str
    area_m2: float
    standard_uncertainty_m2: float
    inner_diameter_m: float | None
    outer_diameter_m: float | None
    reference: str
    note: str
    measured_with: list[str]
    instruments: list[str]
    in_force: bool
    left_out: str | None
    wrong: bool
    replaced_by: UUID | None


@dataclass(frozen=True, slots=True)
class SeatRecordPage:
    """Seat records from ``offset`` on; ``total`` is of all of the valve."""

    items: list[SeatRecordOut]
    offset: int
    total: int


@dataclass(frozen=True, slots=True)
class CertificateOut:
    """A certificate; ``sha256`` is of the signed file, "" before it is issued."""

    number: str
    state: str
    test_id: UUID
    issued_at: dt.datetime | None
    sha256: str
    reason: str


@dataclass(frozen=True, slots=True)
class VisitOut:
    """A visit: the valves planned and those of them with a test or a reason why there was none."""

    visit_id: UUID
    site_id: UUID
    name: str
    start: dt.date
    finish: dt.date | None
    planned: list[UUID]
    done: list[UUID]
    permits: list[str]


@dataclass(frozen=True, slots=True)
class VisitIn:
    """A visit to plan. ``name`` "": the site and the day."""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")

    site_id: UUID
    start: Day
    valves: Annotated[list[UUID], Field(min_length=1, max_length=MOST_VALVES_OF_VISIT)]
    name: Text = ""
    permits: Annotated[list[Text], Field(max_length=20)] = field(default_factory=list[str])


@dataclass(frozen=True, slots=True)
class EventPage:
    """Events behind ``after``; ask for those behind ``next`` the next time."""

    items: list[Event]
    next: int


@dataclass(frozen=True, slots=True)
class HookIn:
    """A web-hook to make: where events go, and which."""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")

    url: Annotated[str, Field(min_length=10, max_length=2000, pattern=r"^https?://[!-~]+$")]
    events: Annotated[list[EventKind], Field(min_length=1, max_length=len(EventKind))]


@dataclass(frozen=True, slots=True)
class HookOut:
    """A web-hook. ``waiting``: events not delivered yet; ``said``: what the last try came to."""

    hook_id: UUID
    url: str
    events: list[EventKind]
    made_at: dt.datetime
    waiting: int
    said: str


@dataclass(frozen=True, slots=True)
class HookMade:
    """A new web-hook with the secret that its messages are signed by; the secret is not shown again."""

    hook_id: UUID
    url: str
    events: list[EventKind]
    secret: str


State = Literal["", "draft", "reviewed", "issued", "superseded", "withdrawn"]
