"""``firstlift backup``, ``restore`` and ``export``: whole copies of a register."""

from __future__ import annotations

import argparse
from pathlib import Path

from firstlift.cli.show import show
from firstlift.store.audit import Report
from firstlift.store.sign_ins import count_sign_ins
from firstlift.usecases.register.copies import backup_register, export_register, restore_register


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0; what fails leaves no copy.
    """
    if arguments.command == "export":
        entries = export_register(arguments.store, Path(arguments.target))
        show(f"exported to {arguments.target}: {entries} entries of history")
        show("the app's sign-ins are no part of an export")
    elif arguments.command == "backup":
        _tell(
            f"backed up to {arguments.target}",
            backup_register(arguments.store, Path(arguments.target)),
            arguments.target,
        )
    else:
        _tell(
            f"restored from {arguments.source}",
            restore_register(arguments.store, Path(arguments.source)),
            arguments.source,
        )
    return 0


def _tell_sign_ins(folder: Path) -> None:
    count = count_sign_ins(folder)
    if count:
        show(f"with the app's sign-ins of {count} {'person' if count == 1 else 'people'}; their sessions stay behind")
    else:
        show("no sign-ins in it: give them anew before others may come in")


def _tell(what: str, report: Report, copy: str) -> None:
    show(f"{what}, opened and audited: {report.rows} rows, {report.files} files, {report.entries} entries of history")
    _tell_sign_ins(Path(copy))
    show(f"last entry {report.entries}:{report.head_sha256}")
