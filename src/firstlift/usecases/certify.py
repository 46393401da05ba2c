"""Write a certificate: typeset whole in memory, then put in place in one step, so that none is half-written."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from firstlift import __version__
from firstlift.certificate.model import CertificateDetails
from firstlift.certificate.typeset import render_certificate
from firstlift.core.errors import FirstliftError, Problem
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


def make_certificate(analysed: Analysed) -> bytes:
    """Typeset the certificate of an analysed test.

    Parameters
    ----------
    analysed : Analysed

    Returns
    -------
    bytes
        PDF.

    Raises
    ------
    FirstliftError
        A text cannot be printed.
    """
    job = analysed.job
    details = CertificateDetails(
        number=certificate_number(analysed), issuer="", issued_on=job.visit.date, release=__version__
    )
    return render_certificate(
        job,
        analysed.analysis.result,
        traces_of(analysed.analysis, pressure_unit=job.valve.set_pressure.unit),
        details,
        job_sheet=analysed.sheet.read_text(encoding="utf-8-sig"),
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
