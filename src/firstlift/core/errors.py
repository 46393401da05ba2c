"""What can go wrong and how it is said.

Two kinds of trouble, kept apart:

* a **Finding** is something worth saying about the data or the valve. It is a value: it travels with
  the result, has a code and typed parameters, and holds no sentence. Sentences are made where they are
  shown (``firstlift.words``).
* a **FirstliftError** means "could not go on". It carries one or several Problems, each saying what is
  wrong, where, what was found, what was needed and what to do next.

    FirstliftError            exit 3: no recording could be formed
        UsageError            exit 2: the command was used wrongly
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Severity(StrEnum):
    """How grave a finding is."""

    INFO = "info"
    WARNING = "warning"
    SEVERE = "severe"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something worth saying, as a code with typed parameters.

    Parameter names end in their unit (``shift_n``, ``at_s``); values are SI.
    """

    code: str
    severity: Severity
    pull: int | None = None
    parameters: Mapping[str, float | int | str | bool | None] = field(
        default_factory=dict[str, float | int | str | bool | None]
    )


@dataclass(frozen=True, slots=True)
class Problem:
    """One reason why the work could not go on."""

    code: str
    what: str
    where: str = ""
    needed: str = ""
    next: str = ""

    def sentence(self) -> str:
        """Give the whole message: what, where, what was needed, what to do next."""
        text = f"{self.code} {self.what}"
        if self.where:
            text += f" ({self.where})"
        text += "."
        if self.needed:
            text += f" Needed: {self.needed}."
        if self.next:
            text += f" {self.next}."
        return text


class FirstliftError(Exception):
    """The work could not go on; the reasons are in ``problems``."""

    exit_code = 3

    def __init__(self, problems: Problem | Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(problem.sentence() for problem in self.problems))


class UsageError(FirstliftError):
    """The command was used wrongly: an option's value has the wrong kind, say."""

    exit_code = 2
