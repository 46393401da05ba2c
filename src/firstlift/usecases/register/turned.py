"""What earlier turns of a valve's screw did, from the register's adjustments and the tests around them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID

from firstlift.core.adjust import Turned
from firstlift.core.register.work import AdjustmentMade, HowTested, ValveTest
from firstlift.core.result import PullOutcome
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.fill import find_by_tag
from firstlift.usecases.register.paired import WITHIN_DAYS

# the least coverage factor of a 95 % interval here, that of a lone rectangle: it leaves the largest uncertainty
_LEAST_FACTOR = 1.645
_SPOILT = frozenset({"leaking-before-lift", "stayed-open"})


def turned_before(store: Store, tag: str, on: dt.date, *, site: str = "") -> tuple[Turned, ...]:
    """Give the earlier adjustments of the valve that hangs at a tag, each with the readings around it.

    An adjustment counts where its turns are known and a pull test with a set pressure and its uncertainty lies
    before it and one after it, neither more than 60 days away (common practice, no source), and no other
    adjustment between the two. Both uncertainties count in full, though what both tests share would cancel.

    Parameters
    ----------
    store : Store
    tag : str
    on : date
        Adjustments after this day do not count.
    site : str
        Needed where several sites use the tag.

    Returns
    -------
    tuple of Turned
        Oldest first; turns to the right positive, pressures gauge, [Pa].

    Raises
    ------
    FirstliftError
        REG-020 no such tag, several, or no valve there.
    """
    with store.read() as reader:
        return turned_of(reader, find_by_tag(reader, tag, on, site=site).valve.id, on)


def turned_of(reader: Reader, valve_id: UUID, on: dt.date) -> tuple[Turned, ...]:
    """Give the earlier adjustments of a valve, each with the readings around it, as `turned_before` says.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    on : date

    Returns
    -------
    tuple of Turned
    """
    every = reader.list(ValveTest, valve_id=valve_id, order=("at", "id"))
    corrected = {test.supersedes for test in every}
    tests = [test for test in every if test.id not in corrected and test.kind is HowTested.PULL]
    made = reader.list(AdjustmentMade, valve_id=valve_id, order=("at", "id"))
    found = [_around(one, tests, made) for one in made if one.at.date() <= on]
    return tuple(one for one in found if one is not None)


def _around(made: AdjustmentMade, tests: Sequence[ValveTest], every: Sequence[AdjustmentMade]) -> Turned | None:
    """Give an adjustment with the nearest test on each side; None where it teaches nothing."""
    reach = dt.timedelta(days=WITHIN_DAYS)
    earlier = [test for test in tests if made.at - reach <= test.at < made.at]
    later = [test for test in tests if made.at < test.at <= made.at + reach]
    if not made.turns or not earlier or not later:
        return None
    first, last = earlier[-1], later[0]
    if any(first.at <= other.at <= last.at for other in every if other.id != made.id):
        return None
    before, after = _reading(first), _reading(last)
    return None if before is None or after is None else Turned(made.turns, before[0], after[0], before[1], after[1])


def _reading(test: ValveTest) -> tuple[float, float] | None:
    """Give what the spring was set to and its standard uncertainty, [Pa]; None where the reading is spoilt."""
    value, expanded = test.set_pressure_pa, test.expanded_uncertainty_pa
    if test.result is not None:
        if any(finding.code in _SPOILT for finding in test.result.findings):
            return None
        # the last opening, not the first: a bond that broke is not the spring's
        opened = [p for p in test.result.pulls if p.outcome is PullOutcome.MEASURED and p.accepted]
        if opened and opened[-1].set_pressure_pa and opened[-1].expanded_uncertainty_pa:
            value, expanded = opened[-1].set_pressure_pa, opened[-1].expanded_uncertainty_pa
    return (value, expanded / _LEAST_FACTOR) if value and expanded else None
