"""The words of the papers, spoken in one language."""

from __future__ import annotations

from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words import paper_en

_TABLES = {"en": paper_en.WORDS}


@dataclass(frozen=True, slots=True)
class Speaker:
    """Speaks the phrases of one language: ``say("pull", number=3)``."""

    language: str = "en"

    def __call__(self, key: str, **values: object) -> str:
        """Give the phrase of a key, its values filled in as they stand."""
        table = _TABLES.get(self.language)
        if table is None:
            raise FirstliftError(
                Problem(
                    "WRD-002",
                    f"there are no words in '{self.language}'",
                    needed=f"one of {', '.join(sorted(_TABLES))}",
                )
            )
        if key not in table:
            raise FirstliftError(
                Problem("WRD-003", f"there is no phrase for '{key}'", needed=f"a row in the '{self.language}' table")
            )
        # values are put in, never read as a pattern: a brace in a tag stays a brace
        return table[key].format_map({name: str(value) for name, value in values.items()})


ENGLISH = Speaker()


def languages() -> tuple[str, ...]:
    """Give the languages that papers can be printed in.

    Returns
    -------
    tuple of str
    """
    return tuple(sorted(_TABLES))
