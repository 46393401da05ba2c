"""A change behind the register's back is named, the same on both engines."""

import contextlib
import dataclasses
import sqlite3
import uuid

import pytest
import sqlalchemy as sa
from tests.contract.store import entries as e

from firstlift.core.errors import FirstliftError
from firstlift.core.register.work import Certificate, CertificateState
from firstlift.store.audit import audit
from firstlift.store.files import keep_bytes, kept_path
from firstlift.store.numbering import issue_certificate, reserve_certificate, review_certificate, withdraw_certificate
from firstlift.store.open import DATABASE


@pytest.fixture
def filled(store):
    photo, plate, sheet, recording = (keep_bytes(store.folder, name.encode() * 50) for name in ("p", "a", "s", "r"))
    swaps = {
        e.IDENTITY: dataclasses.replace(e.IDENTITY, photo_sha256=photo),
        e.ATTACHMENT: dataclasses.replace(e.ATTACHMENT, sha256=plate),
        e.TEST: dataclasses.replace(e.TEST, sheet_sha256=sheet, recording_sha256=recording),
    }
    with store.work(at=e.AT, who="program:test") as work:
        work.add_all(swaps.get(entry, entry) for entry in e.ALL)
        work.change(dataclasses.replace(e.SITE, note="changed"))
    return store


def run(store, **more):
    with store.read() as reader:
        return audit(reader, **more)


def behind_its_back(store, *statements):
    """Change rows as someone with full rights would: the guards off."""
    if store.writer.dialect.name == "sqlite":
        # a connection of its own knows no foreign keys
        with contextlib.closing(sqlite3.connect(store.folder / DATABASE)) as raw:
            for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                raw.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                assert raw.execute(statement).rowcount > 0, statement
            raw.commit()
        return
    with store.writer.begin() as connection:
        connection.execute(sa.text("SET LOCAL session_replication_role = replica"))
        for statement in statements:
            assert connection.execute(sa.text(statement)).rowcount > 0, statement


def test_a_register_nobody_touched_holds(filled):
    report = run(filled)
    assert report.faults == ()
    assert (report.entries, report.rows, report.files, report.spare_files) == (len(e.ALL) + 1, len(e.ALL), 4, 0)
    assert run(filled, expect=(report.entries, report.head_sha256)).faults == ()


def test_an_empty_register_holds(store):
    assert run(store).faults == ()


@pytest.mark.parametrize(
    ("statement", "what", "reason"),
    [
        ("UPDATE valve_test SET verdict = 'outside'", "valve test", "not what the chain says"),
        ("UPDATE valve_test SET set_pressure_pa = 1412001", "valve test", "not what the chain says"),
        ("UPDATE certificate SET signed_sha256 = 'ff'", "certificate", "not what the chain says"),
        ("UPDATE site SET zone = 'UTC'", "site", "not what the chain says"),
        ("UPDATE seat_record SET tied_to = '[]'", "seat record", "not what the chain says"),
        ("DELETE FROM attachment", "attachment", "its row is gone"),
        ("INSERT INTO owner SELECT '{}', 'x', '', 'x' FROM store", "owner", "the chain has no entry for it"),
        ("UPDATE audit_entry SET who = 'x' WHERE number = 5", "entry 5", "its content does not fit its hash"),
        (
            "UPDATE audit_entry SET after = after || ' ' WHERE number = 9",
            "entry 9",
            "its content does not fit its hash",
        ),
        ("UPDATE audit_entry SET sha256 = 'ff' WHERE number = 3", "entry 3", "its content does not fit its hash"),
        ("DELETE FROM audit_entry WHERE number = 4", "entry 4", "missing"),
        ("DELETE FROM audit_entry WHERE number >= 22", "entry 22", "the chain ends with entry 21"),
        ("UPDATE standing SET due = NULL", "standing of valve", "not what the entries say"),
        ("DELETE FROM test_instrument", "instruments of valve test", "not what the test says"),
    ],
)
def test_what_was_changed_is_named(filled, statement, what, reason):
    behind_its_back(filled, statement.format(uuid.UUID(int=77).hex))
    first = run(filled).faults[0]
    assert first.what.startswith(what)
    assert reason in first.reason


def test_what_means_the_same_but_is_written_otherwise_is_named(filled):
    on_sqlite = filled.writer.dialect.name == "sqlite"
    wider = "replace(CAST(bench AS TEXT), ', ', ',  ')"
    wider = wider if on_sqlite else f"CAST({wider} AS JSON)"
    statements = {
        "UPDATE valve SET serial_key = 'other'": "its search key is not what its row says",
        f"UPDATE valve_test SET bench = {wider}": "its bench is not written as it was",
    }
    if on_sqlite:
        statements |= {
            "UPDATE hold_point SET released = 2": "its released is not written as it was",
            "UPDATE hold_point SET visit_id = upper(visit_id)": "its visit_id is not written as it was",
            "UPDATE audit_entry SET store_id = upper(store_id), entry_id = upper(entry_id) WHERE number = 14": (
                "its entry_id is not written as it was"
            ),
        }
    for statement, reason in statements.items():
        assert reason not in [fault.reason for fault in run(filled).faults]
        behind_its_back(filled, statement)
        assert reason in [fault.reason for fault in run(filled).faults], statement


