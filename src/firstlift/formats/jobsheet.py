"""Job sheets (``format = "firstlift-jobsheet-1"``, TOML): what was tested, with what, and who judges.

The list of keys is closed, so that a typing error cannot be taken for "not stated". All problems of a
sheet are told at once, each with the line it stands on.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job
from firstlift.formats.sheet_channels import check_columns, check_needed, read_channel
from firstlift.formats.sheet_parts import (
    note_orifice,
    read_recording_spec,
    read_seat,
    read_valve,
    read_visit,
    read_weight_n,
)
from firstlift.formats.sheet_reviews import read_reviews
from firstlift.formats.sheet_rules import KNOWN_CODES, LIMIT_KEYS, read_rules
from firstlift.formats.sheet_table import Sheet, Table, find_lines, shown

FORMAT = "firstlift-jobsheet-1"
_LARGEST_BYTES = 1_000_000
_TABLES = ("visit", "valve", "seat", "rules", "recording", "rig")
_LISTS = ("channel", "review")
_KEYS: Mapping[str, tuple[str, ...]] = {
    "visit": (
        "date", "owner", "site", "technician", "purpose", "ambient_temperature", "body_temperature",
        "line_pressure", "line_pressure_standard_uncertainty", "standard_uncertainty",
    ),
    "valve": (
        "tag", "serial", "set_pressure", "medium", "type", "superimposed_back_pressure", "back_pressure_at_test",
        "back_pressure_standard_uncertainty", "cap", "spindle_diameter", "disc_guide_diameter", "bellows_diameter",
        "cold_differential_test_pressure", "maker", "model", "inlet_size", "outlet_size", "spring_rate",
        "spring_range_low", "spring_range_high", "screw_pitch", "max_pull", "opening_definition", "fire_case",
    ),
    "seat": ("mean_diameter", "inner_diameter", "outer_diameter", "area", "standard_uncertainty", "source"),
    "rig": ("weight_on_spindle",),
    "rules": (
        "code", "edition", "decision", "decision_probability", "agreeing_pulls", "agreement_spread", *LIMIT_KEYS,
    ),
    "recording": ("file", "time", "sample_rate", "started_at"),
    "channel": (
        "column", "measures", "unit", "relative_standard_uncertainty", "standard_uncertainty", "polynomial",
        "capacity", "serial", "calibration_due", "calibrated_with", "delay", "head_correction", "form",
    ),
    "review": ("pull", "action", "first_lift", "reason", "by", "at"),
}  # fmt: skip
_ORIFICE_KEYS = ("orifice", "orifice_letter", "letter")

__all__ = ["FORMAT", "KNOWN_CODES", "parse_jobsheet", "read_jobsheet", "recording_path"]


def read_jobsheet(path: Path) -> Job:
    """Read a job sheet from a file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Job

    Raises
    ------
    FirstliftError
        JOB-001 the file cannot be read; otherwise as `parse_jobsheet`.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError("it is a folder")
        if path.stat().st_size > _LARGEST_BYTES:
            raise OSError("it is larger than 1 MB")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FirstliftError(
            Problem("JOB-001", f"the job sheet cannot be read: {reason}", str(path), "a readable TOML file")
        ) from error
    return parse_jobsheet(data, where=path.name)


def recording_path(sheet: Path, job: Job) -> Path:
    """Give the path of the recording; a relative one starts from the job sheet's folder.

    Parameters
    ----------
    sheet : Path
        The job sheet's own path.
    job : Job

    Returns
    -------
    Path
    """
    return sheet.parent / job.recording.file


