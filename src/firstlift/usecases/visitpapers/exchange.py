"""A visit's data to hand on: JSON with whole results, CSV with a line a test, XLSX with a sheet a kind."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import unicodedata
from collections.abc import Sequence
from typing import Any

from firstlift.certificate.papers.facts import Tested, VisitFacts
from firstlift.core.errors import Problem, UsageError
from firstlift.core.register.work import ValveTest
from firstlift.core.result import to_json
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.visitpapers.gather import names_of, tested_at, valves_of_visit, visit_by

FORMAT = "firstlift-visit-1"
ENDINGS = (".json", ".csv", ".xlsx")
TEST_COLUMNS = (
    "visit", "site", "owner", "tag", "serial", "maker", "model", "set_pressure", "set_pressure_pa", "test_id", "day",
    "at", "kind", "purpose", "not_tested", "verdict", "disposition", "found_pa", "expanded_uncertainty_pa",
    "lower_bound_pa", "lower_limit_pa", "upper_limit_pa", "code", "bench_reseat_pa", "people", "instruments",
    "certificate", "recording_sha256", "supersedes", "note",
)  # fmt: skip
PULL_COLUMNS = (
    "test_id", "tag", "pull", "outcome", "accepted", "first_lift_s", "line_pressure_pa", "pull_force_n",
    "set_pressure_pa", "expanded_uncertainty_pa", "lower_bound_pa", "flags",
)  # fmt: skip
FINDING_COLUMNS = ("test_id", "tag", "severity", "code", "pull", "message", "advice")
ADJUSTMENT_COLUMNS = (
    "tag", "serial", "at", "turns", "screw_height_before_m", "screw_height_after_m", "rings_before", "rings_after",
    "seals_before", "seals_after", "note",
)  # fmt: skip
# what a table program would take for a formula
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def visit_data(store: Store, visit: str) -> dict[str, Any]:
    """Give all of a visit as plain values: SI, gauge.

    Parameters
    ----------
    store : Store
    visit : str
        Name or identifier.

    Returns
    -------
    dict
        ``results`` hold the whole result of each pull test, as ``firstlift analyse --json`` prints it.

    Raises
    ------
    FirstliftError
        PAP-001 it has no valve, PAP-003 there is no such visit.
    """
    with store.read() as reader:
        facts = visit_by(reader, visit)
        worked = [tested_at(reader, facts, hung) for hung in valves_of_visit(reader, facts)]
        tests = [_test(reader, facts, one, test) for one in worked for test in one.tests]
    return {
        "format": FORMAT,
        "visit": _visit(facts),
        "tests": tests,
        "pulls": [row for one in worked for test in one.tests for row in _pulls(one, test)],
        "findings": [row for one in worked for test in one.tests for row in _findings(one, test)],
        "adjustments": [row for one in worked for row in _adjustments(one)],
        "results": {
            str(test.id): to_json(test.result) for one in worked for test in one.tests if test.result is not None
        },
    }


def exchange_bytes(data: dict[str, Any], ending: str) -> bytes:
    """Give a visit's data in one of the formats.

    Parameters
    ----------
    data : dict
        From `visit_data`.
    ending : str
        One of ENDINGS.

    Returns
    -------
    bytes

    Raises
    ------
    UsageError
        PAP-006 another ending.
    """
    if ending == ".json":
        return (json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
    if ending == ".csv":
        return _csv(TEST_COLUMNS, data["tests"])
    if ending == ".xlsx":
        return _xlsx(data)
    raise UsageError(
        Problem("PAP-006", f"'{ending[:20]}' is no format for a visit's data", "--out", f"one of {', '.join(ENDINGS)}")
    )


def _visit(facts: VisitFacts) -> dict[str, Any]:
    visit = facts.visit
    return {
        "id": str(visit.id),
        "name": visit.name,
        "site": facts.site.name,
        "owner": facts.owner.name,
        "start": visit.start.isoformat(),
        "finish": None if visit.finish is None else visit.finish.isoformat(),
        "people": list(facts.people),
        "permits": list(visit.permits),
        "planned": len(visit.planned),
        "invented": facts.invented,
    }


def _test(reader: Reader, facts: VisitFacts, one: Tested, test: ValveTest) -> dict[str, Any]:
    valve, verdict = one.hung.valve, None if test.result is None else test.result.verdict
    bench = test.bench
    pop = None if bench is None else bench.pop_pa
    return {
        "visit": facts.visit.name,
        "site": facts.site.name,
        "owner": facts.owner.name,
        "tag": one.hung.tag,
        "serial": valve.serial,
        "maker": valve.maker,
        "model": valve.model,
        "set_pressure": valve.set_pressure.text,
        "set_pressure_pa": valve.set_pressure.si,
        "test_id": str(test.id),
        "day": test.day.isoformat(),
        "at": test.at.isoformat(),
        "kind": str(test.kind),
        "purpose": str(test.purpose),
        "not_tested": "" if test.not_tested is None else str(test.not_tested),
        "verdict": test.verdict,
        "disposition": test.disposition,
        "found_pa": pop if test.set_pressure_pa is None else test.set_pressure_pa,
        "expanded_uncertainty_pa": test.expanded_uncertainty_pa,
        "lower_bound_pa": test.lower_bound_pa,
        "lower_limit_pa": None if verdict is None else verdict.lower_pa,
        "upper_limit_pa": None if verdict is None else verdict.upper_pa,
        "code": "" if verdict is None else verdict.code,
        "bench_reseat_pa": None if bench is None else bench.reseat_pa,
        "people": ", ".join(names_of(reader, test.people)),
        "instruments": ", ".join(used.serial for used in test.instruments),
        "certificate": one.papers.get(str(test.id), ""),
        "recording_sha256": test.recording_sha256,
        "supersedes": "" if test.supersedes is None else str(test.supersedes),
        "note": test.note,
    }


def _pulls(one: Tested, test: ValveTest) -> list[dict[str, Any]]:
    if test.result is None:
        return []
    names = PULL_COLUMNS[4:-1]
    return [
        {"test_id": str(test.id), "tag": one.hung.tag, "pull": pull.number, "outcome": str(pull.outcome)}
        | {name: getattr(pull, name) for name in names}
        | {"flags": ", ".join(pull.flags)}
        for pull in test.result.pulls
    ]


def _findings(one: Tested, test: ValveTest) -> list[dict[str, Any]]:
    found = () if test.result is None else test.result.findings
    return [
        {"test_id": str(test.id), "tag": one.hung.tag, "severity": str(f.severity)}
        | {name: getattr(f, name) for name in FINDING_COLUMNS[3:]}
        for f in found
    ]


def _adjustments(one: Tested) -> list[dict[str, Any]]:
    lists = ("rings_before", "rings_after", "seals_before", "seals_after")
    return [
        {
            "tag": one.hung.tag,
            "serial": one.hung.valve.serial,
            "at": made.at.isoformat(),
            **{name: getattr(made, name) for name in ADJUSTMENT_COLUMNS[3:6]},
            **{name: ", ".join(getattr(made, name)) for name in lists},
            "note": made.note,
        }
        for made in one.adjustments
    ]


def _csv(columns: Sequence[str], rows: Sequence[dict[str, Any]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(row[name]) for name in columns])
    # the mark at the beginning tells table programs that this is UTF-8
    return text.getvalue().encode("utf-8-sig")


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, str):
        plain = _plain(value)
        return f"'{plain}" if plain.startswith(_FORMULA) else plain
    return value


def _plain(text: str) -> str:
    """Give a text without control characters, which a table cannot hold."""
    return "".join(" " if unicodedata.category(c) in ("Cc", "Cs") else c for c in text)


def _xlsx(data: dict[str, Any]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    # the file's own dates are the visit's, so that the same visit gives the same properties
    start = dt.datetime.fromisoformat(data["visit"]["start"])
    book.properties.created = book.properties.modified = start
    book.properties.creator = "Firstlift"
    about = [{"field": key, "value": _joined(value)} for key, value in {"format": FORMAT, **data["visit"]}.items()]
    _sheet(book, "visit", ("field", "value"), about)
    _sheet(book, "tests", TEST_COLUMNS, data["tests"])
    _sheet(book, "pulls", PULL_COLUMNS, data["pulls"])
    _sheet(book, "findings", FINDING_COLUMNS, data["findings"])
    _sheet(book, "adjustments", ADJUSTMENT_COLUMNS, data["adjustments"])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def _joined(value: Any) -> Any:
    return ", ".join(value) if isinstance(value, list) else value


def _sheet(book: Any, name: str, columns: Sequence[str], rows: Sequence[dict[str, Any]]) -> None:
    from openpyxl.styles import Font

    sheet = book.create_sheet(name)
    sheet.append(list(columns))
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for number, row in enumerate(rows, start=2):
        for place, column in enumerate(columns, start=1):
            value = row[column]
            if value is None or value == "":
                continue
            cell = sheet.cell(number, place)
            if isinstance(value, str):
                # a cell holds 32,767 characters; kept as text, so that nothing in it is a formula
                cell.value = _plain(value)[:32_000]
                cell.data_type = "s"
            else:
                cell.value = value
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    for place, column in enumerate(columns, start=1):
        longest = max((len(str(row[column] or "")) for row in rows), default=0)
        sheet.column_dimensions[sheet.cell(1, place).column_letter].width = min(48, max(len(column), longest) + 2)
