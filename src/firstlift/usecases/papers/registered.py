"""What a register says of a certificate's file."""

from __future__ import annotations

from firstlift.certificate.verify import Checked
from firstlift.core.register.work import Certificate, CertificateState
from firstlift.store.open import Store
from firstlift.usecases.verify import Registered


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
