"""From a result to its finished, unsigned certificate: manifest, seal, page, PDF."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.certificate.facts import covering
from firstlift.certificate.manifest import (
    JOB_SHEET,
    LARGEST_ATTACHED,
    MANIFEST,
    RESULT,
    Attachment,
    CertifiedFile,
    Manifest,
    certified,
    recording_name,
    seal_of,
)
from firstlift.certificate.model import CertificateDetails, Document
from firstlift.certificate.page import build_certificate
from firstlift.certificate.qr import draw_code
from firstlift.certificate.seat_file import SEAT, seat_to_bytes
from firstlift.certificate.typeset import check_text, typeset
from firstlift.core.job import Job
from firstlift.core.result import Result, to_json
from firstlift.figures import Past, Trace

_MIMES = {".csv": "text/csv", ".txt": "text/plain", ".tsv": "text/tab-separated-values"}


@dataclass(frozen=True, slots=True)
class Sources:
    """What a certificate rests on: the job sheet's and the recording's own bytes.

    ``recording`` is empty where it is kept apart; its hash stands in the result, its size in ``recording_size``.
    """

    job_sheet: bytes = b""
    recording: bytes = b""
    recording_size: int = 0
    attach_up_to: int = LARGEST_ATTACHED


@dataclass(frozen=True, slots=True)
class Made:
    """A certificate before it is signed: its bytes, its page, its manifest and the manifest's seal."""

    pdf: bytes
    document: Document
    manifest: Manifest
    seal: str

    @property
    def sha256(self) -> str:
        """Hash of the unsigned file: the same for the same input."""
        return hashlib.sha256(self.pdf).hexdigest()


def make_certificate(
    job: Job,
    result: Result,
    traces: Sequence[Trace],
    details: CertificateDetails,
    *,
    sources: Sources | None = None,
    history: Sequence[Past] = (),
) -> Made:
    """Make the certificate of a result as PDF/A-3b, with everything attached that it was computed from.

    Parameters
    ----------
    job : Job
    result : Result
    traces : sequence of Trace
        For the figures; may be empty.
    details : CertificateDetails
    sources : Sources or None
        Job sheet and recording; None for a result entered by hand.
    history : sequence of Past
        Earlier tests of the valve.

    Returns
    -------
    Made
        The same bytes for the same input. The file's date is the date of the test.

    Raises
    ------
    FirstliftError
        CRT-001 a character that cannot be printed; CRT-002 a text too long to print; CRT-003 typesetting failed.
    """
    for trace in traces:
        # a trace's label is drawn inside a figure, where the page's own check does not look
        check_text(trace.label, "label of a trace")
    attachments, apart = _files(job, result, sources or Sources())
    manifest = Manifest(
        number=details.number,
        issued_on=details.issued_on.isoformat(),
        state="draft" if details.draft else "issued",
        release=details.release,
        method=result.method.id,
        supersedes=details.supersedes,
        reason=details.reason,
        files=certified(attachments, apart),
    )
    listed = manifest.to_bytes()
    details = dataclasses.replace(details, files=manifest.files, seal=seal_of(listed))
    document = build_certificate(job, result, traces, details, history=history)
    first = Attachment(
        MANIFEST, listed, "application/json", "data", "What is certified: number, files and their hashes"
    )
    code = draw_code(details.number, details.seal)
    mark = covering(details.settings)
    pdf = typeset(
        document,
        attachments=(first, *attachments),
        code=code,
        logo=details.settings.logo,
        mark=b"" if mark is None else mark.mark,
        fonts=details.settings.fonts,
    )
    return Made(pdf, document, manifest, details.seal)


def _files(job: Job, result: Result, sources: Sources) -> tuple[tuple[Attachment, ...], tuple[CertifiedFile, ...]]:
    listed = json.dumps(to_json(result), indent=1).encode()
    inside = [Attachment(RESULT, listed, "application/json", "data", "The result this paper prints, SI units")]
    inside.append(
        Attachment(SEAT, seat_to_bytes(job.seat), "application/json", "data", "The seat it was computed with, SI units")
    )
    apart: tuple[CertifiedFile, ...] = ()
    if sources.job_sheet:
        note = "The job sheet as it was given"
        inside.append(Attachment(JOB_SHEET, sources.job_sheet, "application/toml", "source", note))
    name = recording_name(job.recording.file)
    if sources.recording and len(sources.recording) <= sources.attach_up_to:
        mime = _MIMES.get(name.removeprefix("recording"), "application/octet-stream")
        inside.append(Attachment(name, sources.recording, mime, "source", "The recording as it was made"))
    elif result.recording.sha256:
        size = len(sources.recording) or sources.recording_size
        apart = (CertifiedFile(name, result.recording.sha256, size, attached=False),)
    return tuple(inside), apart


def render_certificate(
    job: Job, result: Result, traces: Sequence[Trace], details: CertificateDetails, *, job_sheet: str = ""
) -> bytes:
    """Give the bytes of a certificate whose recording is kept apart.

    Parameters
    ----------
    job : Job
    result : Result
    traces : sequence of Trace
    details : CertificateDetails
    job_sheet : str
        The job sheet's own text; empty where there is none.

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        As `make_certificate`.
    """
    return make_certificate(job, result, traces, details, sources=Sources(job_sheet.encode())).pdf
