"""The words of the papers, spoken in one language."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words.catalogue import check_language, in_language, languages
from firstlift.words.fields import counted, listed, noun_for
from firstlift.words.paper_en import WORDS

__all__ = ["ENGLISH", "Speaker", "languages"]


@dataclass(frozen=True, slots=True)
class Speaker:
    """Speaks the phrases of one language: ``say("pull", number=3)``."""

    language: str = "en"

    def __call__(self, key: str, **values: object) -> str:
        """Give the phrase of a key, its values filled in as they stand."""
        check_language(self.language)
        if key not in WORDS:
            raise FirstliftError(
                Problem("WRD-003", f"there is no phrase for '{key}'", needed="a row in the table of English words")
            )
        # values are put in, never read as a pattern: a brace in a tag stays a brace
        template = in_language(key, WORDS[key], self.language)
        return template.format_map({name: str(value) for name, value in values.items()})

    def listed(self, *parts: str) -> str:
        """Give words one after the other, without the empty ones."""
        return listed(parts, language=self.language)

    def noun(self, noun: str, number: int) -> str:
        """Give a noun in the form that a number before it asks for."""
        return noun_for(noun, Decimal(number), language=self.language)

    def counted(self, noun: str, number: str) -> str:
        """Give a number, as it is printed with a decimal point, with its noun."""
        return counted(noun, Decimal(number), language=self.language)


ENGLISH = Speaker()
