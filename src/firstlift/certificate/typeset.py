"""From the page model to PDF/A-3b: text goes in as data, never as markup; the same input gives the same bytes."""

from __future__ import annotations

import datetime as dt
import functools
import json
import re
import tempfile
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from importlib import resources
from pathlib import Path
from typing import Any

from firstlift.certificate.fonts import letters_for
from firstlift.certificate.manifest import Attachment
from firstlift.certificate.model import Document, plain
from firstlift.core.errors import FirstliftError, Problem

LONGEST_TEXT = 3000
# marks that turn the direction of text or hide in it can make a certificate read as what it does not say
_HIDDEN = {*"\u00ad\u061c\u180e\u200b\u200c\u200d\u2060\ufeff", *map(chr, range(0x200E, 0x2010))}
_HIDDEN |= {*map(chr, range(0x2028, 0x202F)), *map(chr, range(0x2061, 0x2070))}
# control, surrogate, private and unassigned: a font may well draw something for them, but nobody knows what it means
_NO_LETTERS = ("Cc", "Cs", "Co", "Cn")
_SPACES = {"\n": " ", "\r": " ", "\t": " "}


def typeset(
    document: Document,
    *,
    attachments: Sequence[Attachment] = (),
    code: str = "",
    logo: bytes = b"",
    mark: bytes = b"",
    fonts: str = "",
) -> bytes:
    """Set a page model as PDF/A-3b.

    Parameters
    ----------
    document : Document
    attachments : sequence of Attachment
        Put into the file as they are.
    code : str
        SVG of the QR code; empty for a page without one.
    logo : bytes
        Of the format the document names.
    mark : bytes
        Accreditation mark, likewise.
    fonts : str
        Folder with fonts that the issuer names; empty for none.

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        CRT-001 a character that cannot be printed; CRT-002 a text too long to print; CRT-003 typesetting failed;
        WRD-002 no font has the letters of the language.
    """
    import typst

    data = _printable(plain(document), "certificate")
    files = [
        {"name": a.name, "mime": a.mime, "relationship": a.relationship, "description": a.description}
        for a in attachments
    ]
    # the typesetter reads bytes from files only: a folder of its own, gone afterwards, is its whole world
    with tempfile.TemporaryDirectory(prefix="firstlift-paper-") as folder:
        for index, attachment in enumerate(attachments):
            (Path(folder) / f"attached-{index}").write_bytes(attachment.data)
        (Path(folder) / "logo").write_bytes(logo)
        (Path(folder) / "mark").write_bytes(mark)
        try:
            return set_pages(
                _template(), data, day=document.tested_on, fonts=fonts, root=folder, files=json.dumps(files), code=code
            )
        except typst.TypstError as error:
            raise _explained(error, data) from error


def set_pages(
    template: bytes, data: Mapping[str, Any], *, day: dt.date, fonts: str = "", root: str | None = None,
    standard: str = "a-3b", **inputs: str,
) -> bytes:  # fmt: skip
    """Set a template with its data, behind what all papers are set with.

    Parameters
    ----------
    template : bytes
    data : mapping
        With "language" and "direction"; every text of it is checked already.
    day : date
        Kept in the file as its date.
    fonts : str
        Folder with fonts that the issuer names; empty for none.
    root : str or None
        Folder of files that the template reads.
    standard : str
    **inputs : str
        What else the template reads.

    Returns
    -------
    bytes
        The same for the same input and the same fonts.

    Raises
    ------
    typst.TypstError
        The typesetter refuses it: a letter is missing, say.
    FirstliftError
        CRT-003 typesetting gave no file; WRD-002 no font has the letters of the language.
    """
    letters = letters_for(data["language"], fonts)
    made = letters.compiler.compile(
        input=_common() + template, root=root, format="pdf", pdf_standards=[standard],
        timestamp=dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC),
        sys_inputs={"data": json.dumps(data, ensure_ascii=False), "faces": json.dumps(letters.families), **inputs},
    )  # fmt: skip
    if not isinstance(made, bytes):
        raise FirstliftError(Problem("CRT-003", "typesetting gave no file", needed="one PDF"))
    return made


@functools.cache
def _common() -> bytes:
    return resources.files("firstlift.certificate").joinpath("common.typ").read_bytes()


@functools.cache
def _template() -> bytes:
    return resources.files("firstlift.certificate").joinpath("template.typ").read_bytes()


def _printable(value: Any, where: str) -> Any:
    """Check every text of the page and turn line breaks into spaces; SVG is ours and holds its own breaks."""
    if isinstance(value, dict):
        if value.get("kind") == "section":
            where = f"{where}, '{value['title']}'"
        return {key: item if key in ("svg", "kind") else _printable(item, where) for key, item in value.items()}
    if isinstance(value, list):
        return [_printable(item, where) for item in value]
    return check_text(value, where) if isinstance(value, str) else value


def check_text(words: str, where: str) -> str:
    """Give a text as it is printed, its line breaks as spaces.

    Parameters
    ----------
    words : str
    where : str
        Said in messages.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        CRT-001 a character that cannot be printed; CRT-002 the text is too long.
    """
    if len(words) > LONGEST_TEXT:
        raise FirstliftError(
            Problem(
                "CRT-002",
                f"a text of {len(words)} characters beginning '{words[:40]}' is too long to print",
                where,
                f"at most {LONGEST_TEXT} characters",
                "Shorten it on the job sheet",
            )
        )
    words = "".join(_SPACES.get(character, character) for character in words)
    for character in words:
        if character in _HIDDEN or unicodedata.category(character) in _NO_LETTERS:
            raise _unprintable(character, words, where)
    return words


def _unprintable(character: str, words: str, where: str) -> FirstliftError:
    name = unicodedata.name(character, "control character" if unicodedata.category(character) == "Cc" else "unnamed")
    shown = character if character.isprintable() else f"\\u{ord(character):04x}"
    at = max(0, words.find(character) - 20)
    around = "".join(c if c.isprintable() else "�" for c in words[at : at + 40])
    return FirstliftError(
        Problem(
            "CRT-001",
            f"the character '{shown}' (U+{ord(character):04X}, {name.lower()}) in '{around}' cannot be printed",
            where,
            "Latin, Greek, Cyrillic or Arabic letters, digits and common signs",
            "Write it in other letters",
        )
    )


def _explained(error: Exception, data: Any) -> FirstliftError:
    # a PDF/A export refuses a glyph that no font has, and its message quotes the text
    quoted = re.search(r'the text `"(.*)"` could not be displayed', str(error), re.DOTALL)
    if quoted is not None:
        missing = re.sub(r"\\u\{([0-9a-f]+)\}", lambda m: chr(int(m.group(1), 16)), quoted.group(1))[:1] or "?"
        words, where = next(
            (found for found in _texts(data, "certificate") if missing in found[0]), (missing, "figure")
        )
        return _unprintable(missing, words, where)
    return FirstliftError(
        Problem(
            "CRT-003",
            f"the certificate could not be typeset: {str(error)[:300]}",
            needed="a page that the typesetter accepts",
            next="Report this with the job sheet",
        )
    )


def _texts(value: Any, where: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        if value.get("kind") == "section":
            where = f"{where}, '{value['title']}'"
        for key, item in value.items():
            if key not in ("kind", "svg"):
                yield from _texts(item, where)
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item, where)
    elif isinstance(value, str):
        yield value, where
