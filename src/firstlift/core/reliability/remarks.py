"""What is worth saying beside a date: how much the tests tell, and what they do not."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.reliability.answer import Terms
from firstlift.core.reliability.drift import Drift
from firstlift.core.reliability.fit import LifeFit, Untold
from firstlift.core.reliability.history import AsFoundState, History
from firstlift.core.reliability.lives import Lives
from firstlift.core.reliability.profile import Interval

_FEW = 5


def about_life(lives: Lives, weibull: LifeFit | Untold, shape: Interval | None) -> list[Finding]:
    """Say how much the tests of a group tell of its lives.

    A shape is called wear-out only where its whole interval lies above 1.

    Parameters
    ----------
    lives : Lives
    weibull : LifeFit or Untold
    shape : (low, high) or None
        Profile interval of the shape.

    Returns
    -------
    list of Finding
    """
    said: list[Finding] = []
    if 0.0 < lives.ended < _FEW:
        said.append(Finding("few-failures", Severity.INFO, None, {"count": int(lives.ended)}))
    if isinstance(weibull, Untold):
        if weibull is not Untold.NO_FAILURES:
            said.append(Finding("shape-not-told", Severity.INFO, None, {"reason": str(weibull)}))
        return said
    assert shape is not None
    parameters: dict[str, float | int | str | bool | None] = {
        "shape": weibull.shape,
        "low": shape[0],
        "high": shape[1] if np.isfinite(shape[1]) else None,
    }
    code = "wear-out" if shape[0] > 1.0 else "early-failures" if shape[1] < 1.0 else "constant-hazard"
    said.append(Finding(code, Severity.INFO, None, parameters))
    return said


def about_drift(drift: Drift | None) -> list[Finding]:
    """Say whether a group's set pressures drift.

    Parameters
    ----------
    drift : Drift or None

    Returns
    -------
    list of Finding
        Empty where the group's slope may be none.
    """
    if drift is None:
        return []
    low, high = drift.slope_interval()
    if low <= 0.0 <= high:
        return []
    code = "drift-up" if low > 0.0 else "drift-down"
    said = {"slope_per_yr_relative": drift.slope_per_yr, "low_relative": low, "high_relative": high}
    return [Finding(code, Severity.WARNING if low > 0.0 else Severity.INFO, None, said)]


def about_spread(drift: Drift, danger_ratio: float, limit_yr: float | None) -> Finding:
    """Say that openings spread so widely that no interval keeps the target.

    Parameters
    ----------
    drift : Drift
    danger_ratio : float
        Opening over set pressure above which a valve has failed to danger.
    limit_yr : float or None
        Years for which time adds no more than the target.

    Returns
    -------
    Finding
        With what was measured: the fitted spread is a normal one, and the chance in its tail no number to print.
    """
    ratios = drift.tests.ratio
    said = {
        "danger_ratio": danger_ratio,
        "count": int(ratios.size),
        "high_count": int(np.count_nonzero(ratios > danger_ratio)),
        "limit_yr": limit_yr,
    }
    return Finding("spread-when-set", Severity.WARNING, None, said)


def beyond_experience(lives: Lives, years: float) -> list[Finding]:
    """Say where an interval is longer than any life was watched.

    Parameters
    ----------
    lives : Lives
    years : float
        The interval.

    Returns
    -------
    list of Finding
    """
    oldest = float(lives.ages_yr[-1]) if lives.ages_yr.size else 0.0
    if years <= oldest:
        return []
    return [Finding("beyond-experience", Severity.WARNING, None, {"limit_yr": years, "oldest_yr": oldest})]


def in_general(histories: Sequence[History], terms: Terms, groups: int) -> tuple[Finding, ...]:
    """Say what holds for the whole answer.

    Parameters
    ----------
    histories : sequence of History
    terms : Terms
    groups : int
        How many.

    Returns
    -------
    tuple of Finding
    """
    said: list[Finding] = []
    if terms.effectiveness < 1.0:
        parameters = {"seen_share": terms.effectiveness, "source_status": terms.effectiveness_status}
        said.append(Finding("effectiveness-marked-down", Severity.INFO, None, parameters))
    if groups > 1:
        said.append(Finding("groups-lent", Severity.INFO, None, {"count": groups}))
    unknown = sum(history.started_unknown for history in histories)
    if unknown:
        said.append(Finding("start-unknown", Severity.WARNING, None, {"count": unknown, "valves": len(histories)}))
    bounds = sum(row.found is AsFoundState.LOWER_BOUND for history in histories for row in history.entries)
    if bounds:
        said.append(Finding("lower-bounds-only", Severity.INFO, None, {"count": bounds}))
    return tuple(said)
