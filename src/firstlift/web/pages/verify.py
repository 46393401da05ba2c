"""Verify a certificate that somebody hands in: whole, by whom, current, and computed again from its own data."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, File, UploadFile
from fastapi.responses import Response

from firstlift.certificate.verify import check_certificate
from firstlift.core.result import Result
from firstlift.usecases.papers.registered import verify_in_register
from firstlift.usecases.verify import Verified, attached_result, read_file, read_trusted, refuse_other_files
from firstlift.web.here import HereNow
from firstlift.web.page import show
from firstlift.web.pages.importing import put_files
from firstlift.web.say import N_, _

router = APIRouter()
LARGEST_BYTES = 100_000_000
_SHOWN = 20
_Optional = Annotated[UploadFile | None, File()]
# what is often wrong, in the words of `certificate.verify`; the rest names files and errors and is said in English
_REASONS = (
    N_("the signed bytes were changed"),
    N_("the signature itself is not sound"),
    N_("something was added after the signature"),
    N_("the file was changed after the signature"),
    N_("the time stamp is not sound"),
    N_("it carries no signatures where one is needed"),
    N_("no manifest is attached"),
)


@dataclass(frozen=True, slots=True)
class Handed:
    """A certificate that was handed in: its file's name, what was found, and which answer leads."""

    name: str
    verified: Verified
    answer: str

    @property
    def reasons(self) -> list[tuple[str, bool]]:
        """What is wrong with the file, and whether it is said in the page's language."""
        return [(_(said), True) if said in _REASONS else (said, False) for said in self.verified.checked.reasons]

    @property
    def kept_apart(self) -> bool:
        """Whether the result was not computed again because nobody gave the recording."""
        checked = self.verified.checked
        line = None if checked.manifest is None else checked.manifest.recording
        return self.verified.recomputed.outcome is None and line is not None and line.name not in checked.files

    @property
    def result(self) -> Result | None:
        """What it certifies; None where no byte of it can be relied on, or this release cannot read it."""
        return attached_result(self.verified.checked) if self.verified.whole else None


def leading_answer(verified: Verified) -> str:
    """Give the answer that leads the page: the gravest of what was found.

    Parameters
    ----------
    verified : Verified

    Returns
    -------
    str
        "unreadable", "changed", "unsigned", "different", "superseded", "withdrawn", "draft", "unknown", "current".
    """
    checked, register = verified.checked, verified.registered
    if not checked.read or checked.manifest is None:
        return "unreadable"
    if not verified.whole:
        return "unsigned" if checked.signed_by is None else "changed"
    if verified.recomputed.outcome == "different":
        return "different"
    if register.superseded_by is not None:
        return "superseded"
    if verified.draft:
        return "draft"
    if register.state == "issued":
        return "current"
    return register.state if register.state in ("withdrawn", "superseded") else "unknown"


@router.get("/verify")
def verify_page(here: HereNow) -> Response:
    """Ask for the file."""
    return show(here, "verify.html", handed=None, most=LARGEST_BYTES // 1_000_000, shown=_SHOWN)


@router.post("/verify")
def verify(
    here: HereNow, certificate: _Optional = None, trusted: _Optional = None, recording: _Optional = None
) -> Response:
    """Verify the file; nothing of it is kept."""
    with tempfile.TemporaryDirectory(prefix="firstlift-verify-") as name:
        folder = Path(name)
        (path,) = put_files([certificate] if certificate else [], folder)
        trust = read_trusted(_placed(trusted, folder / "trusted"))
        checked = check_certificate(read_file(path, LARGEST_BYTES), trust)
        refuse_other_files(checked, path.name)
        apart = _placed(recording, folder / "recording")
        verified = verify_in_register(here.store, checked, recording=apart[0] if apart else None)
    handed = Handed(path.name, verified, leading_answer(verified))
    return show(here, "verify.html", handed=handed, most=LARGEST_BYTES // 1_000_000, shown=_SHOWN)


def _placed(file: UploadFile | None, folder: Path) -> list[Path]:
    """Put down a file that may be left out: a form sends an empty one then."""
    if file is None or not file.filename:
        return []
    folder.mkdir()
    return put_files([file], folder)
