"""What the app is started with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from firstlift.certificate.settings import PLAIN, PaperSettings
from firstlift.usecases.sending.settings import MailSettings


@dataclass(frozen=True, slots=True)
class Settings:
    """How the app runs.

    ``sign_in``: everybody signs in with a password; else it is a single laptop's, answers on loopback only and
    asks who is working. ``secure``: cookies go over TLS only. ``accounts`` is the file of sign-ins and sessions,
    ``invented`` whether the register is the demo's. ``key`` and ``passphrase`` are files to sign papers with.
    ``names``: what others call the app, beside this machine's name and addresses. ``hooks_to``: networks of one's own
    that web-hooks may be sent to, as "10.1.0.0/16"; without any they go to public addresses alone. ``mail`` is the
    server that papers are sent by, None where none is stated.
    """

    accounts: Path
    sign_in: bool = False
    secure: bool = False
    invented: bool = False
    paper: PaperSettings = PLAIN
    key: Path | None = None
    passphrase: Path | None = None
    largest_upload_bytes: int = 400_000_000
    names: tuple[str, ...] = ()
    hooks_to: tuple[str, ...] = ()
    mail: MailSettings | None = None

    def cookie(self, name: str) -> str:
        """Give what a cookie is called: over TLS so that no other host, and nobody without TLS, can set it."""
        return f"__Host-{name}" if self.secure else name
