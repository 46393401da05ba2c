"""A person's word on a pull: rejected, first lift moved, or that taken back; never without a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.result import REJECTED, Result
from firstlift.usecases.register.reviewing import Word, review_pull
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier
from firstlift.web.pages.pocket import with_unit
from firstlift.web.roles import May

router = APIRouter()
Text = Annotated[str, Form()]
_SAID = (REJECTED, "first-lift-moved")


@dataclass(frozen=True, slots=True)
class Spoken:
    """What was said of a pull by hand, and what the program read in it; SI."""

    pull: int
    rejected: bool
    reason: str
    by: str
    at: str
    read_set_pressure_pa: float | None
    read_first_lift_s: float | None
    set_pressure_pa: float | None
    first_lift_s: float | None


def spoken_of(result: Result) -> list[Spoken]:
    """Give what a result says was done by hand, pull by pull.

    Parameters
    ----------
    result : Result

    Returns
    -------
    list of Spoken
    """
    found: list[Spoken] = []
    for finding in result.findings:
        if finding.code not in _SAID or finding.pull is None:
            continue
        said = finding.parameters
        reason, by, at = (str(said.get(name) or "") for name in ("reason", "by", "at"))
        read, now = _number(said, "read_set_pressure_pa"), _number(said, "set_pressure_pa")
        read_s, now_s = _number(said, "read_first_lift_s"), _number(said, "moved_first_lift_s")
        rejected = finding.code == REJECTED
        found.append(Spoken(finding.pull, rejected, reason, by, at, read, read_s, now, now_s))
    return sorted(found, key=lambda one: one.pull)


def _number(said: Mapping[str, float | int | str | bool | None], name: str) -> float | None:
    value = said.get(name)
    return None if value is None else float(value)


@router.post("/tests/{test_id}/review")
def review(
    here: HereNow,
    test_id: str,
    pull: Annotated[int, Form()],
    action: Text = "",
    first_lift: Text = "",
    reason: Text = "",
) -> Response:
    """Keep a person's word on a pull, and go on to the test as it is judged then."""
    here.must(May.TEST)
    word = Word(pull, action, reason.strip()[:500], with_unit(first_lift, "s"))
    reviewed = review_pull(here.store, identifier(test_id), word, by=here.person.id)
    row = "pulls" if action == "take-back" else f"said-{pull}"
    return RedirectResponse(f"/tests/{reviewed.id}#{row}", 303)
