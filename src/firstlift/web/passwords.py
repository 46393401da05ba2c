"""Passwords: what is asked of one, how it is kept, how it is compared.

References
----------
.. [1] OWASP Password Storage Cheat Sheet: scrypt with N = 2^15, r = 8, p = 3, or N = 2^17, p = 1 (memory).
.. [2] OWASP ASVS 5.0, 6.2: length is what counts (15 or more advised), 64 and more allowed, no rules of composition,
   common and context words refused, no change by the calendar.
.. [3] OWASP Authentication Cheat Sheet, after NIST SP 800-63B-4: 15 or more where there is no second factor (memory).
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.web.guessable import parts_of

SHORTEST, LONGEST = 15, 128
# the owner may lay a list of breached passwords beside the register: see docs/security.md
BREACHED = "breached-sha1.txt"
_N, _R, _P = 2**15, 8, 3
_MEMORY = 2**26
_LEAST_PARTS = 6
_SHA1_DIGITS = 40


def check_password(password: str, name: str, folder: Path | None = None) -> None:
    """Refuse a password that is short, made of what everybody tries first, or known from a breach.

    Parameters
    ----------
    password, name : str
    folder : Path or None
        Where a list of breached passwords may lie.

    Raises
    ------
    FirstliftError
        WEB-006.
    """
    if not SHORTEST <= len(password) <= LONGEST:
        what = f"the password has {len(password)} characters"
    elif parts_of(password, name.split()) < _LEAST_PARTS:
        what = "the password is easily guessed"
    elif folder is not None and is_listed(password, folder / BREACHED):
        what = "the password is known from a breach"
    else:
        return
    needed = f"{SHORTEST} to {LONGEST} characters, of any kind; four or five words that do not belong together do well"
    raise FirstliftError(Problem("WEB-006", what, "password", needed, "Choose another"))


def is_listed(password: str, path: Path) -> bool:
    """Say whether a sorted list of SHA-1 hashes names a password.

    Parameters
    ----------
    password : str
    path : Path
        One hash in hexadecimal capitals a line, ":" and a count behind it or not, in rising order; need not be there.

    Returns
    -------
    bool
    """
    if not path.is_file():
        return False
    wanted = hashlib.sha1(password.encode(), usedforsecurity=False).hexdigest().upper().encode()
    low, high = 0, path.stat().st_size
    with path.open("rb") as lines:
        # the line that begins at or behind the middle, halving: forty steps for the longest list
        while low < high:
            middle = (low + high) // 2
            lines.seek(middle)
            if middle:
                lines.readline()
            found = lines.readline()[:_SHA1_DIGITS]
            if not found or found > wanted:
                high = middle
            elif found < wanted:
                low = middle + 1
            else:
                return True
        lines.seek(0)
        return lines.readline()[:_SHA1_DIGITS] == wanted


def keep_password(password: str) -> str:
    """Give what is kept of a password: parameters, salt and hash.

    Parameters
    ----------
    password : str

    Returns
    -------
    str
    """
    salt = secrets.token_bytes(16)
    return f"scrypt-{_N}-{_R}-{_P}${salt.hex()}${_hash(password, salt, _N, _R, _P).hex()}"


def fits(password: str, kept: str) -> bool:
    """Say whether a password is the one that was kept.

    Parameters
    ----------
    password, kept : str

    Returns
    -------
    bool
    """
    how, salt, digest = kept.split("$")
    n, r, p = (int(number) for number in how.removeprefix("scrypt-").split("-"))
    return secrets.compare_digest(_hash(password, bytes.fromhex(salt), n, r, p), bytes.fromhex(digest))


def _hash(password: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    # one way of writing a letter, so that it does not hang on the keyboard; nothing else is changed or cut
    text = unicodedata.normalize("NFKC", password).encode()
    return hashlib.scrypt(text, salt=salt, n=n, r=r, p=p, maxmem=_MEMORY)
