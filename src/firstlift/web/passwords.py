"""Passwords: what is asked of one, how it is kept, how it is compared.

References
----------
.. [1] OWASP Password Storage Cheat Sheet: scrypt with N = 2^15, r = 8, p = 3, or N = 2^17, p = 1 (memory).
.. [2] OWASP ASVS 4.0.3, 2.1: 12 characters or more, long ones allowed, no rules of composition (memory).
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata

from firstlift.core.errors import FirstliftError, Problem

SHORTEST, LONGEST = 12, 128
_N, _R, _P = 2**15, 8, 3
_MEMORY = 2**26
_LEAST_DIFFERENT = 5


def check_password(password: str, name: str) -> None:
    """Refuse a password that is short, or easily guessed from the name.

    Parameters
    ----------
    password, name : str

    Raises
    ------
    FirstliftError
        WEB-006.
    """
    plain = password.casefold()
    parts = [part for part in (*name.casefold().split(), "firstlift", "password") if len(part) > 2]
    rest = plain
    for part in parts:
        rest = rest.replace(part, "")
    if not SHORTEST <= len(password) <= LONGEST:
        what = f"the password has {len(password)} characters"
    elif len(set(plain)) < _LEAST_DIFFERENT or len(rest) < SHORTEST // 2:
        what = "the password is easily guessed"
    else:
        return
    needed = f"{SHORTEST} to {LONGEST} characters that do not repeat your name; several words do well"
    raise FirstliftError(Problem("WEB-006", what, "password", needed, "Choose another"))


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
    text = unicodedata.normalize("NFKC", password).encode()
    return hashlib.scrypt(text, salt=salt, n=n, r=r, p=p, maxmem=_MEMORY)
