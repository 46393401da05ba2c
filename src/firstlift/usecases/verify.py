"""Verify a certificate: whole, signed by whom, trusted, current, and the result computed again from its own data."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstlift.certificate.manifest import JOB_SHEET, MANIFEST, RESULT, recording_name
from firstlift.certificate.seat_file import SEAT, seat_from_bytes
from firstlift.certificate.verify import Checked, check_certificate
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.result import Result, from_json, to_json
from firstlift.usecases.analyse import analyse_jobsheet
from firstlift.usecases.compare import Difference, differences

if TYPE_CHECKING:
    from asn1crypto import x509

SAME, DIFFERENT, OTHER_METHOD = "same", "different", "other method"
_LARGEST = 2_000_000_000


@dataclass(frozen=True, slots=True)
class Recomputed:
    """What came of computing again: ``outcome`` None where it was not possible, with the reason."""

    outcome: str | None
    reason: str = ""
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True)
class Registered:
    """What the register says of a certificate.

    ``state`` is "not asked", "unknown", "other bytes", "draft", "reviewed", "issued", "superseded" or "withdrawn".
    """

    state: str = "not asked"
    superseded_by: str | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Verified:
    """All that is known of a certificate."""

    checked: Checked
    recomputed: Recomputed
    registered: Registered

    @property
    def draft(self) -> bool:
        """Whether it says of itself that it is a draft."""
        return self.checked.manifest is not None and self.checked.manifest.state == "draft"

    @property
    def whole(self) -> bool:
        """Whether no byte was changed: by its signature, and by the register's hash of the file where it was asked."""
        return self.checked.whole and self.registered.state != "other bytes"

    @property
    def current(self) -> bool:
        """Whether it stands: issued, not superseded, not withdrawn, known to the register where that was asked."""
        if self.checked.manifest is None or self.draft:
            return False
        return self.registered.state in ("not asked", "issued")

    @property
    def passed(self) -> bool:
        """Whole, current, and not contradicted by its own data."""
        return self.whole and self.current and self.recomputed.outcome != DIFFERENT


def read_trusted(paths: Sequence[Path]) -> tuple[x509.Certificate, ...]:
    """Read certificates to trust, PEM or DER.

    Parameters
    ----------
    paths : sequence of Path

    Returns
    -------
    tuple of asn1crypto.x509.Certificate

    Raises
    ------
    FirstliftError
        VER-003 a file cannot be read or holds no certificate.
    """
    from pyhanko.keys import load_certs_from_pemder

    found: list[x509.Certificate] = []
    for path in paths:
        try:
            found += list(load_certs_from_pemder([str(path)]))
        except (OSError, ValueError, TypeError) as error:
            raise FirstliftError(
                Problem(
                    "VER-003",
                    f"a certificate to trust cannot be read: {getattr(error, 'strerror', None) or 'no certificate'}",
                    str(path),
                    "a certificate in PEM or DER",
                )
            ) from error
    return tuple(found)


def read_file(path: Path, largest_bytes: int = _LARGEST) -> bytes:
    """Read the file to verify.

    Parameters
    ----------
    path : Path
    largest_bytes : int
        More is not read.

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        VER-001 it cannot be read, or is larger than that.
    """
    try:
        if path.stat().st_size > largest_bytes:
            raise _not_read(f"it is larger than {largest_bytes // 1_000_000} MB", path)
        return path.read_bytes()
    except OSError as error:
        raise _not_read(error.strerror or str(error), path) from error


def _not_read(why: str, path: Path) -> FirstliftError:
    return FirstliftError(
        Problem("VER-001", f"the certificate cannot be read: {why}", str(path), "a PDF file", "Name another file")
    )


def verify_certificate(
    data: bytes,
    *,
    trust: Sequence[x509.Certificate] = (),
    recording: Path | None = None,
    registered: Registered | None = None,
    again: bool = True,
) -> Verified:
    """Verify a certificate.

    Parameters
    ----------
    data : bytes
        The file.
    trust : sequence of asn1crypto.x509.Certificate
        Whom the reader trusts.
    recording : Path or None
        The recording, where it is kept apart from the certificate.
    registered : Registered or None
        What a register said; None where none was asked.
    again : bool
        Compute the result again.

    Returns
    -------
    Verified

    Raises
    ------
    FirstliftError
        VER-004 the recording that is named is not the certificate's.
    """
    checked = check_certificate(data, trust)
    recomputed = recompute(checked, recording) if again else Recomputed(None, "not asked")
    return Verified(checked, recomputed, registered or Registered())


def refuse_other_files(checked: Checked, name: str) -> None:
    """Refuse a file that never was a certificate, so that nobody reads "not whole" of a drawing or a letter.

    Parameters
    ----------
    checked : Checked
    name : str
        Of the file, said in the message.

    Raises
    ------
    FirstliftError
        VER-005 it does not begin as a PDF does, or is a sound PDF without a certificate's list of files. One that can
        no longer be read as a PDF may be a damaged certificate and is let through: the answer says so.
    """
    if not checked.is_pdf:
        why = "it does not begin as a PDF does"
    elif checked.read and checked.seal is None and MANIFEST not in checked.files:
        why = "no list of certified files is attached to it"
    else:
        return
    raise FirstliftError(
        Problem(
            "VER-005", f"this is no certificate: {why}", name[:120], "the PDF file of a certificate",
            "Take the file as it was handed out; a scan or a print of it holds no signature",
        )
    )  # fmt: skip


