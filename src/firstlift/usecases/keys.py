"""Which key signs: the one that is named, else one made by this program and kept for the user."""

from __future__ import annotations

import datetime as dt
import os
import sys
from pathlib import Path

from firstlift.certificate.keys import Key, key_of, load_key, make_key, write_key
from firstlift.core.errors import FirstliftError, Problem, UsageError

WARNING = (
    "signed with a key that this program made for itself: it shows that no byte was changed since, not who signed. "
    "Sign with your own key: --sign KEY.p12 --passphrase-file FILE"
)
_LONGEST_PASSPHRASE = 4096


def home() -> Path:
    """Give the folder of what this program keeps for its user: FIRSTLIFT_HOME, else the system's own place.

    Returns
    -------
    Path
    """
    named = os.environ.get("FIRSTLIFT_HOME")
    if named:
        return Path(named)
    if sys.platform == "win32":
        return Path(os.environ.get("APPDATA") or Path.home() / "AppData" / "Roaming") / "Firstlift"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Firstlift"
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "firstlift"


def signing_key(named: Path | None = None, passphrase_file: Path | None = None, *, at: dt.datetime) -> Key:
    """Give the key to sign with; where none is named, this program's own, made at its first use.

    Parameters
    ----------
    named : Path or None
        PKCS#12.
    passphrase_file : Path or None
        Its first line is the passphrase.
    at : datetime
        Now, with its zone: from when a new key runs.

    Returns
    -------
    Key

    Raises
    ------
    FirstliftError
        SIG-001 to SIG-003, or USE-003 a passphrase without a key.
    """
    if named is not None:
        return load_key(named, None if passphrase_file is None else read_passphrase(passphrase_file))
    if passphrase_file is not None:
        raise UsageError(Problem("USE-003", "a passphrase is given, but no key", "--passphrase-file", "--sign KEY.p12"))
    path = home() / "keys" / "self-made.p12"
    if not path.exists():
        made = make_key("", made_at=at)
        try:
            write_key(path, made)
        except FirstliftError:
            # another process made it in the meantime, or nothing may be kept here: then this one key for this once
            if not path.exists():
                return key_of(made, None, path)
    return load_key(path, None)


def passing_key(*, at: dt.datetime) -> Key:
    """Give a key that is kept nowhere, for what nobody will rely on.

    Parameters
    ----------
    at : datetime
        Now, with its zone.

    Returns
    -------
    Key
    """
    return key_of(make_key("", made_at=at), None, Path("memory"))


def read_passphrase(path: Path) -> bytes:
    """Read a passphrase: the first line of a file, without its end.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        SIG-001 the file cannot be read or holds no passphrase.
    """
    try:
        with path.open("rb") as file:
            line = file.read(_LONGEST_PASSPHRASE).partition(b"\n")[0].rstrip(b"\r")
    except OSError as error:
        why = error.strerror or str(error)
        raise FirstliftError(
            Problem("SIG-001", f"the passphrase cannot be read: {why}", str(path), "a text file")
        ) from error
    if not line:
        raise FirstliftError(
            Problem("SIG-001", "the passphrase is empty", str(path), "a text file whose first line is the passphrase")
        )
    return line
