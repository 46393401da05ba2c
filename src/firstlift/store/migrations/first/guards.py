"""What the database itself refuses: to delete anything, to edit what was observed or handed out, or the chain."""

from __future__ import annotations

from collections.abc import Iterator

ENTRIES = (
    "owner", "person", "qualification", "site", "protected_system", "position", "interval", "rule_choice", "valve",
    "installation", "instrument", "calibration", "seat_record", "visit", "use_check", "identity_check", "hold_point",
    "valve_test", "adjustment", "certificate", "attachment",
)  # fmt: skip
KEPT = ("audit_entry", "store")
FROZEN = (
    "audit_entry", "calibration", "use_check", "identity_check", "hold_point", "valve_test", "adjustment",
    "attachment",
)  # fmt: skip
_HANDED_OUT = ("id", "test_id", "series", "number", "text", "reserved_at", "zone", "issued_at", "reviewer_id",
               "signer_id", "unsigned_sha256", "signed_sha256", "supersedes")  # fmt: skip

POSTGRES_FUNCTION = """
CREATE FUNCTION firstlift_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION 'firstlift: %', TG_ARGV[0]; END $$
"""


def guards(engine: str) -> Iterator[str]:
    """Give the statements that make the triggers.

    Parameters
    ----------
    engine : str
        "sqlite" or "postgresql".

    Returns
    -------
    iterator of str
    """
    if engine == "postgresql":
        yield POSTGRES_FUNCTION
    for table in (*ENTRIES, *KEPT):
        yield from _kept(engine, table)
    for table in FROZEN:
        yield _guard(engine, table, "update", f"{table} is never edited")
    yield _guard(engine, "store", "update", "a store keeps its identifier", when=_moved(engine, ("id", "made_at")))
    yield _guard(engine, "certificate", "update", "what was handed out is never edited", when=_issued(engine))


def guards_of(engine: str, table: str) -> Iterator[str]:
    """Give the statements that guard one table of a later step: nothing is deleted from it, and no row edited.

    Parameters
    ----------
    engine : str
    table : str

    Returns
    -------
    iterator of str
    """
    yield from _kept(engine, table)
    yield _guard(engine, table, "update", f"{table} is never edited")


def _kept(engine: str, table: str) -> Iterator[str]:
    yield _guard(engine, table, "delete", f"nothing is deleted from {table}")
    if engine == "postgresql":
        yield (
            f"CREATE TRIGGER keep_{table}_truncate BEFORE TRUNCATE ON {table} "
            f"EXECUTE FUNCTION firstlift_refuse('nothing is deleted from {table}')"
        )


def _issued(engine: str) -> str:
    over = "OLD.state IN ('issued', 'superseded', 'withdrawn')"
    back = "NEW.state NOT IN ('superseded', 'withdrawn') AND NEW.state <> OLD.state"
    return f"{over} AND ({back} OR {_moved(engine, _HANDED_OUT)})"


def _moved(engine: str, columns: tuple[str, ...]) -> str:
    differs = "IS NOT" if engine == "sqlite" else "IS DISTINCT FROM"
    return " OR ".join(f'NEW."{column}" {differs} OLD."{column}"' for column in columns)


def _guard(engine: str, table: str, event: str, words: str, *, when: str = "") -> str:
    head = f"CREATE TRIGGER keep_{table}_{event} BEFORE {event.upper()} ON {table} FOR EACH ROW"
    condition = f" WHEN ({when})" if when else ""
    if engine == "sqlite":
        return f"{head}{condition} BEGIN SELECT RAISE(ABORT, 'firstlift: {words}'); END"
    return f"{head}{condition} EXECUTE FUNCTION firstlift_refuse('{words}')"
