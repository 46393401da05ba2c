"""Columns of an uploaded recording: what they may measure, and the job sheet made from what was said of them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures, Purpose
from firstlift.core.units import UNITS, Kind
from firstlift.formats.sheet_write import write_sheet
from firstlift.formats.source import open_source
from firstlift.store.files import write_kept

TIME, NOTHING = "time", ""
_HASH = re.compile(r"[0-9a-f]{64}")
_BY_KIND = {
    Kind.FORCE: Measures.PULL_FORCE,
    Kind.PRESSURE: Measures.LINE_PRESSURE,
    Kind.LENGTH: Measures.SPINDLE_LIFT,
}
_BY_NAME = (
    (("time", "zeit", "t_s"), TIME),
    (("lift", "travel", "hub", "displacement"), Measures.SPINDLE_LIFT),
    (("sound", "acoustic", "ae", "mic"), Measures.ACOUSTIC),
    (("back",), Measures.BACK_PRESSURE),
    (("press", "druck", "line"), Measures.LINE_PRESSURE),
    (("force", "kraft", "cell", "load", "pull"), Measures.PULL_FORCE),
    (("temp",), Measures.TEMPERATURE),
)


@dataclass(frozen=True, slots=True)
class ColumnSeen:
    """A column of a file: its name, unit, length, whether it holds numbers, and what it seems to measure."""

    name: str
    unit: str
    length: int
    why_not: str
    guess: str
    even: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """What is known of an uploaded recording: its kept file and name, and the test it belongs to."""

    recording: str
    name: str
    tag: str
    purpose: str
    date: str
    site: str

    def put_down(self, kept_in: Path, folder: Path) -> Path:
        """Write the kept file under its own name; WEB-009 where the address names none."""
        return put_down(kept_in, self.recording, self.name, folder)


def put_down(kept_in: Path, sha256: str, name: str, folder: Path) -> Path:
    """Write an uploaded file, kept by its hash, under its own name.

    Parameters
    ----------
    kept_in : Path
        The store's folder.
    sha256, name : str
        As an address has them.
    folder : Path

    Returns
    -------
    Path

    Raises
    ------
    FirstliftError
        WEB-009 the address names no file; STO-010 it is not kept.
    """
    bare = Path(name).name
    if not _HASH.fullmatch(sha256) or bare != name or not bare or not bare.isprintable():
        raise FirstliftError(Problem("WEB-009", "the address names no file", needed="one that was brought in"))
    target = folder / bare
    write_kept(kept_in, sha256, target)
    return target


def columns_of(path: Path) -> list[ColumnSeen]:
    """Look at a recording's columns.

    Parameters
    ----------
    path : Path

    Returns
    -------
    list of ColumnSeen

    Raises
    ------
    FirstliftError
        REC-001 to REC-005.
    """
    with open_source(path) as source:
        return [
            ColumnSeen(
                channel.name,
                channel.unit or "",
                channel.length,
                channel.why_not,
                "" if channel.why_not else _guess(channel.name, channel.unit or ""),
                channel.dt_s is not None or channel.time is not None,
            )
            for channel in source.channels
        ]


def _guess(name: str, unit: str) -> str:
    plain = name.casefold()
    known = UNITS.get(unit)
    for parts, measures in _BY_NAME:
        if any(part in plain if len(part) > 2 else re.search(rf"\b{part}\b", plain) for part in parts):
            return str(measures)
    if known is not None and known.kind in _BY_KIND:
        return str(_BY_KIND[known.kind])
    return TIME if unit == "s" else NOTHING


def sheet_from(asked: Asked, form: Mapping[str, str]) -> str:
    """Write the job sheet that a form describes; the register fills the rest.

    Parameters
    ----------
    asked : Asked
    form : mapping
        ``column-N``, ``measures-N``, ``unit-N``, ``serial-N``; ``rate`` where no column is the time.

    Returns
    -------
    str
        TOML.

    Raises
    ------
    FirstliftError
        WEB-009 the date, the purpose or the time base is missing.
    """
    recording: dict[str, Any] = {"file": asked.name}
    channels: list[dict[str, Any]] = []
    for number in sorted(int(key[7:]) for key in form if key.startswith("column-") and key[7:].isdecimal()):
        column, measures = form[f"column-{number}"], form.get(f"measures-{number}", "")
        if measures == TIME:
            recording["time"] = column
        elif measures:
            channel = {"column": column, "measures": measures}
            for key in ("serial", "unit"):
                if form.get(f"{key}-{number}", "").strip():
                    channel[key] = form[f"{key}-{number}"].strip()
            if "serial" in channel:
                channel.pop("unit", None)
            channels.append(channel)
    if "time" not in recording:
        recording |= {"sample_rate": form["rate"].strip()} if form.get("rate", "").strip() else {"time": "waveform"}
    visit: dict[str, Any] = {"date": _date(asked.date), "purpose": _purpose(asked.purpose)}
    if asked.site:
        visit["site"] = asked.site
    return write_sheet(
        {
            "format": "firstlift-jobsheet-1",
            "visit": visit,
            "valve": {"tag": asked.tag},
            "recording": recording,
            "channel": channels,
        }
    )


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise FirstliftError(
            Problem("WEB-009", f"'{text[:40]}' is no date", "Date", "a date like 2026-11-25")
        ) from None


def _purpose(text: str) -> str:
    if text not in tuple(Purpose):
        raise FirstliftError(Problem("WEB-009", "as found or as left is not chosen", "State", ", ".join(Purpose)))
    return text
