"""The app's file of sign-ins beside a register: copied along with it, without what must not come back.

A register that came back without its sign-ins would open to whoever sits at the machine. Sessions, browsers that are
known and answers kept for a repeat stay behind: a copy must not let anybody in who has left the app since.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem

ACCOUNTS = "accounts.sqlite"
_STAYS_BEHIND = ("session", "device", "answered", "draft", "delivery")


def copy_sign_ins(source: Path, target: Path) -> None:
    """Copy the file of sign-ins from one register's folder to another's, while it is in use.

    Parameters
    ----------
    source, target : Path
        Folders; where there is no file in the first, or one in the second already, nothing is done.

    Raises
    ------
    FirstliftError
        STO-014 the file cannot be read or written.
    """
    kept, copy = source / ACCOUNTS, target / ACCOUNTS
    if not kept.is_file() or copy.exists():
        return
    try:
        # made for its owner alone before anything is in it
        copy.touch(mode=0o600)
        with closing(sqlite3.connect(kept, timeout=10.0)) as old, closing(sqlite3.connect(copy)) as new:
            old.backup(new)
            for (table,) in new.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
                if table in _STAYS_BEHIND:
                    new.execute(f"DELETE FROM {table}")
            new.commit()
            # what was deleted is not left lying in the file's free pages
            new.execute("VACUUM")
            whole = new.execute("PRAGMA integrity_check").fetchone()[0]
    except (sqlite3.Error, OSError) as error:
        raise _not_whole(str(error), kept) from error
    if whole != "ok":
        raise _not_whole(str(whole), kept)


def count_sign_ins(folder: Path) -> int:
    """Count the people with a sign-in in a register's folder.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    int
    """
    path = folder / ACCOUNTS
    if not path.is_file():
        return 0
    try:
        with closing(sqlite3.connect(path, timeout=10.0)) as connection:
            return int(connection.execute("SELECT COUNT(*) FROM account WHERE active = 1").fetchone()[0])
    except sqlite3.Error as error:
        raise _not_whole(str(error), path) from error


def _not_whole(reason: str, path: Path) -> FirstliftError:
    return FirstliftError(
        Problem(
            "STO-014",
            f"the copy does not hold: the file of sign-ins cannot be copied: {reason}"[:200],
            str(path),
            "a file of sign-ins that is whole",
            "Bring it back from an earlier backup, or move it away and give the sign-ins anew",
        )
    )
