"""Bringing in a spreadsheet of 50,000 rows: against the time the XLSX library alone needs to read it."""

from __future__ import annotations

import datetime as dt
import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HEADINGS = (
    "Owner", "Site", "Unit", "Tag", "Equipment", "Medium", "MAWP [bar]", "Operating pressure [bar]",
    "Back pressure [bar]", "Consequence", "Serial No.", "Manufacturer", "Model", "Valve type", "Set pressure [bar]",
    "CDTP [bar]", "Inlet", "Outlet", "Orifice", "Spring No.", "Spring rate [N/mm]", "Screw pitch [mm]",
    "Interval [months]", "Installed on", "Last test", "Result", "As found [bar]", "Remarks",
)  # fmt: skip


def sheet_rows(count: int, seed: int = 7) -> Iterator[list[Any]]:
    """Give the rows of an owner's list, invented; heading first."""
    rng = random.Random(seed)
    yield list(HEADINGS)
    for number in range(count):
        bar = round(rng.uniform(2.0, 90.0), 1)
        tested = dt.date(2019, 1, 1) + dt.timedelta(days=rng.randrange(2500))
        yield [
            "Marrow Bay Energy", f"Site {number % 7}", f"U{number % 40:02d}", f"PSV-{number:06d}",
            f"V-{number // 2:05d}", rng.choice(("gas", "steam", "water", "nitrogen")), round(bar * 1.05, 1),
            round(bar * 0.8, 1), 0 if number % 9 else 0.5, rng.choice("ABC"), f"MB{number:07d}", f"Maker {number % 11}",
            f"M{number % 60}", "conventional" if number % 5 else "balanced bellows", bar, round(bar * 1.01, 1),
            "DN50", "DN80", rng.choice("DEFGHJK"), f"SP{number % 500}", round(rng.uniform(20, 400), 1), 1.5,
            rng.choice((12, 24, 36)), dt.date(2012, 3, 4), tested, "pass" if rng.random() < 0.9 else "fail",
            round(bar * rng.gauss(1.0, 0.015), 2), "" if number % 3 else f"box {number}",
        ]  # fmt: skip


def write_sheet(path: Path, count: int) -> None:
    """Write the list as XLSX."""
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Valves")
    for row in sheet_rows(count):
        sheet.append(row)
    book.save(path)


def library_read_s(path: Path, rows: int) -> float:
    """Time the library alone: every row, values only, as it streams them."""
    import openpyxl

    start = time.perf_counter()
    book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    seen = sum(1 for _ in book["Valves"].iter_rows(values_only=True))
    book.close()
    spent = time.perf_counter() - start
    if seen != rows + 1:
        sys.exit(f"the library read {seen} rows of {rows + 1}: its time says nothing")
    return spent


# in a process of its own: its memory is the import's alone, and nothing is warm that would be cold for a user
_CHILD = """
import datetime as dt, json, sys, time, uuid
from pathlib import Path
from firstlift.formats.sheets.mapping import Mapping
from firstlift.store.open import create_store
from firstlift.usecases.import_sheet import import_sheet
at = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
store = create_store(Path(sys.argv[2]), store_id=uuid.UUID(int=1), at=at)
start = time.perf_counter()
report = import_sheet(store, Path(sys.argv[1]), Mapping(), at=at, who="bench")
seconds = time.perf_counter() - start
store.close()
status = Path("/proc/self/status")
peak_kb = 0.0
if status.exists():
    line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    peak_kb = float(line.split()[1])
print(json.dumps([seconds, peak_kb, report.rows_taken, report.counts]))
"""


def import_figures(rows: int, times: int = 1) -> dict[str, float]:
    """Time reading by the library and the whole import, turn about, and measure the import's peak memory."""
    library: list[float] = []
    ours: list[float] = []
    peaks: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "list.xlsx"
        write_sheet(path, rows)
        for turn in range(times):
            library.append(library_read_s(path, rows))
            command = [sys.executable, "-c", _CHILD, str(path), str(Path(folder) / f"store{turn}")]
            out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
            seconds, peak_kb, taken, counts = json.loads(out.splitlines()[-1])
            if taken != rows or counts["valve"] != rows or counts["valve_test"] != rows:
                sys.exit(f"the import took {taken} of {rows} rows: its time says nothing")
            ours.append(seconds)
            peaks.append(peak_kb)
            print(f"import {seconds:.1f} s, library {library[-1]:.1f} s", file=sys.stderr, flush=True)
        size_mb = path.stat().st_size / 1e6
    middle = len(ours) // 2
    import_s, library_s = sorted(ours)[middle], sorted(library)[middle]
    return {
        "import_over_library_ratio": round(import_s / library_s, 3),
        "import_s": round(import_s, 2),
        "import_library_read_s": round(library_s, 2),
        "import_peak_memory_mb": round(max(peaks) / 1e3, 1),
        "import_file_mb": round(size_mb, 1),
        "import_row_count": rows,
        "import_column_count": len(HEADINGS),
    }
