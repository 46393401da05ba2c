"""Analyse recordings whose true answer is known and hold the results to it.

    python tools/check_cases.py FOLDER

Every folder of FOLDER holds a job sheet, a recording and truth.json. Exits 1 where an outcome is wrong, a
pull is missed or invented, a result does not follow the published schema, or the errors are too large.
"""

from __future__ import annotations

import json
import statistics
import sys
from pathlib import Path

import jsonschema

from firstlift.core.result import result_schema, to_json
from firstlift.usecases.analyse import analyse_jobsheet

# per cent of stamped set pressure, distance to what an observer of the true moment would have read
_MEDIAN_PCT, _NINE_OF_TEN_PCT, _LARGEST_PCT = 0.09, 0.3, 1.5


def check_case(folder: Path) -> tuple[list[float], list[str]]:
    """Check one folder: detector errors in per cent of stamped set pressure, and what is wrong."""
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    result = analyse_jobsheet(folder / "jobsheet.toml").analysis.result
    jsonschema.validate(to_json(result), result_schema())
    wrong: list[str] = []
    if str(result.outcome) != truth["expect"]:
        wrong.append(f"{folder.name}: outcome {result.outcome}, expected {truth['expect']}")
    measured = [pull for pull in result.pulls if pull.set_pressure_pa is not None]
    if len(measured) != len(truth["pulls"]):
        wrong.append(f"{folder.name}: {len(measured)} pulls with a number, expected {len(truth['pulls'])}")
    errors = [
        100.0 * abs((pull.set_pressure_pa or 0.0) / 1e5 - true["ideal_estimate_bar"]) / truth["stamped_bar"]
        for pull, true in zip(measured, truth["pulls"], strict=False)
    ]
    closed = [pull.closure_s is not None for pull in measured] == [t["reseat_s"] is not None for t in truth["pulls"]]
    if not closed:
        wrong.append(f"{folder.name}: closure observed differs from the truth")
    return errors, wrong


def main(folder: Path) -> int:
    """Check every case below a folder and print one line each."""
    errors: list[float] = []
    wrong: list[str] = []
    for sheet in sorted(folder.glob("*/jobsheet.toml")):
        found, bad = check_case(sheet.parent)
        errors += found
        wrong += bad
        print(f"{sheet.parent.name:<16} {len(found)} pulls, largest error {max(found, default=0.0):.3f} %")
    if not errors:
        print(f"no case below {folder}", file=sys.stderr)
        return 1
    median, ninety = statistics.median(errors), statistics.quantiles(errors, n=10)[-1]
    print(f"{len(errors)} pulls: median {median:.3f} %, nine of ten {ninety:.3f} %, largest {max(errors):.3f} %")
    if median > _MEDIAN_PCT or ninety > _NINE_OF_TEN_PCT or max(errors) > _LARGEST_PCT:
        wrong.append(f"errors too large: allowed {_MEDIAN_PCT}, {_NINE_OF_TEN_PCT} and {_LARGEST_PCT} %")
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        sys.exit(2)
    sys.exit(main(Path(sys.argv[1])))
