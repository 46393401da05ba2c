"""Check single-channel picks on real recordings whose licence keeps them out of this repository.

    python tools/check_real_data.py FOLDER

FOLDER holds impact_lvm (drop-tower impacts by the High-Rate-SHM-Working-Group, Dataset-5-Extended-Impact-Testing,
CC BY-SA 4.0) and, uncut, the sets of which tests/data keeps a part. Exits 1 where an answer is missed.
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import numpy as np

from firstlift.core.lift.pick import pick_bend, pick_onset
from firstlift.core.recording import Floats
from firstlift.formats import lvm


def check_impacts(folder: Path) -> list[str]:
    """A good record has its onset where the shock starts; a spoiled one has none that could be relied on."""
    answers = json.loads((folder / "known_answers.json").read_text(encoding="utf-8"))
    wrong: list[str] = []
    for test, spoiled in (("005", False), ("017", True)):
        channels = _accelerations(folder / f"Test_{test}.lvm")
        known = [value for key, value in answers[test].items() if key.startswith("Acceleration")]
        for values, answer in zip(channels, known, strict=True):
            picked = pick_onset(values)
            low, high = answer["first_10sigma_index"] - 20, answer["one_percent_of_peak_index"] + 5
            good = not picked.reliable if spoiled else picked.reliable and low <= picked.at <= high
            print(
                f"impact {test}: {picked.at:.1f} +/- {picked.standard_uncertainty:.1f}, {picked.reason or 'reliable'}"
            )
            wrong += [] if good else [f"impact {test}"]
    return wrong


def _accelerations(path: Path) -> list[Floats]:
    channels = [channel for channel in lvm.open_file(path).channels if channel.name.startswith("Acceleration")]
    return [np.asarray(channel.read(0, channel.length), dtype=np.float64) for channel in channels]


def check_faults(folder: Path) -> list[str]:
    """Whole acoustic emission records: clear picks within 20 samples, others within 50 or said to be unreliable."""
    wrong: list[str] = []
    with (folder / "picks.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] != "theory"]
    for row in rows:
        with np.load(folder / f"event_{row['event']}.npz") as stored:
            wave = stored["wave"][list(stored["channels"]).index(row["channel"])].astype(np.float64)
        picked = pick_onset(wave)
        away = abs(picked.at - float(row["onset_sample"]))
        clear = row["class"] == "clear"
        if not (picked.reliable and away <= 20.0 if clear else not picked.reliable or away <= 50.0):
            wrong.append(f"fault event {row['event']} {row['channel']}: {picked}")
    print(f"fault events: {len(rows) - len(wrong)} of {len(rows)}")
    return wrong


def check_contacts(folder: Path) -> list[str]:
    """Whole approach curves of a soft contact: between the six estimators, with an uncertainty like their spread."""
    answers = json.loads((folder / "known_answers.json").read_text(encoding="utf-8"))
    wrong: list[str] = []
    for name, answer in answers.items():
        _, position, force = np.loadtxt(folder / name, delimiter=",", skiprows=1, unpack=True)
        picked = pick_bend(position, force, sign=1.0)
        order = np.argsort(position, kind="stable")
        index = float(np.interp(picked.at, position[order], np.arange(position.size)[order]))
        near = np.abs(position - picked.at) < 10.0 * picked.standard_uncertainty
        samples = picked.standard_uncertainty / (np.ptp(position[near]) / (np.count_nonzero(near) - 1))
        spread = float(np.std(list(answer["estimators"].values()), ddof=1))
        print(f"contact {name}: {index:.0f} +/- {samples:.0f}, estimators {answer['lo']} to {answer['hi']}")
        if not (answer["lo"] - 10 <= index <= answer["hi"] + 10 and 0.2 * spread <= samples <= 5.0 * spread):
            wrong.append(f"contact {name}")
    return wrong


def main(folder: Path) -> int:
    """Check every set that is there."""
    checks = {"impact_lvm": check_impacts, "ae_fault_picks": check_faults, "kink_afm_contact": check_contacts}
    there = {name: check for name, check in checks.items() if (folder / name).is_dir()}
    if not there:
        print(f"no set of real recordings in {folder}", file=sys.stderr)
        return 1
    wrong = [line for name, check in there.items() for line in check(folder / name)]
    for name in sorted(checks.keys() - there.keys()):
        print(f"not there, not checked: {name}")
    for line in wrong:
        print(f"wrong: {line}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        sys.exit(2)
    sys.exit(main(Path(sys.argv[1])))
