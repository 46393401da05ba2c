"""What is said of one code."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sentence:
    """What is said of one code: a short title, what was seen, and what to do."""

    title: str
    message: str
    advice: str
