"""Bring the catalogues of other languages up to the English words: ``python -m tools.catalogues [LANGUAGE ...]``.

Writes the template ``firstlift.pot`` and every catalogue anew, in the order of the English tables. Words whose English
is the same are kept; those whose English changed are kept as fuzzy (they are not printed until somebody has looked at
them); a new language starts empty. Says how many are missing.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from firstlift.words.catalogue import LANGUAGES, sources

LOCALE = Path(__file__).parents[1] / "src" / "firstlift" / "words" / "locale"
# a date of its own would change the files at every run
_MADE = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)
_HEADER = "# Words of Firstlift's papers. Keep every {name}, and every [part that is left out where a name is missing]."


def place(language: str) -> Path:
    """Give where a language's catalogue lies."""
    return LOCALE / language / "LC_MESSAGES" / "firstlift.po"


def kept(language: str) -> dict[str, tuple[str, str]]:
    """Give what a catalogue holds: for each key the English it was made from, and its words."""
    if not place(language).is_file():
        return {}
    with place(language).open("rb") as file:
        return {str(m.context): (str(m.id), str(m.string)) for m in read_po(file, locale=language) if m.id}


def empty(language: str | None, comment: str, day: dt.datetime) -> Catalog:
    """Begin a catalogue whose header says nothing that changes at every run."""
    return Catalog(
        locale=language,
        project="firstlift",
        version="1",
        charset="utf-8",
        header_comment=comment,
        creation_date=day,
        revision_date=day,
        last_translator="",
        language_team="",
        msgid_bugs_address="",
        fuzzy=False,
    )


def bring_up(language: str | None, words: dict[str, tuple[str, str]]) -> Catalog:
    """Make a catalogue of all English words with the words that are there."""
    made = empty(language, _HEADER, _MADE)
    for key, english in sources(language or "en"):
        before, said = words.get(key, ("", ""))
        made.add(english, said, context=key, flags=["fuzzy"] if said and before != english else [])
    return made


def main(languages: list[str]) -> int:
    """Write the template and the catalogues."""
    missing = 0
    for language in languages or [name for name in LANGUAGES if name != "en" and place(name).is_file()]:
        made = bring_up(language, kept(language))
        place(language).parent.mkdir(parents=True, exist_ok=True)
        with place(language).open("wb") as file:
            write_po(file, made, width=110, omit_header=False)
        lacking = [m.context for m in made if m.id and (not m.string or m.fuzzy)]
        missing += len(lacking)
        print(f"{language}: {len(made)} words, {len(lacking)} missing {lacking[:5]}")
    with (LOCALE / "firstlift.pot").open("wb") as file:
        write_po(file, bring_up(None, {}), width=110)
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
