"""What is done at a valve: visits, checks, tests, adjustments, certificates. Corrected by superseding."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum
from uuid import UUID

from firstlift.core.job import Purpose
from firstlift.core.result import Result
from firstlift.core.units import Quantity


@dataclass(frozen=True, slots=True)
class SiteVisit:
    """A dated campaign at a site, and what holds for every job of it.

    ``planned`` are valves, ``people`` and ``seal_breakers`` persons. ``accepted_for_verifying`` and
    ``accepted_for_adjusting``: whether the jurisdiction accepts the method for it (None: nobody asked).
    ``witness_points`` are the inspector's, as codes of hold points.
    """

    id: UUID
    site_id: UUID
    name: str
    start: dt.date
    finish: dt.date | None = None
    people: tuple[UUID, ...] = ()
    planned: tuple[UUID, ...] = ()
    permits: tuple[str, ...] = ()
    seal_breakers: tuple[UUID, ...] = ()
    accepted_for_verifying: bool | None = None
    accepted_for_adjusting: bool | None = None
    acceptance_reference: str = ""
    witness_points: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class IdentityCheck:
    """What the nameplate at the valve says, read before the job: "" or None where it could not be read."""

    id: UUID
    valve_id: UUID
    at: dt.datetime
    zone: str
    serial_read: str
    visit_id: UUID | None = None
    person_id: UUID | None = None
    tag_read: str = ""
    spring_number_read: str = ""
    set_pressure_read: Quantity | None = None
    photo_sha256: str = ""
    mismatches: tuple[str, ...] = ()
    resolves: UUID | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """A step that waits for someone's word: which (``code``), who gave it, when, and what they said."""

    id: UUID
    visit_id: UUID
    code: str
    at: dt.datetime
    zone: str
    released: bool
    valve_id: UUID | None = None
    person_id: UUID | None = None
    witness_id: UUID | None = None
    note: str = ""


class HowTested(StrEnum):
    """How a valve was tested, or that it was not."""

    PULL = "pull"
    BENCH = "bench"
    NOT_TESTED = "not-tested"


class WhyNot(StrEnum):
    """Why a planned valve was not tested; it stays on the due list."""

    NO_ACCESS = "no-access"
    UNSAFE = "unsafe"
    LINE_PRESSURE_TOO_LOW = "line-pressure-too-low"
    REFUSED = "refused"
    WRONG_VALVE = "wrong-valve"
    OTHER = "other"


class BenchMedium(StrEnum):
    """What a bench test blows."""

    AIR = "air"
    WATER = "water"
    STEAM = "steam"


@dataclass(frozen=True, slots=True)
class BenchReading:
    """A test on the bench: pop and reseat pressure, and leakage against its rule. Pressures gauge."""

    medium: BenchMedium
    pop_pa: float | None = None
    u_pop_pa: float | None = None
    reseat_pa: float | None = None
    leakage_bubbles_per_min: float | None = None
    leakage_limit_bubbles_per_min: float | None = None
    leakage_rule: str = ""

    @property
    def tight(self) -> bool | None:
        """Whether leakage stays within its rule; None where one of the two is not known."""
        if self.leakage_bubbles_per_min is None or self.leakage_limit_bubbles_per_min is None:
            return None
        return self.leakage_bubbles_per_min <= self.leakage_limit_bubbles_per_min


@dataclass(frozen=True, slots=True)
class UsedInstrument:
    """An instrument of a test, by serial, and the calibration that was in force."""

    serial: str
    measures: str
    calibration_id: UUID | None = None


@dataclass(frozen=True, slots=True)
class ValveTest:
    """One or more pulls in one state, a bench test, or that there was none and why.

    ``verdict`` is "within", "outside", "undecided" or "" (nothing judged); ``disposition`` what is to be done
    with the valve. ``set_pressure_pa`` is the value judged. ``result`` is the whole result; ``sheet_sha256`` and
    ``recording_sha256`` name the kept files it was computed from. ``supersedes`` is the test that this corrects.
    """

    id: UUID
    valve_id: UUID
    kind: HowTested
    purpose: Purpose
    at: dt.datetime
    zone: str
    day: dt.date
    position_id: UUID | None = None
    visit_id: UUID | None = None
    people: tuple[UUID, ...] = ()
    not_tested: WhyNot | None = None
    verdict: str = ""
    disposition: str = ""
    set_pressure_pa: float | None = None
    expanded_uncertainty_pa: float | None = None
    lower_bound_pa: float | None = None
    seat_record_id: UUID | None = None
    instruments: tuple[UsedInstrument, ...] = ()
    bench: BenchReading | None = None
    result: Result | None = field(default=None, metadata={"chain": "hash"})
    sheet_sha256: str = ""
    recording_sha256: str = ""
    supersedes: UUID | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class AdjustmentMade:
    """What was turned: the screw, the rings, and the seals before and after.

    ``turns`` are those of the adjusting screw: to the right (screwing in, set pressure up) positive, to the left
    negative.
    """

    id: UUID
    valve_id: UUID
    at: dt.datetime
    zone: str
    visit_id: UUID | None = None
    person_id: UUID | None = None
    turns: float | None = None
    screw_height_before_m: float | None = None
    screw_height_after_m: float | None = None
    rings_before: tuple[str, ...] = ()
    rings_after: tuple[str, ...] = ()
    seals_before: tuple[str, ...] = ()
    seals_after: tuple[str, ...] = ()
    note: str = ""


class CertificateState(StrEnum):
    """The life of a certificate; it only goes forward."""

    DRAFT = "draft"
    REVIEWED = "reviewed"
    ISSUED = "issued"
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"


NEXT_STATES = {
    CertificateState.DRAFT: (CertificateState.REVIEWED, CertificateState.WITHDRAWN),
    CertificateState.REVIEWED: (CertificateState.ISSUED, CertificateState.WITHDRAWN),
    CertificateState.ISSUED: (CertificateState.SUPERSEDED, CertificateState.WITHDRAWN),
    CertificateState.SUPERSEDED: (),
    CertificateState.WITHDRAWN: (),
}


@dataclass(frozen=True, slots=True)
class Certificate:
    """A numbered document of a test. ``number`` counts from 1 in its ``series``, without gaps.

    ``unsigned_sha256`` is the hash of the typeset file, which can be made again byte for byte,
    ``signed_sha256`` that of the signed file as it was handed out.
    """

    id: UUID
    test_id: UUID
    series: str
    number: int
    text: str
    state: CertificateState
    reserved_at: dt.datetime
    zone: str
    issued_at: dt.datetime | None = None
    reviewer_id: UUID | None = None
    signer_id: UUID | None = None
    unsigned_sha256: str = ""
    signed_sha256: str = ""
    supersedes: UUID | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that belongs to an entry of the register; its bytes are kept by their hash."""

    id: UUID
    belongs_to: UUID
    name: str
    media_type: str
    sha256: str
    size_bytes: int
    at: dt.datetime
    zone: str
    person_id: UUID | None = None
    note: str = ""
