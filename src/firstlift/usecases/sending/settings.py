"""The mail server that messages go to (``format = "firstlift-mail-1"``), stated in a file outside the register.

The password is in a file of its own that only its owner can read, or in FIRSTLIFT_MAIL_PASSWORD. It is read when a
message goes, held no longer, and stands in no message, no log, no chain and no backup.
"""

from __future__ import annotations

import os
import stat
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.contacts import contact_name, mail_address

FORMAT = "firstlift-mail-1"
PASSWORD_VARIABLE = "FIRSTLIFT_MAIL_PASSWORD"
LARGEST_MB = 20
_LOOPBACK = ("127.0.0.1", "::1", "localhost")
_KEYS: Mapping[str, tuple[str, ...]] = {
    "server": ("host", "port", "security", "user", "password_file", "ca_file"),
    "from": ("address", "name", "reply_to"),
    "limits": ("largest_mb",),
}
_LONGEST = 4096


class Security(StrEnum):
    """How the way to the server is kept from others: encrypted from the first byte, or before anything is said.

    ``none`` is for a server on this very machine alone.
    """

    TLS = "tls"
    STARTTLS = "starttls"
    NONE = "none"


_PORTS = {Security.TLS: 465, Security.STARTTLS: 587, Security.NONE: 25}


@dataclass(frozen=True, slots=True)
class MailServer:
    """Where messages are handed in, and by whom."""

    host: str
    port: int
    security: Security
    user: str = ""
    password_file: Path | None = None
    ca_file: Path | None = None


@dataclass(frozen=True, slots=True)
class MailSettings:
    """The server, what stands as the sender, and how large a message may be."""

    server: MailServer
    address: str
    name: str = ""
    reply_to: str = ""
    largest_bytes: int = LARGEST_MB * 1_000_000


def read_mail_settings(path: Path) -> MailSettings:
    """Read the settings of the mail server.

    Parameters
    ----------
    path : Path
        TOML; files that it names lie beside it unless their path is whole.

    Returns
    -------
    MailSettings

    Raises
    ------
    FirstliftError
        SND-005, or SND-001 an address.
    """
    try:
        data = tomllib.loads(path.read_bytes().decode("utf-8"))
    except OSError as error:
        raise _unusable(f"it cannot be read: {error.strerror or error}", path) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise _unusable(f"it is not TOML: {error}"[:200], path) from error
    _check_keys(data, path)
    security = _text(data, "server", "security", path) or str(Security.STARTTLS)
    if security not in tuple(Security):
        raise _unusable(f"[server] security = '{security[:40]}'", path, "starttls, tls, or none on this machine")
    server = _server(data, Security(security), path)
    named, reply = _text(data, "from", "name", path), _text(data, "from", "reply_to", path)
    return MailSettings(
        server,
        mail_address(_text(data, "from", "address", path), f"{path}: [from] address"),
        contact_name(named, f"{path}: [from] name") if named else "",
        mail_address(reply, f"{path}: [from] reply_to") if reply else "",
        _number(data, "limits", "largest_mb", LARGEST_MB, 200, path) * 1_000_000,
    )


def _server(data: Mapping[str, Any], security: Security, path: Path) -> MailServer:
    host = _text(data, "server", "host", path)
    if not host or not host.isascii() or not host.replace("-", "").replace(".", "").replace(":", "").isalnum():
        raise _unusable(f"[server] host = '{host[:60]}'", path, "the server's name or address")
    user = _text(data, "server", "user", path)
    if security is Security.NONE and (host not in _LOOPBACK or user):
        raise _unusable(
            "[server] security = 'none'", path, "starttls or tls: without, only a server on this machine, without user"
        )
    beside = {name: _text(data, "server", name, path) for name in ("password_file", "ca_file")}
    files = {name: path.parent / named if named else None for name, named in beside.items()}
    return MailServer(host, _number(data, "server", "port", _PORTS[security], 65535, path), security, user, **files)


def check_apart(path: Path, settings: MailSettings, folder: Path) -> None:
    """Refuse settings or a password that lie in a register's folder, from where copies might take them along.

    Parameters
    ----------
    path : Path
        Of the settings.
    settings : MailSettings
    folder : Path
        The register's.

    Raises
    ------
    FirstliftError
        SND-005.
    """
    for each in (path, settings.server.password_file):
        if each is not None and each.resolve().is_relative_to(folder.resolve()):
            raise _unusable("it lies in the register's folder", each, "a place outside of it")


def read_password(server: MailServer) -> str:
    """Give the password of the server's user: from its file, else from the environment.

    Parameters
    ----------
    server : MailServer

    Returns
    -------
    str
        "" where there is no user.

    Raises
    ------
    FirstliftError
        SND-005 there is none, it cannot be read, or others than its owner can read its file.
    """
    if not server.user:
        return ""
    path = server.password_file
    if path is None:
        password = os.environ.get(PASSWORD_VARIABLE, "")
        if not password:
            raise _unusable("no password is given", needed=f"password_file in the settings, or {PASSWORD_VARIABLE}")
        return password
    try:
        if sys.platform != "win32" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise _unusable("others than its owner can read it", path, "a file for its owner alone: chmod 600")
        with path.open("rb") as file:
            line = file.read(_LONGEST).partition(b"\n")[0].rstrip(b"\r").decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise _unusable(f"the password cannot be read: {type(error).__name__}", path, "a text file") from error
    if not line:
        raise _unusable("its first line is empty", path, "the password on the first line")
    return line


def _check_keys(data: Mapping[str, Any], path: Path) -> None:
    if data.get("format") != FORMAT:
        raise _unusable(f"its format is {data.get('format')!r}"[:80], path, f'format = "{FORMAT}"')
    for name, part in data.items():
        if name == "format":
            continue
        if name not in _KEYS or not isinstance(part, dict):
            raise _unusable(f"'{name[:40]}' is not known", path, f"only {', '.join(_KEYS)}")
        unknown = sorted(set(part) - set(_KEYS[name]))
        if unknown:
            # a password written here would be such a key: its value is not repeated
            raise _unusable(f"[{name}] {unknown[0][:40]} is not known", path, f"only {', '.join(_KEYS[name])}")


def _text(data: Mapping[str, Any], part: str, key: str, path: Path) -> str:
    value = data.get(part, {}).get(key, "")
    if not isinstance(value, str) or not value.isprintable():
        raise _unusable(f"[{part}] {key} is no plain text", path, "a text on one line")
    return value


def _number(data: Mapping[str, Any], part: str, key: str, default: int, most: int, path: Path) -> int:
    value = data.get(part, {}).get(key, default)
    if type(value) is not int or not 1 <= value <= most:
        raise _unusable(f"[{part}] {key} is no whole number from 1 to {most}", path, "such a number")
    return value


def _unusable(what: str, path: Path | None = None, needed: str = "a file of settings") -> FirstliftError:
    return FirstliftError(
        Problem(
            "SND-005",
            f"the mail server's settings cannot be used: {what}",
            "" if path is None else str(path),
            needed,
            "See docs/papers.md, Sending",
        )
    )
