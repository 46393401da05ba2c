"""Write a certificate: typeset whole in memory, then put in place in one step, so that none is half-written."""

from __future__ import annotations

import dataclasses
import hashlib
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from firstlift import __version__
from firstlift.certificate.given_picture import read_picture
from firstlift.certificate.make import Made, Sources
from firstlift.certificate.make import make_certificate as compose
from firstlift.certificate.manifest import LARGEST_ATTACHED
from firstlift.certificate.model import CertificateDetails
from firstlift.certificate.settings import PaperSettings, read_settings
from firstlift.core.errors import FirstliftError, Problem
from firstlift.figures import Past
from firstlift.usecases.analyse import Analysed
from firstlift.usecases.draw import traces_of


def certificate_number(analysed: Analysed) -> str:
    """Give a first number: tag, date and the recording's hash; numbered series come with the register.

    Parameters
    ----------
    analysed : Analysed

    Returns
    -------
    str
    """
    digest = analysed.analysis.result.recording.sha256[:8].upper()
    return f"{analysed.job.valve.tag}-{analysed.job.visit.date:%Y%m%d}-{digest}"


def file_name(analysed: Analysed) -> str:
    """Give a file's name for a certificate: its number, with "_" for what cannot stand in a name.

    Parameters
    ----------
    analysed : Analysed

    Returns
    -------
    str
    """
    number = certificate_number(analysed)
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "_" for c in number)
    # the end holds date and hash and tells papers apart
    return f"{plain[-120:]}.pdf"


def sources_of(analysed: Analysed, *, attach_up_to: int = LARGEST_ATTACHED) -> Sources:
    """Give what a certificate rests on: the job sheet's own bytes, and the recording's where it is small enough.

    Parameters
    ----------
    analysed : Analysed
    attach_up_to : int
        Bytes; a larger recording is kept apart and known by its hash.

    Returns
    -------
    Sources

    Raises
    ------
    FirstliftError
        CRT-005 a file changed while it was being analysed, or is gone.
    """
    recording = analysed.recording
    try:
        size = recording.stat().st_size
        held = recording.read_bytes() if size <= attach_up_to else b""
        sheet = analysed.sheet.read_bytes()
    except OSError as error:
        raise _changed(error.strerror or str(error), str(recording)) from error
    if held and hashlib.sha256(held).hexdigest() != analysed.analysis.result.recording.sha256:
        raise _changed("it is not the recording that was analysed", str(recording))
    return Sources(sheet, held, size, attach_up_to)


def _changed(why: str, where: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "CRT-005",
            f"what the certificate rests on cannot be attached: {why}",
            where,
            "job sheet and recording as they were analysed",
            "Analyse again",
        )
    )


def make_certificate(
    analysed: Analysed,
    details: CertificateDetails | None = None,
    *,
    settings: PaperSettings | None = None,
    draft: bool = False,
    attach_up_to: int = LARGEST_ATTACHED,
    history: Sequence[Past] = (),
) -> Made:
    """Make the certificate of an analysed test, not yet signed.

    Parameters
    ----------
    analysed : Analysed
    details : CertificateDetails or None
        None: a first number without a register, issued on the day of the test.
    settings : PaperSettings or None
        The issuer's; with ``draft`` (a watermark), used where no details are given.
    attach_up_to : int
        Bytes of the largest recording that is attached.
    history : sequence of Past
        Earlier tests of the valve.

    Returns
    -------
    Made

    Raises
    ------
    FirstliftError
        A text cannot be printed, or a file changed under way.
    """
    job = analysed.job
    chosen = settings or PaperSettings()
    details = details or CertificateDetails(
        number=certificate_number(analysed),
        issuer=chosen.issuer,
        issued_on=job.visit.date,
        release=__version__,
        settings=chosen,
        draft=draft,
    )
    unit = details.settings.pressure_unit or job.valve.set_pressure.unit
    traces = traces_of(analysed.analysis, pressure_unit=unit)
    sources = sources_of(analysed, attach_up_to=attach_up_to)
    result = analysed.analysis.result
    return compose(job, result, traces, details, sources=sources, history=history)


def read_issuer(path: Path) -> PaperSettings:
    """Read the issuer's settings, and the logo and accreditation mark they name.

    Parameters
    ----------
    path : Path
        TOML; names of pictures and of a folder with fonts are taken from its folder.

    Returns
    -------
    PaperSettings

    Raises
    ------
    FirstliftError
        CRT-004 the settings or the logo cannot be used.
    """
    try:
        settings = read_settings(path.read_text(encoding="utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise _not_read("it is not text in UTF-8", path) from error
    except OSError as error:
        raise _not_read(error.strerror or str(error), path) from error
    held = settings.accreditation
    if held is not None and held.mark_file:
        mark, kind = read_picture(path.parent / held.mark_file)
        settings = dataclasses.replace(settings, accreditation=dataclasses.replace(held, mark=mark, mark_format=kind))
    if settings.logo_file:
        logo, kind = read_picture(path.parent / settings.logo_file)
        settings = dataclasses.replace(settings, logo=logo, logo_format=kind)
    if settings.fonts:
        settings = dataclasses.replace(settings, fonts=str(path.parent / settings.fonts))
    return settings


def _not_read(why: str, path: Path) -> FirstliftError:
    return FirstliftError(
        Problem("CRT-004", f"cannot be used: {why}", str(path), "a readable file", "See docs/certificate.md")
    )


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : Path
    data : bytes

    Raises
    ------
    FirstliftError
        OUT-001 the folder is missing or cannot be written to.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise FirstliftError(
            Problem(
                "OUT-001",
                f"cannot write '{path}': {error.strerror or error}",
                str(path.parent),
                "a folder that exists and may be written to",
                "Name another file",
            )
        ) from error
