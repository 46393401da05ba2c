"""The reviews of a job sheet: pulls that a person rejected, or whose first lift they moved, each with its reason."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.core.job import PullReview, ReviewAction
from firstlift.core.units import Kind
from firstlift.formats.sheet_table import Table

_MOST_PULLS = 10_000
_LONGEST_REASON = 500


def read_reviews(tables: Sequence[Table]) -> tuple[PullReview, ...]:
    """Read every [[review]].

    Parameters
    ----------
    tables : sequence of Table

    Returns
    -------
    tuple of PullReview
        Without those of which a problem was noted.
    """
    found: dict[int, PullReview] = {}
    for table in tables:
        review = _read_review(table)
        if review is None:
            continue
        if review.pull in found:
            table.note("JOB-009", f"pull {review.pull} is reviewed twice", "pull", "one review a pull")
        found.setdefault(review.pull, review)
    return tuple(found[pull] for pull in sorted(found))


def _read_review(table: Table) -> PullReview | None:
    for key in ("pull", "at"):
        if not table.has(key):
            table.missing(key, "a review says which pull, what, why, who and when")
    pull = table.whole("pull", 1, _MOST_PULLS)
    action = table.choice("action", ReviewAction)
    reason, by = (table.text(key, required=True) for key in ("reason", "by"))
    at = table.instant("at")
    first_lift = table.si("first_lift", Kind.TIME)
    if len(reason) > _LONGEST_REASON:
        table.note("JOB-008", "the reason is too long", "reason", f"{_LONGEST_REASON} characters at most")
    moved = action is ReviewAction.MOVE
    if action is not None and moved != table.has("first_lift"):
        needed = "the moment to go with 'move', and none with 'reject'"
        table.note("JOB-008", f"'first_lift' does not go with action '{action}'", "first_lift", needed)
    if pull is None or action is None or at is None or not reason or not by or (moved and first_lift is None):
        return None
    return PullReview(pull, action, reason, by, at, first_lift if moved else None)
