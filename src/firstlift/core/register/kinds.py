"""Every kind of entry by its name, in an order in which each refers only to those before it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstlift.core.register.contacts import Contact
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve, UseCheck
from firstlift.core.register.people import Person, Qualification
from firstlift.core.register.places import Interval, Owner, Position, ProtectedSystem, RuleChoice, Site
from firstlift.core.register.work import (
    AdjustmentMade,
    Attachment,
    Certificate,
    HoldPoint,
    IdentityCheck,
    SiteVisit,
    ValveTest,
)
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import SeatWord

KINDS: Mapping[str, type[Any]] = {
    "owner": Owner,
    "person": Person,
    "qualification": Qualification,
    "site": Site,
    "protected_system": ProtectedSystem,
    "position": Position,
    "interval": Interval,
    "rule_choice": RuleChoice,
    "valve": RegisteredValve,
    "installation": Installation,
    "instrument": Instrument,
    "calibration": Calibration,
    "seat_record": SeatRecord,
    "visit": SiteVisit,
    "use_check": UseCheck,
    "identity_check": IdentityCheck,
    "hold_point": HoldPoint,
    "valve_test": ValveTest,
    "adjustment": AdjustmentMade,
    "certificate": Certificate,
    "attachment": Attachment,
    "seat_word": SeatWord,
    "contact": Contact,
}

NAME_OF: Mapping[type[Any], str] = {kind: name for name, kind in KINDS.items()}

# what identifies somebody stands apart in these, and can be removed
WITH_DETAILS = frozenset({"person", "contact"})

# what was observed or handed out is never edited: a correction is a new entry that names what it supersedes
FROZEN = frozenset(
    {"calibration", "use_check", "identity_check", "hold_point", "valve_test", "adjustment", "attachment", "seat_word"}
)