def test_the_first_entry_that_breaks_comes_first(filled):
    behind_its_back(
        filled,
        "UPDATE audit_entry SET who = 'x' WHERE number IN (8, 12)",
        "UPDATE owner SET note = 'x'",
    )
    assert [fault.number for fault in run(filled).faults] == [8, 12, 1]


def test_personal_data_that_were_changed_are_named(filled):
    behind_its_back(filled, 'UPDATE person SET details = \'{"salt": "s4lt", "name": "B"}\'')
    assert "personal data" in run(filled).faults[0].reason


def test_personal_data_that_were_removed_are_no_fault(filled):
    with filled.work(at=e.AT, who="program:test") as work:
        work.erase_person(e.PERSON.id)
    assert run(filled).faults == ()


def test_a_chain_of_another_register_is_seen(filled):
    other = dataclasses.replace(filled, id=uuid.uuid4())
    assert any("belongs to the store" in fault.reason for fault in run(other).faults)


def test_an_entry_that_was_noted_proves_that_none_was_cut_off(filled):
    noted = run(filled)
    with filled.work(at=e.AT, who="program:test") as work:
        work.change(dataclasses.replace(e.SITE, note="again"))
    assert run(filled, expect=(noted.entries, noted.head_sha256)).faults == ()
    assert run(filled, expect=(noted.entries, "0" * 64)).faults[0].number == noted.entries
    assert run(filled, expect=(noted.entries + 5, noted.head_sha256)).faults[0].reason.endswith("noted")


def test_every_file_that_was_changed_is_named(filled):
    with filled.read() as reader:
        test = reader.get(type(e.TEST), e.TEST.id)
    path = kept_path(filled.folder, test.recording_sha256)
    data = bytearray(path.read_bytes())
    data[12] ^= 1
    path.write_bytes(data)
    kept_path(filled.folder, test.sheet_sha256).unlink()
    faults = run(filled).faults
    assert {fault.what.split()[1]: fault.reason for fault in faults} == {
        test.recording_sha256: "it is damaged",
        test.sheet_sha256: "it is missing",
    }
    assert all(str(e.TEST.id) in fault.what for fault in faults)


def test_a_row_that_cannot_be_read_is_named(filled):
    if filled.writer.dialect.name == "postgresql":
        behind_its_back(filled, "UPDATE site SET zone = 'x'")
    else:
        behind_its_back(filled, "UPDATE valve_test SET instruments = '['", "UPDATE attachment SET id = 'x'")
    faults = [(fault.what.split()[0], fault.reason) for fault in run(filled).faults]
    if filled.writer.dialect.name == "sqlite":
        assert {("valve", "its row cannot be read"), ("attachment", "its row cannot be read")} <= set(faults)
    else:
        assert faults == [("site", "its row is not what the chain says")]


def numbered(store, supersedes=None):
    with store.work(at=e.AT, who="program:test") as work:
        return reserve_certificate(
            work, certificate_id=uuid.uuid4(), test_id=e.TEST.id, series="MB", zone=e.ZONE, supersedes=supersedes
        )


def test_numbers_have_no_gaps(filled):
    with pytest.raises(FirstliftError), filled.work(at=e.AT, who="program:test") as work:
        reserve_certificate(work, certificate_id=uuid.uuid4(), test_id=uuid.uuid4(), series="MB", zone=e.ZONE)
    assert [numbered(filled).text for _ in range(3)] == ["MB-00002", "MB-00003", "MB-00004"]
    behind_its_back(filled, "DELETE FROM certificate WHERE number = 3")
    assert "number 3 is missing" in [fault.reason for fault in run(filled).faults]


def test_a_certificate_is_issued_and_superseded(filled):
    first = numbered(filled)
    with pytest.raises(FirstliftError, match="REG-016"):
        numbered(filled, supersedes=first.id)
    with filled.work(at=e.AT, who="program:test") as work:
        review_certificate(work, first.id, reviewer_id=e.PERSON.id)
        issue_certificate(work, first.id, unsigned_sha256="ab" * 32, signed_sha256="cd" * 32, signer_id=e.PERSON.id)
    second = numbered(filled, supersedes=first.id)
    with filled.work(at=e.AT, who="program:test") as work:
        review_certificate(work, second.id, reviewer_id=None)
        issue_certificate(work, second.id, unsigned_sha256="ab" * 32, signed_sha256="")
    with filled.work(at=e.AT, who="program:test") as work:
        withdraw_certificate(work, second.id, reason="wrong valve")
    with filled.read() as reader:
        states = [reader.get(Certificate, made.id).state for made in (first, second)]
    assert states == [CertificateState.SUPERSEDED, CertificateState.WITHDRAWN]
    assert run(filled).faults == ()