def recompute(checked: Checked, recording: Path | None = None) -> Recomputed:
    """Compute a certificate's result again from its own job sheet and recording.

    Parameters
    ----------
    checked : Checked
    recording : Path or None
        Where the recording is kept apart.

    Returns
    -------
    Recomputed

    Raises
    ------
    FirstliftError
        VER-004 the recording that is named is not the certificate's.
    """
    manifest, files = checked.manifest, checked.files
    if manifest is None or RESULT not in files:
        return Recomputed(None, "no result is attached")
    if JOB_SHEET not in files or manifest.recording is None:
        return Recomputed(None, "no job sheet or recording goes with it: it was read off by hand")
    name = manifest.recording.name
    if name not in files and recording is None:
        return Recomputed(None, "the recording is kept apart; name it with --recording")
    kept = attached_result(checked)
    if kept is None:
        return Recomputed(None, "the attached result is in a format this release cannot read")
    with tempfile.TemporaryDirectory(prefix="firstlift-verify-") as folder:
        # the name comes from a file that anybody may have made: only its ending is taken
        sheet, inside = Path(folder) / JOB_SHEET, Path(folder) / recording_name(name)
        sheet.write_bytes(files[JOB_SHEET])
        if name in files:
            inside.write_bytes(files[name])
            return _again(sheet, inside, files.get(SEAT), kept, manifest.release)
        assert recording is not None
        _hold_to(recording, manifest.recording.sha256)
        return _again(sheet, recording, files.get(SEAT), kept, manifest.release)


def attached_result(checked: Checked) -> Result | None:
    """Give the result that is attached to a certificate.

    Parameters
    ----------
    checked : Checked

    Returns
    -------
    Result or None
        None where there is none, or none that this release can read: anybody may have attached anything.
    """
    try:
        found = json.loads(checked.files.get(RESULT, b""))
        kept = from_json(found) if isinstance(found, dict) else None
        if kept is not None:
            to_json(kept)  # refuses what is no number
    except (FirstliftError, ValueError, RecursionError):
        return None
    return kept


def _hold_to(recording: Path, sha256: str) -> None:
    try:
        with recording.open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise FirstliftError(
            Problem("VER-004", f"the recording cannot be read: {error.strerror or error}", str(recording))
        ) from error
    if found != sha256:
        raise FirstliftError(
            Problem(
                "VER-004",
                f"this is another recording: SHA-256 {found[:16]}…",
                str(recording),
                f"the one with SHA-256 {sha256[:16]}…",
            )
        )


def _again(sheet: Path, recording: Path, seat: bytes | None, kept: Result, release: str) -> Recomputed:
    try:
        analysed = analyse_jobsheet(sheet, recording, None if seat is None else seat_from_bytes(seat))
    except FirstliftError as error:
        why = f"this release cannot analyse it ({error.problems[0].code}); release {release} made it"
        return Recomputed(OTHER_METHOD, why)
    again = analysed.analysis.result
    if (kept.method.id, dict(kept.method.parameters)) != (again.method.id, dict(again.method.parameters)):
        why = f"made with method {kept.method.id} of release {release}; this release has {again.method.id} as it is now"
        return Recomputed(OTHER_METHOD, f"{why}. Verify with release {release}")
    found = differences(analysed.job, kept, again)
    if found:
        return Recomputed(DIFFERENT, f"{len(found)} values differ", found)
    return Recomputed(SAME, f"every printed digit, and the rest within 1e-9, with method {again.method.id}")


def to_plain(verified: Verified) -> dict[str, Any]:
    """Give what was found as plain values: the five answers of the contract first, then what they rest on.

    Parameters
    ----------
    verified : Verified

    Returns
    -------
    dict
    """
    checked, manifest = verified.checked, verified.checked.manifest
    at = checked.signed_at
    return {
        "whole": verified.whole,
        "signed_by": checked.signed_by,
        "trusted": checked.trusted,
        "superseded_by": verified.registered.superseded_by,
        "recomputed": verified.recomputed.outcome,
        "current": verified.current,
        "number": None if manifest is None else manifest.number,
        "state": None if manifest is None else manifest.state,
        "register": verified.registered.state,
        "seal": checked.seal,
        "signed_at": None if at is None else at.isoformat(),
        "time_stamped": checked.time_stamped,
        "signer_sha256": checked.signer_sha256,
        "file_sha256": checked.file_sha256,
        "unsigned_sha256": checked.unsigned_sha256,
        "reasons": [*checked.reasons, *filter(None, (verified.registered.reason,))],
        "recomputed_reason": verified.recomputed.reason,
        "differences": [
            {"where": d.where, "kept": d.kept, "again": d.again} for d in verified.recomputed.differences[:50]
        ],
    }
