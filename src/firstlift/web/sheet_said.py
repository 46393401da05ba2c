"""What a person says of a spreadsheet that does not say it itself: units, habits, owner, site, what words mean."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from pydantic import BaseModel, Field

from firstlift.formats.sheets.dates import DateHabit
from firstlift.formats.sheets.fields import FieldKind, Takes, choices_of, fields_of
from firstlift.formats.sheets.mapping import Mapping, SheetMapping
from firstlift.formats.sheets.numbers import DecimalMark
from firstlift.formats.sheets.reason import Why
from firstlift.usecases.import_taker import ImportReport

MOST_WORDS = 24
# a message shows this much of a cell whole; longer ones are no words for a thing
_LONGEST_WORD = 60
_CONSTANTS = ("owner", "site")


@dataclass(frozen=True, slots=True)
class SheetWord:
    """A word of a sheet in a field of a few words: what it may mean, and what was said that it means ("" nothing)."""

    field: str
    word: str
    choices: tuple[str, ...]
    means: str = ""


class SheetSaid(BaseModel):
    """What stands in the form on one kept file; ``means`` holds "field=choice=word"."""

    file: str
    name: str
    unit: str = ""
    dates: str = ""
    decimal: str = ""
    owner: str = ""
    site: str = ""
    means: list[str] = Field(default_factory=list[str])

    @property
    def words(self) -> list[SheetWord]:
        """The words whose meaning was said; what makes no sense was never offered, and is passed over."""
        found: dict[tuple[str, str], SheetWord] = {}
        for text in self.means[:MOST_WORDS]:
            field, _, rest = text.partition("=")
            choice, _, word = rest.partition("=")
            choices = _choices(field)
            if choice in choices and 0 < len(word) <= _LONGEST_WORD:
                found[field, word] = SheetWord(field, word, choices, choice)
        return list(found.values())

    @property
    def mapping(self) -> Mapping:
        """All of it as a mapping."""
        words: dict[str, dict[str, str]] = {}
        for one in self.words:
            words.setdefault(one.field, {})[one.word] = one.means
        units = {"set_pressure": text} if (text := self.unit.strip()) else {}
        constants = {key: text for key in _CONSTANTS if (text := getattr(self, key).strip())}
        return Mapping(
            (SheetMapping(units=units, constants=constants, words=words),),
            DateHabit(self.dates) if self.dates in tuple(DateHabit) else None,
            DecimalMark(self.decimal) if self.decimal in tuple(DecimalMark) else None,
        )

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """All of it as the fields of a form."""
        plain = ("file", "name", "unit", "dates", "decimal", *_CONSTANTS)
        said = [("means", text) for text in self.means if text]
        return (*((key, getattr(self, key)) for key in plain), *said)

    @property
    def address(self) -> str:
        """The page that looks at the file in this way."""
        return f"/spreadsheet/look?{urlencode(self.pairs)}"

    def asked_of(self, report: ImportReport | None) -> list[SheetWord]:
        """Give the words that the form asks about: those said, then those that a look did not understand.

        Parameters
        ----------
        report : ImportReport or None

        Returns
        -------
        list of SheetWord
        """
        found = {(one.field, one.word): one for one in self.words}
        for trouble in report.troubles if report else ():
            if len(found) >= MOST_WORDS:
                break
            if trouble.why.why is Why.NO_CHOICE and len(trouble.stands) < _LONGEST_WORD:
                field = str(dict(trouble.why.values)["field"])
                found.setdefault((field, trouble.stands), SheetWord(field, trouble.stands, _choices(field)))
        return list(found.values())


def _choices(key: str) -> tuple[str, ...]:
    """Give what may stand in a field of a few words; nothing for another."""
    kinds = {field.key: field.kind for takes in Takes for field in fields_of(takes).values()}
    if kinds.get(key) is FieldKind.FLAG:
        key = "flag"
    elif kinds.get(key) is not FieldKind.CHOICE:
        return ()
    return tuple(dict.fromkeys(choices_of(key).values()))
