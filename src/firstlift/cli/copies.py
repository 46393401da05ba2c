"""``firstlift backup``, ``restore`` and ``export``: whole copies of a register."""

from __future__ import annotations

import argparse
from pathlib import Path

from firstlift.cli.show import show
from firstlift.store.audit import Report
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
    elif arguments.command == "backup":
        _tell(f"backed up to {arguments.target}", backup_register(arguments.store, Path(arguments.target)))
    else:
        _tell(f"restored from {arguments.source}", restore_register(arguments.store, Path(arguments.source)))
    return 0


def _tell(what: str, report: Report) -> None:
    show(f"{what}, opened and audited: {report.rows} rows, {report.files} files, {report.entries} entries of history")
    show(f"last entry {report.entries}:{report.head_sha256}")
