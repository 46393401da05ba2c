"""Gather the app's texts from its pages and templates, and keep their catalogues: ``python -m tools.app_texts``.

A text is marked where it stands: ``_("...")``, ``ngettext``, ``{% trans %}``, and ``N_("...")`` where it is said
elsewhere. `unmarked` finds those of a template that are not.
"""

from __future__ import annotations

import datetime as dt
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import DEFAULT_KEYWORDS, extract
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment, nodes
from jinja2.ext import babel_extract
from tools.catalogues import empty

from firstlift.web.say import DOMAIN, NAMES

SOURCE = Path(__file__).parents[1] / "src" / "firstlift"
WEB, LOCALE = SOURCE / "web", SOURCE / "words" / "locale"
# a date of its own would change the files at every run
_MADE = dt.datetime(2026, 11, 29, tzinfo=dt.UTC)
_HEADER = "# Texts of Firstlift's app. Keep every %(name)s, every <mark> and every %%."
_HOW = {".py": ("python", {}), ".html": (babel_extract, {"newstyle_gettext": "true", "silent": "false"})}
# what a language need not say in its own way: names, formats, symbols, and what is typed as it stands
_NO_WORDS = re.compile(
    r"Firstlift|API|PDF|SHA-256|MAWP|UTC|TOKEN|CSV|XLSX|TDMS|Parquet|HDF5|MATLAB|MDF 4|PEM|DER|WAV|LVM|Esc|"
    r"Authorization: Bearer|"
    r"/api/v1|openapi\.json|&\w+;|\bU =|\bKd\b|\bU\b|https?:\S+|"
    r"\b(?:bar|kPa|MPa|psi|N|kN|lbf|mm|in|m|s|Hz|kHz|dB|kg/s|kg/h|degC|x)\b"
)


def template_of() -> Catalog:
    """Give every marked text of the app, in the order of files and lines.

    Returns
    -------
    Catalog
    """
    made = Catalog(project="firstlift", version="1", charset="utf-8", header_comment=_HEADER, fuzzy=False)
    for path in sorted([*WEB.rglob("*.py"), *WEB.rglob("*.html")]):
        how, options = _HOW[path.suffix]
        with path.open("rb") as file:
            for _, message, _, context in extract(how, file, keywords=DEFAULT_KEYWORDS, options=options):
                made.add(message, None, [(path.relative_to(WEB).as_posix(), 0)], context=context)
    return made


def place(language: str) -> Path:
    """Give where a language's catalogue lies."""
    return LOCALE / language / "LC_MESSAGES" / DOMAIN


def bring_up(languages: list[str]) -> int:
    """Write the app's template and catalogues anew; say how many texts are missing.

    Parameters
    ----------
    languages : list of str

    Returns
    -------
    int
        How many are missing.
    """
    template, missing = template_of(), 0
    with (LOCALE / DOMAIN).with_suffix(".pot").open("wb") as file:
        write_po(file, template, width=110, include_lineno=False, omit_header=True)
    for language in languages:
        held = Catalog(locale=language)
        if place(language).is_file():
            held = catalogue(language)
        held.update(template, update_creation_date=False)
        held.obsolete.clear()
        held.header_comment = _HEADER
        lacking = [m.id for m in held if m.id and not said(m)]
        missing += len(lacking)
        with place(language).open("wb") as file:
            write_po(file, _plain(held, language), width=110, include_lineno=False)
        print(f"{language}: {len(held)} texts of the app, {len(lacking)} missing {lacking[:3]}")
    return missing


def _plain(held: Catalog, language: str) -> Catalog:
    """Leave out of the header what changes at every run."""
    made = empty(language, _HEADER, _MADE)
    for message in held:
        if message.id:
            made[message.id] = message
    return made


def catalogue(language: str) -> Catalog:
    """Read a language's catalogue of the app."""
    with place(language).open("rb") as file:
        return read_po(file, locale=language)


def forms(text: object) -> tuple[str, ...]:
    """Give the forms of a text, one or by number."""
    return tuple(str(form) for form in text) if isinstance(text, (list, tuple)) else (str(text),)


def misfilled(message: Message) -> list[str]:
    """Give the words that fill in other values, or mark other parts, than every form of the English does."""
    wanted = {_filled(form) for form in forms(message.id)}
    return [form for form in forms(message.string) if _filled(form) not in wanted]


def _filled(text: str) -> tuple[str, ...]:
    return tuple(sorted(re.findall(r"%\(\w+\)s|%%|\{\w+\}|<[^>]+>", text)))


def said(message: Message) -> bool:
    """Say whether a message has all its words, and nobody has still to look at them."""
    words = message.string or ""
    return not message.fuzzy and (bool(words) if isinstance(words, str) else all(words))


def unmarked(source: str) -> Iterator[str]:
    """Give the words of a template that somebody would read and that are not marked.

    Parameters
    ----------
    source : str

    Yields
    ------
    str
    """
    environment = Environment(extensions=["jinja2.ext.i18n"])
    tree = environment.parse(source)
    # in their order, so that a tag whose attributes are filled in is seen whole; what is filled in stands as a digit
    pieces = []
    for node in tree.find_all(nodes.Output):
        for part in node.nodes:
            pieces.append((part.lineno, part.data if isinstance(part, nodes.TemplateData) else "0"))
            if not isinstance(part, nodes.TemplateData):
                yield from _literals(part)
    text = "".join(piece for _, piece in pieces)
    for attribute in re.findall(r'\b(?:title|placeholder|aria-label|alt)="([^"]*)"', text):
        yield from _words(attribute)
    # what is English on purpose says so, and what is typed as it stands is no text
    bare = re.sub(r"<(code|pre)\b.*?</\1>", " ", text, flags=re.DOTALL)
    bare = re.sub(r'<(\w+)\b[^>]* lang="en".*?</\1>', " ", bare, flags=re.DOTALL)
    yield from _words(re.sub(r"<[^>]*>", "\n", bare))


def _literals(part: nodes.Node) -> Iterator[str]:
    """Give strings that an expression would print as they stand."""
    if isinstance(part, nodes.Const) and isinstance(part.value, str):
        yield from _words(part.value)
    elif isinstance(part, nodes.CondExpr):
        for one in (part.expr1, part.expr2):
            if one is not None:
                yield from _literals(one)
    elif isinstance(part, (nodes.Or, nodes.And)):
        yield from _literals(part.right)
    elif isinstance(part, nodes.Concat):
        for one in part.nodes:
            yield from _literals(one)


def _words(text: str) -> Iterator[str]:
    for line in text.splitlines():
        if re.search(r"[^\W\d_]{2,}", _NO_WORDS.sub(" ", line)):
            yield line.strip()


if __name__ == "__main__":
    sys.exit(1 if bring_up(sys.argv[1:] or [name for name in NAMES if name != "en"]) else 0)
