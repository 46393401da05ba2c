"""What a certificate certifies, as a short list of files with their hashes; its own hash is the certificate's seal.

A PDF cannot hold its own hash, and a signature changes the file. So the hash that is printed, and that the QR code
carries, is that of the manifest: it names the certificate's number and the SHA-256 of the result, the job sheet and
the recording. Whoever holds the paper can compare it with the file, and the file with the register.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from firstlift.core.errors import FirstliftError, Problem

FORMAT = "firstlift-certificate-1"
MANIFEST, RESULT, JOB_SHEET = "manifest.json", "result.json", "jobsheet.toml"
LARGEST_ATTACHED = 8_000_000


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that goes with the certificate: its name in it, its bytes, and what it is to the document.

    ``relationship`` is PDF's AFRelationship: "data", "source", "supplement".
    """

    name: str
    data: bytes
    mime: str
    relationship: str
    description: str

    @property
    def sha256(self) -> str:
        """Hash of the bytes, 64 hexadecimal digits."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True, slots=True)
class CertifiedFile:
    """One line of the manifest: a file by name, hash and size; ``attached`` says whether it is inside."""

    name: str
    sha256: str
    size: int
    attached: bool


@dataclass(frozen=True, slots=True)
class Manifest:
    """What is certified, under which number, by which release and method."""

    number: str
    issued_on: str
    state: str
    release: str
    method: str
    supersedes: str
    reason: str
    files: tuple[CertifiedFile, ...]

    def to_bytes(self) -> bytes:
        """Give the manifest's own bytes: the same for the same content."""
        data: dict[str, Any] = {"format": FORMAT, "number": self.number, "issued_on": self.issued_on}
        data |= {"state": self.state, "release": self.release, "method": self.method}
        data |= {"supersedes": self.supersedes, "reason": self.reason}
        data["files"] = [
            {"name": file.name, "sha256": file.sha256, "bytes": file.size, "attached": file.attached}
            for file in self.files
        ]
        return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode()

    def file(self, name: str) -> CertifiedFile | None:
        """Give the line of one file; None where it is not named."""
        return next((file for file in self.files if file.name == name), None)

    @property
    def recording(self) -> CertifiedFile | None:
        """The line of the recording, whatever its ending; None where there is none."""
        return next((file for file in self.files if file.name.startswith("recording")), None)


def seal_of(manifest: bytes) -> str:
    """Give the seal: the SHA-256 of the manifest's bytes.

    Parameters
    ----------
    manifest : bytes

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    return hashlib.sha256(manifest).hexdigest()


def read_manifest(data: bytes) -> Manifest:
    """Read a manifest back.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    Manifest

    Raises
    ------
    FirstliftError
        VER-002 it is not a manifest of this format.
    """
    try:
        found = json.loads(data)
        if found["format"] != FORMAT:
            raise _unreadable(f"format {found['format']!r}")
        files = tuple(
            CertifiedFile(str(f["name"]), str(f["sha256"]), int(f["bytes"]), bool(f["attached"]))
            for f in found["files"]
        )
        texts = {
            key: str(found[key])
            for key in ("number", "issued_on", "state", "release", "method", "supersedes", "reason")
        }
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise _unreadable(type(error).__name__) from error
    return Manifest(files=files, **texts)


def _unreadable(why: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "VER-002",
            f"the certificate's manifest cannot be read: {why}"[:200],
            MANIFEST,
            FORMAT,
            "Verify it with the release that made it",
        )
    )


def recording_name(path: str) -> str:
    """Give the name a recording has inside a certificate: its ending is kept, its folder and stem are not.

    Parameters
    ----------
    path : str

    Returns
    -------
    str
        "recording.csv", say; safe as a file's name anywhere.
    """
    ending = PurePath(path).suffix.lower()
    plain = len(ending) in range(2, 10) and ending[1:].isascii() and ending[1:].isalnum()
    return f"recording{ending}" if plain else "recording.bin"


def certified(attachments: Sequence[Attachment], left_out: Sequence[CertifiedFile] = ()) -> tuple[CertifiedFile, ...]:
    """List what is certified: all that is attached, then what is known by its hash only.

    Parameters
    ----------
    attachments : sequence of Attachment
    left_out : sequence of CertifiedFile

    Returns
    -------
    tuple of CertifiedFile
    """
    inside = tuple(CertifiedFile(a.name, a.sha256, len(a.data), attached=True) for a in attachments)
    return (*inside, *left_out)
