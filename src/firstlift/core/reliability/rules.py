"""Rules that cap an interval: code, jurisdiction, the owner's own maximum, and what the last results allow."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.reliability.history import AsFoundState, History, failed_to_danger, years_between
from firstlift.core.reliability.prior import Prior

FORMAT = "firstlift-intervals-1"
_ONE_OCCASION = dt.timedelta(days=30)
_STATUS = ("looked-up", "computed", "memory", "common-practice")


@dataclass(frozen=True, slots=True)
class Constant:
    """A number from a standard or from practice, with where it stands and how sure that is."""

    value: float
    clause: str
    status: str
    confidence: str
    source: str


@dataclass(frozen=True, slots=True)
class Tables:
    """The numbers this room works with, all from one table file.

    ``ceilings`` are the longest intervals by service, in years; ``steps`` what results do to an interval;
    ``effectiveness`` the share of dangerous failures a test method can see; ``priors`` what is held likely before
    any test, by name.
    """

    ceilings: Mapping[str, Constant]
    steps: Mapping[str, Constant]
    effectiveness: Mapping[str, Constant]
    priors: Mapping[str, Prior]
    prior_sources: Mapping[str, Constant]


@dataclass(frozen=True, slots=True)
class Cap:
    """No longer than this from the last test, and why."""

    years: float
    reason: Finding


def parse_tables(text: str, *, where: str = "") -> Tables:
    """Read the table of intervals.

    Parameters
    ----------
    text : str
        TOML, format "firstlift-intervals-1".
    where : str
        Said in the message.

    Returns
    -------
    Tables

    Raises
    ------
    FirstliftError
        REL-007 the table cannot be read.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _wrong(f"not TOML: {error}", where) from None
    if data.get("format") != FORMAT:
        raise _wrong(f"format {data.get('format')!r}", where)
    kinds = {name: _constants(data, name, where) for name in ("ceiling", "step", "effectiveness", "prior")}
    priors = {name: _prior(data["prior"][name], f"{where} [prior.{name}]") for name in kinds["prior"]}
    return Tables(kinds["ceiling"], kinds["step"], kinds["effectiveness"], priors, kinds["prior"])


def _constants(data: Mapping[str, Any], kind: str, where: str) -> dict[str, Constant]:
    rows = data.get(kind)
    if not isinstance(rows, dict) or not rows:
        raise _wrong(f"no [{kind}.…]", where)
    return {name: _constant(row, f"{where} [{kind}.{name}]") for name, row in cast("dict[str, Any]", rows).items()}


def _constant(row: Any, where: str) -> Constant:
    known = cast("dict[str, Any]", row) if isinstance(row, dict) else dict[str, Any]()
    value = known.get("value")
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not 0.0 < value < 1e4:
        raise _wrong(f"value = {value!r}", where)
    texts = {key: known.get(key) for key in ("clause", "status", "confidence", "source")}
    if not all(isinstance(text, str) and text for text in texts.values()) or texts["status"] not in _STATUS:
        raise _wrong("clause, status, confidence and source must be texts", where)
    return Constant(float(value), **cast("dict[str, str]", texts))


def _prior(row: Mapping[str, Any], where: str) -> Prior:
    known = {key: row[key] for key in ("shape_spread", "scale_yr", "scale_spread", "between_groups") if key in row}
    if "shape_spread" not in known or not all(isinstance(value, (int, float)) for value in known.values()):
        raise _wrong("shape_spread is missing, or a value is no number", where)
    return Prior(shape=float(row["value"]), **{key: float(value) for key, value in known.items()})


def _wrong(what: str, where: str) -> FirstliftError:
    return FirstliftError(Problem("REL-007", f"the table of intervals cannot be read: {what}", where, FORMAT))


def cap_by_results(history: History, tables: Tables, danger_ratio: float) -> Cap | None:
    """Give what the last results allow: halved, held, or one step longer.

    Parameters
    ----------
    history : History
    tables : Tables
    danger_ratio : float

    Returns
    -------
    Cap or None
        None where nothing was tested yet, or no interval came before the last find. Tests within a month are one
        find, by the gravest of them.
    """
    tests = history.tests()
    if not tests:
        return None
    # a valve that is pulled, taken to the bench and overhauled within weeks was found once: no interval lies between
    began = tests[-1].on - _ONE_OCCASION
    finds = [test for test in tests if test.on >= began]
    earlier = [test for test in tests if test.on < began]
    before = [row.on for row in history.entries if row.on < began and (row in tests or row.overhauled)]
    if not before:
        return None
    present = years_between(before[-1], finds[0].on)
    for found in finds:
        if failed_to_danger(found, danger_ratio) is True or found.found is AsFoundState.STAYED_OPEN:
            return _step(present, "halve", "interval-halved", tables, Severity.WARNING, found)
    for found in finds:
        if found.found is not AsFoundState.WITHIN:
            return _step(present, "hold", "interval-held", tables, Severity.WARNING, found)
    again = bool(earlier) and earlier[-1].found is AsFoundState.WITHIN
    if again:
        return _step(present, "extend", "interval-step", tables, Severity.INFO, finds[-1])
    return _step(present, "hold", "interval-held", tables, Severity.INFO, finds[-1])


def _step(present: float, kind: str, code: str, tables: Tables, severity: Severity, last: Any) -> Cap:
    row = tables.steps[kind]
    limit = present * row.value
    said = {"limit_yr": limit, "present_yr": present, "found": str(last.found), "source_status": row.status}
    return Cap(limit, Finding(code, severity, None, said))


def cap_by_code(name: str, tables: Tables) -> Cap:
    """Give the longest interval a code allows for a service.

    Parameters
    ----------
    name : str
        A key of the table's ceilings.
    tables : Tables

    Returns
    -------
    Cap

    Raises
    ------
    FirstliftError
        REL-008 the service is not known.
    """
    row = tables.ceilings.get(name)
    if row is None:
        needed = f"one of {', '.join(tables.ceilings)}"
        raise FirstliftError(Problem("REL-008", f"service '{name}' is not known", "--service", needed))
    said = {"limit_yr": row.value, "service": name, "clause": row.clause, "source_status": row.status}
    return Cap(row.value, Finding("interval-code", Severity.INFO, None, said))


def cap_by_person(years: float, code: str, where: str, label: str | None = None) -> Cap:
    """Give a cap that somebody stated: the jurisdiction, or the owner.

    Parameters
    ----------
    years : float
        Above 0.
    code : str
        Code of the reason: "interval-jurisdiction" or "interval-owner".
    where : str
        Said in the message.
    label : str or None
        Which rule it is, as entered.

    Returns
    -------
    Cap

    Raises
    ------
    FirstliftError
        REL-009 no years above 0.
    """
    if not 0.0 < years < 1000.0:
        needed = "years above 0 and under 1000"
        raise FirstliftError(Problem("REL-009", f"{years:g} years is no interval", where, needed))
    said: dict[str, float | str | None] = {"limit_yr": years, "rule": label}
    return Cap(years, Finding(code, Severity.INFO, None, said))
