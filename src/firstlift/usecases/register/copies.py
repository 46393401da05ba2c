"""Back up, restore, export and audit a register."""

from __future__ import annotations

import time
from pathlib import Path

from firstlift.store.audit import Report, audit
from firstlift.store.backup import backup, export, import_export, restore
from firstlift.store.files import sweep
from firstlift.usecases.register.place import opened, place_of

_SETTLED_S = 3600.0


def backup_register(option: str | None, target: Path) -> Report:
    """Back up a register online, proved by opening and auditing the copy.

    Parameters
    ----------
    option : str or None
        See `firstlift.usecases.register.place.place_of`.
    target : Path

    Returns
    -------
    Report

    Raises
    ------
    FirstliftError
        STO-003 the target is there, STO-012 it cannot be written, STO-014 the copy does not hold.
    """
    with opened(option) as store:
        return backup(store, target)


def restore_register(option: str | None, source: Path) -> Report:
    """Bring a register back from a backup or an export.

    Parameters
    ----------
    option : str or None
        Where to: a place without a register.
    source : Path

    Returns
    -------
    Report

    Raises
    ------
    FirstliftError
        STO-003 there is a register already, STO-008, STO-013 the source is none, STO-014 it does not hold.
    """
    where, folder = place_of(option)
    bring = import_export if (source / "register.json").is_file() else restore
    return bring(source, where, folder=folder)


def export_register(option: str | None, target: Path) -> int:
    """Write a register in open formats.

    Parameters
    ----------
    option : str or None
    target : Path

    Returns
    -------
    int
        Entries of the chain.

    Raises
    ------
    FirstliftError
        STO-003 the target is there, STO-012 it cannot be written.
    """
    with opened(option) as store:
        return export(store, target)


def audit_register(option: str | None, *, expect: tuple[int, str] | None = None) -> Report:
    """Audit a register, and clear away what a crash left half-written.

    Parameters
    ----------
    option : str or None
    expect : tuple of int and str, or None
        An entry that was noted before.

    Returns
    -------
    Report

    Raises
    ------
    FirstliftError
        STO-008 there is no register, STO-009 it is of another release.
    """
    with opened(option) as store:
        sweep(store.folder, older_than_s=_SETTLED_S, now_s=time.time())
        with store.read() as reader:
            return audit(reader, expect=expect)
