"""Backup, restore, export and import: an equal register comes out, or nothing does."""

import csv
import dataclasses
import json
import uuid

import pytest
import sqlalchemy as sa
from tests.contract.store import entries as e

from firstlift.core.errors import FirstliftError
from firstlift.core.register.kinds import KINDS
from firstlift.store.backup import backup, export, import_export, restore
from firstlift.store.files import keep_bytes, kept_path, read_kept
from firstlift.store.open import open_store
from firstlift.store.tables import metadata

RECORDING = b"time_s,cell 1\n0.0,1.5\n" * 300


@pytest.fixture
def filled(store):
    sha256 = keep_bytes(store.folder, RECORDING)
    swaps = {
        e.IDENTITY: dataclasses.replace(e.IDENTITY, photo_sha256=""),
        e.ATTACHMENT: dataclasses.replace(e.ATTACHMENT, sha256=sha256, name="=cmd()"),
        e.TEST: dataclasses.replace(e.TEST, recording_sha256=sha256),
    }
    with store.work(at=e.AT, who="program:test") as work:
        work.add_all(swaps.get(entry, entry) for entry in e.ALL)
        work.change(dataclasses.replace(e.SITE, note='a "quoted", b\nç'))
        work.add(dataclasses.replace(swaps[e.TEST], id=uuid.UUID(int=1), supersedes=e.TEST.id))
        work.erase_person(e.PERSON.id)
    return store


@pytest.fixture
def elsewhere(store, request, tmp_path):
    """Give an empty place of the same engine."""
    if store.writer.dialect.name == "sqlite":
        return tmp_path / "elsewhere", None
    server = request.getfixturevalue("postgres")
    name = f"t{uuid.uuid4().hex}"
    server.psql(f"CREATE DATABASE {name}")
    return server.get_uri(name), tmp_path / "elsewhere files"


def whole(store):
    with store.read() as reader:
        return {
            name: sorted(map(tuple, reader.connection.execute(sa.select(table))), key=repr)
            for name, table in metadata.tables.items()
        }


def test_what_is_restored_is_equal(filled, elsewhere, tmp_path):
    report = backup(filled, tmp_path / "backup")
    assert (report.faults, report.files, report.entries) == ((), 1, len(e.ALL) + 3)
    assert sorted(path.name for path in (tmp_path / "backup").iterdir()) == ["recordings", "register.sqlite"]
    assert restore(tmp_path / "backup", elsewhere[0], folder=elsewhere[1]) == report
    again = open_store(elsewhere[0], folder=elsewhere[1])
    assert whole(again) == whole(filled)
    assert read_kept(again.folder, report_file(again)) == RECORDING
    with again.work(at=e.AT, who="program:test") as work:
        work.change(dataclasses.replace(e.OWNER, note="goes on"))
    again.close()


def report_file(store):
    with store.read() as reader:
        return reader.get(type(e.TEST), e.TEST.id).recording_sha256


def test_what_is_exported_and_imported_is_equal(filled, elsewhere, tmp_path):
    assert export(filled, tmp_path / "export") == len(e.ALL) + 3
    tables = {path.name for path in (tmp_path / "export" / "tables").iterdir()}
    assert tables == {f"{name}.{kind}" for name in (*KINDS, "audit_entry") for kind in ("csv", "parquet")}
    assert (tmp_path / "export" / "recordings" / report_file(filled)).read_bytes() == RECORDING
    import_export(tmp_path / "export", elsewhere[0], folder=elsewhere[1])
    again = open_store(elsewhere[0], folder=elsewhere[1])
    assert whole(again) == whole(filled)
    again.close()


def test_the_csv_is_readable_and_runs_nothing(filled, tmp_path):
    export(filled, tmp_path / "export")
    with (tmp_path / "export" / "tables" / "site.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["name"], row["note"], row["zone"]) == (e.SITE.name, 'a "quoted", b\nç', e.ZONE)
    assert "'=cmd()" in (tmp_path / "export" / "tables" / "attachment.csv").read_text(encoding="utf-8")


def test_a_register_in_use_can_be_backed_up(filled, tmp_path):
    with filled.read() as reader:
        reader.list(type(e.OWNER))
        backup(filled, tmp_path / "one")
        with filled.work(at=e.AT, who="program:test") as work:
            work.change(dataclasses.replace(e.OWNER, note="meanwhile"))
    assert backup(filled, tmp_path / "two").entries == len(e.ALL) + 4


def test_a_damaged_recording_stops_a_backup_and_leaves_nothing(filled, tmp_path):
    path = kept_path(filled.folder, report_file(filled))
    path.write_bytes(path.read_bytes()[:-1])
    for make in (backup, export):
        with pytest.raises(FirstliftError, match="STO-011"):
            make(filled, tmp_path / "target")
        assert not [path for path in tmp_path.iterdir() if "target" in path.name]


def test_nothing_is_overwritten(filled, elsewhere, tmp_path):
    backup(filled, tmp_path / "backup")
    for make in (backup, export):
        with pytest.raises(FirstliftError, match="STO-003"):
            make(filled, tmp_path / "backup")
    restore(tmp_path / "backup", elsewhere[0], folder=elsewhere[1])
    with pytest.raises(FirstliftError, match="STO-003"):
        restore(tmp_path / "backup", elsewhere[0], folder=elsewhere[1])


def test_a_target_that_cannot_be_written_is_said(filled, tmp_path):
    with pytest.raises(FirstliftError, match="STO-012"):
        backup(filled, tmp_path / "not there" / "backup")


@pytest.mark.parametrize("harm", ["format", "no manifest", "cut", "missing", "recording", "row"])
def test_an_export_that_was_harmed_is_refused_and_leaves_nothing(filled, elsewhere, tmp_path, harm):
    folder = tmp_path / "export"
    export(filled, folder)
    manifest = json.loads((folder / "register.json").read_text())
    table = folder / "tables" / "site.parquet"
    if harm == "format":
        (folder / "register.json").write_text(json.dumps(manifest | {"format": "other"}))
    elif harm == "no manifest":
        (folder / "register.json").unlink()
    elif harm == "cut":
        table.write_bytes(table.read_bytes()[:-20])
    elif harm == "missing":
        table.unlink()
    elif harm == "recording":
        (folder / "recordings" / manifest["files"][0]).write_bytes(b"other")
    else:
        (folder / "register.json").write_text(json.dumps(manifest | {"entries": 3}))
    with pytest.raises(FirstliftError) as caught:
        import_export(folder, elsewhere[0], folder=elsewhere[1])
    expected = {"recording": "STO-011", "row": "STO-014"}
    assert caught.value.problems[0].code == expected.get(harm, "STO-013")
    if elsewhere[1] is None:
        assert not elsewhere[0].exists()
    else:
        with pytest.raises(FirstliftError, match="STO-008"):
            open_store(elsewhere[0], folder=elsewhere[1])
