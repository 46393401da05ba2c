"""What a register says of a certificate's file, and the certificate verified with all that the register knows."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from firstlift.certificate.manifest import recording_name
from firstlift.certificate.verify import Checked
from firstlift.core.register.work import Certificate, CertificateState
from firstlift.store.files import kept_path, write_kept
from firstlift.store.open import Store
from firstlift.usecases.verify import Registered, Verified, recompute


def verify_in_register(store: Store, checked: Checked, *, recording: Path | None = None) -> Verified:
    """Say all that is known of a certificate, with what a register knows of it.

    Parameters
    ----------
    store : Store
        Asked for the number, for the hash of the whole file, and for a recording that is kept apart.
    checked : Checked
    recording : Path or None
        The recording, where neither the certificate nor the register holds it.

    Returns
    -------
    Verified

    Raises
    ------
    FirstliftError
        VER-004 the recording that is named is not the certificate's; STO-011 the register's own is damaged.
    """
    registered = look_up(store, checked)
    with _kept_apart(store, checked, recording) as found:
        return Verified(checked, recompute(checked, found), registered)


@contextmanager
def _kept_apart(store: Store, checked: Checked, recording: Path | None) -> Iterator[Path | None]:
    line = None if checked.manifest is None else checked.manifest.recording
    if recording is not None or line is None or line.name in checked.files or not _is_kept(store, line.sha256):
        yield recording
        return
    with tempfile.TemporaryDirectory(prefix="firstlift-verify-") as folder:
        place = Path(folder) / recording_name(line.name)
        write_kept(store.folder, line.sha256, place)
        yield place


def _is_kept(store: Store, sha256: str) -> bool:
    # the hash comes from a file that anybody may have made: it must not lead out of the folder of kept files
    return len(sha256) == 64 and set(sha256) <= set("0123456789abcdef") and kept_path(store.folder, sha256).exists()


def look_up(store: Store, checked: Checked) -> Registered:
    """Ask a register for a certificate by its number, and hold the whole file to the hash that was kept.

    Parameters
    ----------
    store : Store
    checked : Checked

    Returns
    -------
    Registered
    """
    manifest = checked.manifest
    with store.read() as reader:
        by_hash = reader.list(Certificate, signed_sha256=checked.file_sha256)
        if not by_hash and manifest is None:
            return Registered("unknown", None, "No number could be read")
        found = by_hash or reader.list(Certificate, text=manifest.number if manifest else "")
        if not found:
            return Registered("unknown", None, "This register never gave out that number")
        certificate = found[0]
        later = reader.list(Certificate, supersedes=certificate.id)
        by = next((one.text for one in later if one.issued_at is not None), None)
    if not by_hash and certificate.signed_sha256 and (manifest is None or manifest.state != "draft"):
        return Registered("other bytes", by, "The register holds another file under this number")
    reason = certificate.reason if certificate.state in _CLOSED else ""
    return Registered(str(certificate.state), by, reason)


_CLOSED = (CertificateState.SUPERSEDED, CertificateState.WITHDRAWN)
