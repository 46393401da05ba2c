"""From the model of a paper to PDF/A-3b, as the certificate is set: text goes in as data, never as markup."""

from __future__ import annotations

import datetime as dt
import functools
import json
import tempfile
from importlib import resources
from pathlib import Path

from firstlift.certificate.model import plain
from firstlift.certificate.papers.model import JobPaper
from firstlift.certificate.typeset import _compiler, _explained, _printable
from firstlift.core.errors import FirstliftError, Problem


def typeset_paper(paper: JobPaper, *, logo: bytes = b"") -> bytes:
    """Set a paper as PDF/A-3b.

    Parameters
    ----------
    paper : JobPaper
    logo : bytes
        Of the format the paper names.

    Returns
    -------
    bytes
        The same for the same input.

    Raises
    ------
    FirstliftError
        CRT-001 a character that cannot be printed; CRT-002 a text too long to print; CRT-003 typesetting failed.
    """
    import typst

    data = _printable(plain(paper), "paper")
    stamp = dt.datetime.combine(paper.day, dt.time(12), tzinfo=dt.UTC)
    with tempfile.TemporaryDirectory(prefix="firstlift-paper-") as folder:
        (Path(folder) / "logo").write_bytes(logo)
        try:
            made = _compiler().compile(
                input=_template(), root=folder, format="pdf", pdf_standards=["a-3b"], timestamp=stamp,
                sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
            )  # fmt: skip
        except typst.TypstError as error:
            raise _explained(error, data) from error
    if not isinstance(made, bytes):
        raise FirstliftError(Problem("CRT-003", "typesetting gave no file", needed="one PDF"))
    return made


@functools.cache
def _template() -> bytes:
    return resources.files("firstlift.certificate.papers").joinpath("papers.typ").read_bytes()
