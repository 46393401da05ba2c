"""As found, judged for the plant: the categories of inspection practice, and what each suggests.

References
----------
.. [1] API RP 576, 4th edition 2017, 6.2.9 (looked up as a public copy): the first opening counts; high ones are
   tested again, for a normal second value points to deposits; no opening at 150 % of the cold pressure on a
   bench is stuck shut; API RP 581 counts no opening at 130 % as a failure to open (named there).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from firstlift.core.result import PullOutcome, Result, VerdictOutcome
from firstlift.core.tolerance.limits import Limits

SOURCE = "API RP 576, 4th edition 2017, 6.2.9"


class Category(StrEnum):
    """What a valve was as found."""

    WITHIN = "within"
    HIGH = "high"
    LOW = "low"
    STUCK = "stuck"
    LEAKED = "leaked"
    STAYED_OPEN = "stayed-open"
    UNDECIDED = "undecided"
    NOT_SHOWN = "not-shown"


class Suggestion(StrEnum):
    """What a category suggests."""

    KEEP = "keep"
    REPEAT = "repeat"
    ADJUST = "adjust"
    OVERHAUL = "overhaul"
    REMOVE = "remove"
    REPORT = "report"


_K = Suggestion
_SUGGESTS: Mapping[Category, tuple[Suggestion, ...]] = {
    Category.WITHIN: (_K.KEEP,),
    Category.HIGH: (_K.REPEAT, _K.ADJUST, _K.REPORT),
    Category.LOW: (_K.REPEAT, _K.ADJUST, _K.REPORT),
    Category.STUCK: (_K.REMOVE, _K.OVERHAUL, _K.REPORT),
    Category.LEAKED: (_K.OVERHAUL, _K.REPORT),
    Category.STAYED_OPEN: (_K.REMOVE, _K.OVERHAUL, _K.REPORT),
    Category.UNDECIDED: (_K.REPEAT,),
    Category.NOT_SHOWN: (_K.REPEAT,),
}
# a normal second opening after a high first one: deposits held the disc, and turning the screw is the wrong answer
_BONDED = (_K.OVERHAUL, _K.REPORT)


@dataclass(frozen=True, slots=True)
class OwnerRules:
    """The owner's rules on top: what a category suggests instead, and which categories count as failed.

    ``stuck_share``: a valve proven not to open below this share of set counts as stuck and not as high.
    """

    suggests: Mapping[Category, tuple[Suggestion, ...]] = field(default_factory=dict[Category, tuple[Suggestion, ...]])
    failed: frozenset[Category] = frozenset({Category.HIGH, Category.STUCK, Category.STAYED_OPEN})
    stuck_share: float = 1.30


@dataclass(frozen=True, slots=True)
class Found:
    """A valve as found: all categories that hold, the gravest first, and what they suggest.

    ``ratio`` is the first opening over the set pressure (the lower bound's where it did not open: then
    ``is_bound``); ``bonded``: high at first, normal after. ``failed`` by the owner's rules.
    """

    categories: tuple[Category, ...]
    suggestions: tuple[Suggestion, ...]
    failed: bool
    ratio: float | None
    is_bound: bool
    bonded: bool
    source: str = SOURCE


_GRAVEST = (
    Category.STAYED_OPEN, Category.STUCK, Category.HIGH, Category.LEAKED, Category.LOW, Category.UNDECIDED,
    Category.NOT_SHOWN, Category.WITHIN,
)  # fmt: skip


def judge_found(result: Result, limits: Limits, owner: OwnerRules | None = None) -> Found:
    """Put a result as found into the categories of inspection practice.

    Parameters
    ----------
    result : Result
        Of a test as found.
    limits : Limits
    owner : OwnerRules or None

    Returns
    -------
    Found

    References
    ----------
    .. [1] API RP 576, 4th edition 2017, 6.2.9 (looked up as a public copy).
    """
    rules = owner or OwnerRules()
    ratio, is_bound = _ratio(result, limits)
    bonded = _bonded(result, limits)
    held = _categories(result, limits, rules, ratio, is_bound)
    categories = tuple(category for category in _GRAVEST if category in held)
    suggested: list[Suggestion] = []
    for category in categories:
        usual = _BONDED if bonded and category is Category.HIGH else _SUGGESTS[category]
        suggested.extend(one for one in rules.suggests.get(category, usual) if one not in suggested)
    if len(suggested) > 1:
        suggested = [one for one in suggested if one is not Suggestion.KEEP]
    failed = any(category in rules.failed for category in categories)
    return Found(categories, tuple(suggested), failed, ratio, is_bound, bonded)


def _ratio(result: Result, limits: Limits) -> tuple[float | None, bool]:
    found = result.as_found
    if found is None:
        return None, False
    if found.set_pressure_pa is not None:
        return found.set_pressure_pa / limits.set_pressure_pa, False
    bound = found.lower_bound_pa
    return (None, False) if bound is None else (bound / limits.set_pressure_pa, True)


def _categories(
    result: Result, limits: Limits, rules: OwnerRules, ratio: float | None, is_bound: bool
) -> set[Category]:
    codes = {finding.code for finding in result.findings}
    held: set[Category] = set()
    if codes & {"stayed-open", "already-open"}:
        held.add(Category.STAYED_OPEN)
    if "leaking-before-lift" in codes:
        held.add(Category.LEAKED)
    verdict = result.verdict.outcome if result.verdict is not None else None
    if is_bound and ratio is not None and ratio >= rules.stuck_share:
        held.add(Category.STUCK)
    elif verdict is VerdictOutcome.OUTSIDE and ratio is not None:
        middle = 0.5 * (limits.lower_pa + limits.upper_pa) / limits.set_pressure_pa
        held.add(Category.HIGH if ratio > middle or is_bound else Category.LOW)
    elif verdict is VerdictOutcome.WITHIN:
        held.add(Category.WITHIN)
    elif verdict is VerdictOutcome.UNDECIDED:
        held.add(Category.UNDECIDED)
    elif not held:
        # neither a verdict nor a bound that proves anything: the pull has not shown what the valve is
        held.add(Category.NOT_SHOWN)
    return held


def _bonded(result: Result, limits: Limits) -> bool:
    """Say whether the first opening was high and the next one normal: deposits, not the spring."""
    found = result.as_found
    opened = [p.set_pressure_pa for p in result.pulls if p.outcome is PullOutcome.MEASURED and p.accepted]
    values = [value for value in opened if value is not None]
    if found is None or found.set_pressure_pa is None or found.set_pressure_pa <= limits.upper_pa or len(values) < 2:
        return False
    return all(limits.lower_pa <= value <= limits.upper_pa for value in values[1:])
