"""The register's tables: one a kind of entry, the chain, the store itself, and where each valve stands.

Constraints have names by one convention, so that a later migration can change them on both engines. What a
column is called and holds follows from the entry's field (`firstlift.store.columns`); here stands what the
fields alone do not say: references, uniqueness, search keys and indexes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from firstlift.core.register.codec import hints_of
from firstlift.core.register.kinds import KINDS
from firstlift.store.columns import INSTANT_LENGTH, bare_type, column_type, key_text

KEY_LENGTH = 200

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

REFERENCES: Mapping[str, Mapping[str, str]] = {
    "site": {"owner_id": "owner"},
    "protected_system": {"site_id": "site"},
    "position": {"site_id": "site", "system_id": "protected_system"},
    "interval": {"position_id": "position", "person_id": "person"},
    "rule_choice": {"owner_id": "owner", "site_id": "site", "position_id": "position"},
    "valve": {"owner_id": "owner"},
    "installation": {"valve_id": "valve", "position_id": "position"},
    "calibration": {"instrument_id": "instrument", "supersedes": "calibration"},
    "qualification": {"person_id": "person"},
    "seat_record": {"valve_id": "valve", "person_id": "person"},
    "visit": {"site_id": "site"},
    "use_check": {"instrument_id": "instrument", "visit_id": "visit", "person_id": "person"},
    "identity_check": {
        "valve_id": "valve",
        "visit_id": "visit",
        "person_id": "person",
        "resolves": "identity_check",
    },
    "hold_point": {"visit_id": "visit", "valve_id": "valve", "person_id": "person", "witness_id": "person"},
    "valve_test": {
        "valve_id": "valve",
        "position_id": "position",
        "visit_id": "visit",
        "seat_record_id": "seat_record",
        "supersedes": "valve_test",
    },
    "adjustment": {"valve_id": "valve", "visit_id": "visit", "person_id": "person"},
    "certificate": {
        "test_id": "valve_test",
        "reviewer_id": "person",
        "signer_id": "person",
        "supersedes": "certificate",
    },
    "attachment": {"person_id": "person"},
    "seat_word": {
        "valve_id": "valve",
        "person_id": "person",
        "record_id": "seat_record",
        "replaced_by": "seat_record",
        "takes_back": "seat_word",
    },
    "contact": {"owner_id": "owner", "site_id": "site"},
}

# search keys beside a field: made by `firstlift.core.register.choose.search_key`, no part of the entry
KEYS: Mapping[str, Mapping[str, str]] = {
    "owner": {"name_key": "name"},
    "site": {"name_key": "name"},
    "position": {"tag_key": "tag"},
    "valve": {"serial_key": "serial", "maker_key": "maker"},
    "instrument": {"serial_key": "serial"},
}

_UNIQUE: Mapping[str, Sequence[tuple[str, ...]]] = {
    "owner": [("name_key",)],
    "site": [("owner_id", "name_key")],
    "position": [("site_id", "tag_key")],
    "valve": [("owner_id", "maker_key", "serial_key")],
    "instrument": [("serial_key",)],
    "calibration": [("supersedes",)],
    "valve_test": [("supersedes",)],
    "certificate": [("series", "number"), ("supersedes",)],
}

_INDEXES: Mapping[str, Sequence[tuple[str, ...]]] = {
    "interval": [("position_id",)],
    "position": [("tag_key", "id")],
    "rule_choice": [("owner_id",)],
    "valve": [("serial_key", "id")],
    "installation": [("valve_id", "since"), ("position_id", "since")],
    "calibration": [("instrument_id", "date")],
    "qualification": [("person_id",)],
    "seat_record": [("valve_id", "date")],
    "visit": [("site_id", "start")],
    "use_check": [("instrument_id", "at")],
    "identity_check": [("valve_id", "at")],
    "hold_point": [("visit_id", "at")],
    "valve_test": [("valve_id", "at"), ("position_id", "at"), ("visit_id",), ("recording_sha256",)],
    "adjustment": [("valve_id", "at")],
    "certificate": [("test_id",), ("text",), ("reserved_at", "id"), ("state", "reserved_at", "id")],
    "attachment": [("belongs_to",), ("sha256",)],
    "seat_word": [("valve_id", "at")],
    "contact": [("owner_id",)],
}


def _entry_table(name: str) -> sa.Table:
    references, keys = REFERENCES.get(name, {}), KEYS.get(name, {})
    columns: list[sa.schema.SchemaItem] = []
    for field, hint in hints_of(KINDS[name]).items():
        bare, nullable = bare_type(hint)
        link = [sa.ForeignKey(f"{references[field]}.id")] if field in references else []
        columns.append(sa.Column(field, column_type(bare), *link, primary_key=field == "id", nullable=nullable))
    columns += [sa.Column(key, key_text(KEY_LENGTH), nullable=False) for key in keys]
    columns += [sa.UniqueConstraint(*names) for names in _UNIQUE.get(name, ())]
    columns += [sa.Index(None, *names) for names in _INDEXES.get(name, ())]
    return sa.Table(name, metadata, *columns)


TABLES: Mapping[str, sa.Table] = {name: _entry_table(name) for name in KINDS}

# one valve hangs in one place, one place holds one valve
for _column in ("valve_id", "position_id"):
    sa.Index(
        f"uq_installation_{_column}_now",
        TABLES["installation"].c[_column],
        unique=True,
        sqlite_where=TABLES["installation"].c.until.is_(None),
        postgresql_where=TABLES["installation"].c.until.is_(None),
    )

store_table = sa.Table(
    "store",
    metadata,
    sa.Column("id", sa.Uuid(), primary_key=True),
    sa.Column("made_at", key_text(INSTANT_LENGTH), nullable=False),
    sa.Column("entries", sa.BigInteger(), nullable=False),
    sa.Column("head_sha256", sa.String(64), nullable=False),
)

audit_table = sa.Table(
    "audit_entry",
    metadata,
    sa.Column("number", sa.BigInteger(), primary_key=True, autoincrement=False),
    sa.Column("store_id", sa.Uuid(), sa.ForeignKey("store.id"), nullable=False),
    sa.Column("at", key_text(INSTANT_LENGTH), nullable=False),
    sa.Column("who", sa.Text(), nullable=False),
    sa.Column("action", sa.String(40), nullable=False),
    sa.Column("kind", sa.String(40), nullable=False),
    sa.Column("entry_id", sa.Uuid(), nullable=False),
    sa.Column("before", sa.Text(), nullable=False),
    sa.Column("after", sa.Text(), nullable=False),
    sa.Column("previous_sha256", sa.String(64), nullable=False),
    sa.Column("sha256", sa.String(64), nullable=False),
    sa.Index(None, "entry_id", "number"),
    # who did what, of which kind, when: the screen of deeds asks in the chain's order
    sa.Index(None, "who", "number"),
    sa.Index(None, "kind", "number"),
    sa.Index(None, "at", "number"),
)

# which instruments a test used, for recall: made from the test, no entry of its own
test_instrument_table = sa.Table(
    "test_instrument",
    metadata,
    sa.Column("test_id", sa.Uuid(), sa.ForeignKey("valve_test.id"), primary_key=True),
    sa.Column("serial_key", key_text(KEY_LENGTH), primary_key=True),
    sa.Column("measures", sa.String(40), primary_key=True),
    sa.Index(None, "serial_key", "test_id"),
)

# where each valve stands today: made from the entries, so that lists answer from one table
standing_table = sa.Table(
    "standing",
    metadata,
    sa.Column("valve_id", sa.Uuid(), sa.ForeignKey("valve.id"), primary_key=True),
    sa.Column("active", sa.Boolean(), nullable=False),
    sa.Column("serial_key", key_text(KEY_LENGTH), nullable=False),
    sa.Column("owner_id", sa.Uuid(), sa.ForeignKey("owner.id"), nullable=False),
    sa.Column("position_id", sa.Uuid(), sa.ForeignKey("position.id")),
    sa.Column("site_id", sa.Uuid(), sa.ForeignKey("site.id")),
    sa.Column("tag_key", key_text(KEY_LENGTH)),
    sa.Column("unit_key", key_text(KEY_LENGTH)),
    sa.Column("medium", sa.String(40)),
    sa.Column("due", sa.Date()),
    sa.Column("last_test_id", sa.Uuid(), sa.ForeignKey("valve_test.id")),
    sa.Column("last_day", sa.Date()),
    sa.Column("last_verdict", sa.String(40)),
    sa.Column("last_disposition", sa.String(40)),
    sa.Column("not_tested", sa.String(40)),
    sa.Index(None, "active", "due", "valve_id"),
    sa.Index(None, "tag_key", "valve_id"),
    sa.Index(None, "serial_key", "valve_id"),
    sa.Index(None, "site_id", "active", "due", "valve_id"),
    sa.Index(None, "owner_id", "active", "due", "valve_id"),
    # all that a fleet at a glance counts: the standings themselves are not read
    sa.Index(
        "ix_standing_at_a_glance",
        "active",
        "site_id",
        "last_verdict",
        "due",
        "not_tested",
        "last_disposition",
        "medium",
    ),
    # a page far down a list passes over what lies before it in the index alone
    sa.Index(None, "active", "tag_key", "valve_id"),
    sa.Index(None, "active", "serial_key", "valve_id"),
    sa.Index(None, "active", "last_verdict", "tag_key", "valve_id"),
)


def columns_of(name: str) -> Sequence[Any]:
    """Give the columns of an entry's own fields, search keys left out.

    Parameters
    ----------
    name : str
        The kind's name.

    Returns
    -------
    sequence of Column
    """
    return [TABLES[name].c[field] for field in hints_of(KINDS[name])]
