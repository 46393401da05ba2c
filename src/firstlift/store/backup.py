"""Back up, restore, export, import: whole or not at all, and proved by an audit of what came out.

A backup is a folder store of its own, whatever engine it was made from. The register goes on being used while it
is made. Everything is written into a folder beside the target's place and renamed at the end.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.store.audit import Report, audit
from firstlift.store.engine import sqlite_engines
from firstlift.store.export import read_export, write_export
from firstlift.store.files import keep_stretches
from firstlift.store.open import DATABASE, Store, engines_of, folder_of, is_url, open_store, said_place
from firstlift.store.portable import Portable, copy_files, fill_store, portable_store
from firstlift.store.read import Reader
from firstlift.store.sign_ins import copy_sign_ins
from firstlift.store.told import told


def backup(store: Store, target: Path) -> Report:
    """Back up a register into a new folder, online, and prove the copy by opening and auditing it.

    The app's sign-ins come along, their sessions do not.

    Parameters
    ----------
    store : Store
    target : Path
        Must not be there.

    Returns
    -------
    Report
        Of the copy.

    Raises
    ------
    FirstliftError
        STO-003 the target is there, STO-012 it cannot be written, STO-014 the copy does not hold.
    """
    with _made_beside(target) as made:
        with store.read() as reader:
            register = portable_store(reader)
            _fill_folder(register, made)
        copy_sign_ins(store.folder, made)
        return _proved(made, register, target)


def restore(source: Path, where: str | Path, *, folder: Path | None = None) -> Report:
    """Bring a register back from a backup into an empty place, and prove it.

    Parameters
    ----------
    source : Path
        A backup.
    where : str or Path
        A folder that is not there, or a PostgreSQL database without a register.
    folder : Path or None
        Where recordings go beside a database with a URL.

    Returns
    -------
    Report

    Raises
    ------
    FirstliftError
        STO-003 there is a register already, STO-008 the source is none, STO-012, STO-014.
    """
    store = open_store(source)
    try:
        with store.read() as reader:
            return _bring(portable_store(reader), where, folder, sign_ins=source)
    finally:
        store.close()


def export(store: Store, target: Path) -> int:
    """Write a register in open formats into a new folder.

    Parameters
    ----------
    store : Store
    target : Path
        Must not be there.

    Returns
    -------
    int
        Entries of the chain that were written.

    Raises
    ------
    FirstliftError
        STO-003 the target is there, STO-012 it cannot be written, STO-010, STO-011 a kept file is not whole.
    """
    with _made_beside(target) as made, store.read() as reader:
        register = portable_store(reader)
        write_export(register, made)
        return register.count


def import_export(source: Path, where: str | Path, *, folder: Path | None = None) -> Report:
    """Make a register equal to the one that was exported.

    Parameters
    ----------
    source : Path
        An export.
    where : str or Path
    folder : Path or None

    Returns
    -------
    Report

    Raises
    ------
    FirstliftError
        STO-013 it is no export, STO-003 there is a register already, STO-012, STO-014.
    """
    return _bring(read_export(source), where, folder)


def _bring(register: Portable, where: str | Path, folder: Path | None, *, sign_ins: Path | None = None) -> Report:
    if not is_url(where):
        target = Path(where)
        with _made_beside(target) as made:
            _fill_folder(register, made)
            if sign_ins is not None:
                copy_sign_ins(sign_ins, made)
            return _proved(made, register, target)
    base, said = folder_of(where, folder), said_place(where)
    copy_files(register, base, _keep_checked)
    writer, _ = engines_of(where, base)
    try:
        # audited before it is committed: a copy that does not hold never comes to be
        with told(said), writer.begin() as connection:
            fill_store(connection, register, said)
            if sign_ins is not None:
                copy_sign_ins(sign_ins, base)
            return _held(audit(Reader(connection, register.store_id, base)), register, said)
    finally:
        writer.dispose()


def _fill_folder(register: Portable, made: Path) -> None:
    copy_files(register, made, _keep_checked)
    writer, reader = sqlite_engines(made / DATABASE)
    try:
        with told(str(made)), writer.begin() as connection:
            fill_store(connection, register, str(made))
        with told(str(made)), writer.connect() as connection:
            # the log goes into the file, so that the one file is all there is
            connection.exec_driver_sql("COMMIT")
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.exec_driver_sql("BEGIN")
    finally:
        writer.dispose()
        reader.dispose()


def _proved(made: Path, register: Portable, target: Path) -> Report:
    store = open_store(made)
    try:
        with store.read() as reader:
            return _held(audit(reader), register, str(target))
    finally:
        store.close()


def _held(report: Report, register: Portable, said: str) -> Report:
    same = (report.entries, report.head_sha256) == (register.count, register.head_sha256)
    if same and not report.faults:
        return report
    first = report.faults[0] if report.faults else None
    reason = f"{first.what}: {first.reason}" if first else "its chain ends elsewhere"
    raise FirstliftError(
        Problem(
            "STO-014", f"the copy does not hold: {reason}", said, "a register whose audit finds nothing", "Audit it"
        )
    )


def _keep_checked(folder: Path, sha256: str, stretches: Iterator[bytes]) -> None:
    if keep_stretches(folder, stretches) != sha256:
        raise FirstliftError(Problem("STO-011", "a file is damaged: its bytes are not those that were kept", sha256))


@contextmanager
def _made_beside(target: Path) -> Iterator[Path]:
    """Give a folder beside the target's place; it takes that place when the block ends well, else it goes."""
    if target.exists():
        raise FirstliftError(Problem("STO-003", "there is something already", str(target), "a place that is free"))
    try:
        made = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
    except OSError as error:
        raise FirstliftError(
            Problem("STO-012", f"the folder cannot be written: {error.strerror or error}", str(target), "room to write")
        ) from error
    try:
        yield made
        made.chmod(0o755)
        made.rename(target)
    except BaseException:
        shutil.rmtree(made, ignore_errors=True)
        raise
