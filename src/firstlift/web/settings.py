"""What the app is started with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firstlift.certificate.settings import PLAIN, PaperSettings


@dataclass(frozen=True, slots=True)
class Settings:
    """How the app runs.

    ``sign_in``: everybody signs in with a password; else it is a single laptop's, answers on loopback only and
    asks who is working. ``secure``: cookies go over TLS only. ``accounts`` is the file of sign-ins and sessions,
    ``invented`` whether the register is the demo's. ``key`` and ``passphrase`` are files to sign papers with.
    """

    accounts: Path
    sign_in: bool = False
    secure: bool = False
    invented: bool = False
    paper: PaperSettings = PLAIN
    key: Path | None = None
    passphrase: Path | None = None
    largest_upload_bytes: int = 400_000_000
