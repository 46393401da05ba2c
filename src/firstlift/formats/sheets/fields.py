"""The register's fields that a spreadsheet may fill, and the words they go by (fields.toml)."""

from __future__ import annotations

import functools
import tomllib
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from importlib import resources

from firstlift.core.units import Kind

LONGEST_TEXT = 200


class Takes(StrEnum):
    """What a sheet lists."""

    VALVES = "valves"
    INSTRUMENTS = "instruments"


class FieldKind(StrEnum):
    """How the cells of a field are read."""

    TEXT = "text"
    CHOICE = "choice"
    FLAG = "flag"
    PRESSURE = "pressure"
    LENGTH = "length"
    FORCE = "force"
    STIFFNESS = "stiffness"
    RATIO = "ratio"
    MONTHS = "months"
    DATE = "date"
    NUMBER = "number"
    UNIT = "unit"
    MEASURED = "measured"


QUANTITY_KINDS = {
    FieldKind.PRESSURE: Kind.PRESSURE,
    FieldKind.LENGTH: Kind.LENGTH,
    FieldKind.FORCE: Kind.FORCE,
    FieldKind.STIFFNESS: Kind.STIFFNESS,
    FieldKind.RATIO: Kind.RATIO,
}


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its key, how its cells are read, the plain names it goes by."""

    key: str
    kind: FieldKind
    names: tuple[str, ...]
    needed: bool = False
    longest: int = LONGEST_TEXT

    @property
    def shown(self) -> str:
        """The name shown in messages."""
        return self.key.replace("_", " ")


@functools.cache
def fields_of(takes: Takes) -> dict[str, Field]:
    """Give the fields of one kind of list by their key.

    Parameters
    ----------
    takes : Takes

    Returns
    -------
    dict of str to Field
    """
    return {
        key: Field(
            key,
            FieldKind(table["kind"]),
            tuple(dict.fromkeys(plain(name) for name in (key.replace("_", " "), *table["names"]))),
            table.get("needed", False),
            table.get("longest", LONGEST_TEXT),
        )
        for key, table in _tables()[takes].items()
    }


@functools.cache
def choices_of(key: str) -> dict[str, str]:
    """Give what each word of a choice stands for, by its plain form.

    Parameters
    ----------
    key : str
        The field's key, or "flag".

    Returns
    -------
    dict of str to str
    """
    table: dict[str, list[str]] = _tables()["choices"][key]
    return {plain(word): choice for choice, words in table.items() for word in (choice, *words)}


@functools.cache
def _tables() -> dict[str, dict[str, dict]]:
    text = resources.files("firstlift.formats.sheets").joinpath("fields.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


_WRITTEN_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "№": "no", "º": "o", "°": "o"})


def plain(text: str) -> str:
    """Give a name without case, accents and signs, so that "Set-Pressure", "SET PRESSURE" are one.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    lowered = unicodedata.normalize("NFC", text).casefold().translate(_WRITTEN_OUT)
    letters = (c for c in unicodedata.normalize("NFKD", lowered) if not unicodedata.combining(c))
    return " ".join("".join(c if c.isalnum() else " " for c in letters).split())
