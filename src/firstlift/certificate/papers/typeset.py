"""From the model of a paper to PDF/A-3b, as the certificate is set: text goes in as data, never as markup."""

from __future__ import annotations

import functools
import tempfile
from importlib import resources
from pathlib import Path

from firstlift.certificate.model import plain
from firstlift.certificate.papers.model import JobPaper
from firstlift.certificate.typeset import _explained, _printable, set_pages


def typeset_paper(paper: JobPaper, *, logo: bytes = b"", fonts: str = "") -> bytes:
    """Set a paper as PDF/A-3b.

    Parameters
    ----------
    paper : JobPaper
    logo : bytes
        Of the format the paper names.
    fonts : str
        Folder with fonts that the issuer names; empty for none.

    Returns
    -------
    bytes
        The same for the same input.

    Raises
    ------
    FirstliftError
        CRT-001 a character that cannot be printed; CRT-002 a text too long to print; CRT-003 typesetting failed;
        WRD-002 no font has the letters of the language.
    """
    import typst

    data = _printable(plain(paper), "paper")
    with tempfile.TemporaryDirectory(prefix="firstlift-paper-") as folder:
        (Path(folder) / "logo").write_bytes(logo)
        try:
            return set_pages(_template(), data, day=paper.day, fonts=fonts, root=folder)
        except typst.TypstError as error:
            raise _explained(error, data) from error


@functools.cache
def _template() -> bytes:
    return resources.files("firstlift.certificate.papers").joinpath("papers.typ").read_bytes()
