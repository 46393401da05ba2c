"""One entry of every kind, invented, each with every field filled where it can be."""

import datetime as dt
import uuid
from decimal import Decimal

from firstlift.core.job import Decision, Measures, OwnerLimit, OwnerLimits, Purpose, Rules
from firstlift.core.register.codec import new_person, with_details
from firstlift.core.register.contacts import Contact
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve, UseCheck, When
from firstlift.core.register.people import Person, PersonalDetails, Qualification
from firstlift.core.register.places import Interval, Owner, Position, ProtectedSystem, RuleChoice, Site
from firstlift.core.register.work import (
    AdjustmentMade,
    Attachment,
    BenchMedium,
    BenchReading,
    Certificate,
    CertificateState,
    HoldPoint,
    HowTested,
    IdentityCheck,
    SiteVisit,
    UsedInstrument,
    ValveTest,
)
from firstlift.core.seat.record import SeatRecord, Source, Tie
from firstlift.core.seat.word import Said, SeatWord
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Definition, Medium, ValveType

AT = dt.datetime(2026, 3, 2, 8, 30, 15, 250_000, tzinfo=dt.UTC)
DAY = dt.date(2026, 3, 2)
ZONE = "Europe/London"


def bar(text):
    return parse_quantity(text, Kind.PRESSURE)


def ident(number):
    return uuid.UUID(int=number)


OWNER = Owner(ident(1), "Marrow Bay Energy", "invented")
PERSON = new_person(
    Person(ident(2), "technician", "field team 2"), PersonalDetails("s4lt", "Ann Example", "ann@example.org")
)
QUALIFICATION = Qualification(ident(3), PERSON.id, "pull", dt.date(2025, 1, 1), dt.date(2027, 1, 1), "Q-12")
SITE = Site(ident(4), OWNER.id, "Tern Street works", ZONE, "invented shire")
SYSTEM = ProtectedSystem(ident(5), SITE.id, "drum 7", bar("16 bar"))
POSITION = Position(
    ident(6), SITE.id, "PSV-1100", Medium.STEAM, "boiler house", "drum 7", SYSTEM.id, "saturated steam", bar("16 bar"),
    bar("11,5 bar"), bar("0.2 bar"), False, "high", True,
)  # fmt: skip
INTERVAL = Interval(ident(7), POSITION.id, 24, dt.date(2024, 1, 1), "owner's procedure", PERSON.id)
RULES = Rules(
    "owner", "2026", Decision.SIMPLE, 0.9, 2, 0.02,
    OwnerLimits(OwnerLimit(Decimal("-0.03"), None, True), as_left_upper=OwnerLimit(None, Decimal("10.10"), False)),
)  # fmt: skip
RULE_CHOICE = RuleChoice(ident(8), OWNER.id, RULES, dt.date(2024, 1, 1), SITE.id, POSITION.id)
VALVE = RegisteredValve(
    ident(9), OWNER.id, "S1100", bar("14.1 bar"), ValveType.BALANCED_BELLOWS, "invented", "M 1", "80", "100", "J",
    bar("14.3 bar"), "SP-3", 2.5e5, bar("12 bar"), bar("16 bar"), 1.5e-3, 0.02, 0.05, 0.06, 2e4, Definition.POP,
    "cast steel", "316", "chrome vanadium",
)  # fmt: skip
INSTALLATION = Installation(ident(10), VALVE.id, POSITION.id, dt.date(2024, 2, 1))
CELL = Instrument(ident(11), "LC-77", Measures.PULL_FORCE, "kN", "invented", "20 kN", 2e4)
CALIBRATION = Calibration(
    ident(12), CELL.id, "K-900", dt.date(2026, 1, 10), dt.date(2027, 1, 10), "kN", (0.0, 1.001, -2e-6),
    ((0.0, 0.0), (10.0, 10.01)), 2.0, 0.002, "REF-1",
)  # fmt: skip
SEAT = SeatRecord(
    ident(13), VALVE.id, Source.TWO_PRESSURES, dt.date(2025, 5, 1), PERSON.id, "three lines", "report 4",
    area_m2=1.4e-3, u_area_m2=4e-6, degrees_of_freedom=3.0,
    tied_to=(Tie("gauge:P1", ("P1",), "scale", -1e-6, "K-1"),), set_pressure_pa=1.41e6, u_set_pressure_pa=2e3,
    covariance_m2_pa=-3e-4,
)  # fmt: skip
VISIT = SiteVisit(
    ident(14), SITE.id, "spring 2026", DAY, DAY, (PERSON.id,), (VALVE.id,), ("PTW-1",), (PERSON.id,), True, False,
    "letter 3", ("seal", "as-left"),
)  # fmt: skip
USE_CHECK = UseCheck(ident(15), CELL.id, When.BEFORE, AT, ZONE, 1000.0, 1001.5, 5.0, VISIT.id, PERSON.id)
IDENTITY = IdentityCheck(
    ident(16), VALVE.id, AT, ZONE, "S1100", VISIT.id, PERSON.id, "PSV-1100", "SP-3", bar("14.1 bar"), "ab" * 32
)
HOLD = HoldPoint(ident(17), VISIT.id, "seal", AT, ZONE, True, VALVE.id, PERSON.id, PERSON.id, "seen")
TEST = ValveTest(
    ident(18), VALVE.id, HowTested.BENCH, Purpose.AS_FOUND, AT, ZONE, DAY, POSITION.id, VISIT.id, (PERSON.id,), None,
    "within", "fit", 1.412e6, 9e3, None, SEAT.id, (UsedInstrument("LC-77", "pull_force", CALIBRATION.id),),
    BenchReading(BenchMedium.AIR, 1.42e6, 3e3, 1.3e6, 4.0, 20.0, "owner's"),
)  # fmt: skip
ADJUSTMENT = AdjustmentMade(
    ident(19), VALVE.id, AT, ZONE, VISIT.id, PERSON.id, 0.25, 0.0312, 0.0308, ("3",), ("4",), ("A1",), ("A2", "A3")
)
CERTIFICATE = Certificate(
    ident(20), TEST.id, "MB", 1, "MB-0001", CertificateState.DRAFT, AT, ZONE, reviewer_id=PERSON.id
)
ATTACHMENT = Attachment(ident(21), VALVE.id, "plate.jpg", "image/jpeg", "cd" * 32, 1234, AT, ZONE, PERSON.id)
WORD = SeatWord(
    ident(22), VALVE.id, Said.WRONG, AT, ZONE, "two digits were swapped", PERSON.id, DAY, SEAT.id, SEAT.id, ident(22)
)
CONTACT = with_details(
    Contact(ident(23), OWNER.id, SITE.id, "plant engineer", "de"),
    PersonalDetails("p3pper", "Ben Example", "ben@example.org"),
)

ALL = (
    OWNER, PERSON, QUALIFICATION, SITE, SYSTEM, POSITION, INTERVAL, RULE_CHOICE, VALVE, INSTALLATION, CELL,
    CALIBRATION, SEAT, VISIT, USE_CHECK, IDENTITY, HOLD, TEST, ADJUSTMENT, CERTIFICATE, ATTACHMENT, WORD, CONTACT,
)  # fmt: skip