def parse_jobsheet(data: bytes, *, where: str) -> Job:
    """Read a job sheet from the bytes of its file.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8, with or without byte order mark.
    where : str
        The sheet's name, said in messages.

    Returns
    -------
    Job

    Raises
    ------
    FirstliftError
        One error with every problem found: JOB-002 encoding, JOB-003 TOML, JOB-004 format, JOB-005 unknown
        key, JOB-006 missing key, JOB-007 type, JOB-008 value, JOB-009 two of one, JOB-010 orifice letter,
        JOB-011 needed channel, JOB-012 code, JOB-013 column named twice; UNI-... units and numbers.
    """
    text = _decode(data, where)
    document = _parse_toml(text, where)
    sheet = Sheet(where, find_lines(text))
    _check_top(sheet, document)
    tables = {name: _open_table(sheet, document, name) for name in _TABLES}
    channels, reviews = (_open_list(sheet, document, name) for name in ("channel", "review"))
    job = _build(sheet, tables, channels, reviews)
    sheet.raise_problems()
    if job is None:  # every None above has noted its reason
        raise FirstliftError(Problem("JOB-003", "the job sheet could not be understood", where))
    return job


def _build(sheet: Sheet, tables: Mapping[str, Table], channels: list[Table], reviews: list[Table]) -> Job | None:
    visit = read_visit(tables["visit"])
    valve = read_valve(tables["valve"])
    seat = read_seat(tables["seat"])
    rules = read_rules(tables["rules"], valve.set_pressure if valve else None, visit.purpose if visit else "as-found")
    recording = read_recording_spec(tables["recording"])
    weight = read_weight_n(tables["rig"])
    reviewed = read_reviews(reviews)
    specs = [spec for spec in map(read_channel, channels) if spec is not None]
    check_columns(channels, recording)
    check_needed(sheet, [table.data.get("measures") for table in channels], tables["visit"])
    if visit is None or valve is None or seat is None or rules is None or recording is None:
        return None
    return Job(visit, valve, seat, rules, recording, tuple(specs), weight, reviewed)


def _decode(data: bytes, where: str) -> str:
    needed = "a text file in UTF-8"
    if not data.strip():
        raise FirstliftError(
            Problem("JOB-003", "the job sheet is empty", where, f'TOML that begins: format = "{FORMAT}"')
        )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in data:
        raise FirstliftError(
            Problem("JOB-002", "the job sheet is in UTF-16 or is no text", where, needed, "Save it again as UTF-8")
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FirstliftError(
            Problem(
                "JOB-002",
                f"the job sheet is not in UTF-8: byte 0x{data[error.start]:02x} has no meaning there",
                f"{where} line {line}",
                needed,
                "Save it again as UTF-8",
            )
        ) from error


def _parse_toml(text: str, where: str) -> Mapping[str, object]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        reason = shown(str(error)) if isinstance(error, ValueError) else "it is nested too deeply"
        raise FirstliftError(
            Problem("JOB-003", f"the job sheet is not TOML: {reason}", where, 'TOML: key = "value"', "Correct the line")
        ) from error


def _check_top(sheet: Sheet, document: Mapping[str, object]) -> None:
    top = Table(sheet, "", document)
    top.close(("format", *_TABLES, *_LISTS), _KEYS)
    if document.get("format") != FORMAT:
        found = f"format is '{shown(document['format'])}'" if "format" in document else "key 'format' is missing"
        top.note("JOB-004", found, "format", f'format = "{FORMAT}" at the top of the sheet')


def _open_table(sheet: Sheet, document: Mapping[str, object], name: str) -> Table:
    raw = document.get(name, {})
    data = raw if isinstance(raw, dict) else {}
    table = Table(sheet, name, data)
    if raw is not data:
        table.note("JOB-007", f"'{name}' is not one table", "", f"one table that begins [{name}]")
    for key in _ORIFICE_KEYS if name == "seat" else ():
        if key in data:
            note_orifice(table, key, data[key])
    known = (*_KEYS[name], *_ORIFICE_KEYS) if name == "seat" else _KEYS[name]
    table.close(known, _KEYS)
    return table


def _open_list(sheet: Sheet, document: Mapping[str, object], name: str) -> list[Table]:
    raw = document.get(name, [])
    items = raw if isinstance(raw, list) else []
    tables = [Table(sheet, name, i, index=n) for n, i in enumerate(items) if isinstance(i, dict)]
    if not isinstance(raw, list) or len(tables) != len(items):
        where = Table(sheet, name, {}).where()
        sheet.note("JOB-007", f"'{name}' is not a list of tables", where, f"tables that each begin [[{name}]]")
    for table in tables:
        table.close(_KEYS[name], _KEYS)
    return tables
