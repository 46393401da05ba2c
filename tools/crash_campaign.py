"""Kill a register's writer at random moments, and hold the register to its word every time.

    python tools/crash_campaign.py [--kills 200] [--seed 1] [--folder FOLDER]

A process writes (tests with their recordings, imports of a spreadsheet, backups, new registers with their migration)
and says in a log of its own, brought to the disk, what was committed. It is ended by SIGKILL at a random moment. Then
the register must open, its audit must find nothing, and all that was said to be committed must be there: every
test, every recording, every imported valve, every finished backup. Half an import must not be. Exits 1 where not.
"""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import importlib
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Owner
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.audit import audit
from firstlift.store.backup import backup
from firstlift.store.files import keep_bytes, read_kept
from firstlift.store.open import Store, create_store, open_store

KINDS = ("write", "import", "backup", "migrate")
_AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
_IMPORT_ROWS = 60
_FRESH_AFTER = 20


class Log:
    """What the writer promised: a line is on the disk before the next thing begins."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("a", encoding="utf-8")

    def say(self, *words: object) -> None:
        """Write one line and bring it to the disk."""
        self._file.write(" ".join(map(str, words)) + "\n")
        self._file.flush()
        os.fsync(self._file.fileno())


def write_tests(store: Store, log: Log, rng: random.Random) -> None:
    """Keep recordings and tests, one unit of work each."""
    with store.read() as reader:
        valve = reader.list(RegisteredValve, limit=1)[0]
    while True:
        data = rng.randbytes(rng.randrange(10, 60_000))
        sha256 = keep_bytes(store.folder, data)
        test = ValveTest(
            uuid4(), valve.id, HowTested.PULL, Purpose.AS_FOUND, _AT, "UTC", _AT.date(), recording_sha256=sha256
        )
        with store.work(at=_AT, who="program:crash") as work:
            work.add(test)
            work.change(dataclasses.replace(work.get(Owner, valve.owner_id), note=sha256[:12]))
        log.say("test", test.id, sha256)


def import_sheets(store: Store, log: Log, rng: random.Random, folder: Path) -> None:
    """Bring in spreadsheets, all or nothing."""
    from firstlift.formats.sheets.mapping import Mapping
    from firstlift.usecases.import_sheet import import_sheet

    while True:
        mark = f"{rng.randrange(16**10):010x}"
        path = folder / "rows.csv"
        rows = [f"Marrow Bay Energy;Tern Street works;T{mark}-{n};gas;S{mark}-{n};12.5" for n in range(_IMPORT_ROWS)]
        path.write_text("\n".join(["Owner;Site;Tag;Medium;Serial No.;Set pressure [bar]", *rows]) + "\n")
        log.say("begins", mark)
        import_sheet(store, path, Mapping(), at=_AT, who="program:crash")
        log.say("import", mark)


def back_up(store: Store, log: Log, folder: Path) -> None:
    """Make backups, each in a place of its own."""
    while True:
        target = folder / f"backup-{uuid4().hex}"
        backup(store, target)
        log.say("backup", target.name)


def migrate(log: Log, folder: Path) -> None:
    """Make registers: every step of the schema's history on an empty database."""
    while True:
        target = folder / f"new-{uuid4().hex}"
        log.say("makes", target.name)
        create_store(target, store_id=uuid4(), at=_AT).close()
        log.say("made", target.name)


def work(kind: str, folder: Path, seed: int) -> None:
    """Be the process that is killed."""
    rng = random.Random(seed)
    log = Log(folder / "promised.log")
    store = open_store(folder / "register")
    _warm_up(kind, store)
    print("ready", flush=True)
    if kind == "write":
        write_tests(store, log, rng)
    elif kind == "import":
        import_sheets(store, log, rng, folder)
    elif kind == "backup":
        back_up(store, log, folder)
    else:
        migrate(log, folder)


def _warm_up(kind: str, store: Store) -> None:
    """Load what is loaded late, so that the kill falls into the work and not into its beginning."""
    keep_bytes(store.folder, b"warm")
    for name in {"import": ("firstlift.usecases.import_sheet",), "write": ()}.get(kind, ("alembic.command",)):
        importlib.import_module(name)


def make_register(folder: Path) -> None:
    """Make the register that is written to."""
    store = create_store(folder / "register", store_id=uuid4(), at=_AT)
    owner = Owner(uuid4(), "Marrow Bay Energy")
    with store.work(at=_AT, who="program:crash") as unit:
        unit.add(owner)
        unit.add(RegisteredValve(uuid4(), owner.id, "S0", parse_quantity("12.5 bar", Kind.PRESSURE)))
    store.close()


def kill_once(kind: str, folder: Path, rng: random.Random) -> None:
    """Start a writer and kill it at a random moment of its work."""
    command = [sys.executable, __file__, "--work", kind, "--folder", str(folder), "--seed", str(rng.randrange(10**9))]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    if process.stdout.readline().strip() != "ready":
        sys.exit(f"the writer did not start ({kind})")
    # half of them early, where a thing begins; the rest anywhere in the seconds that follow
    time.sleep(rng.uniform(0.0, 0.1) if rng.random() < 0.5 else rng.expovariate(1.0))
    process.send_signal(signal.SIGKILL)
    if process.wait() != -signal.SIGKILL:
        sys.exit(f"the writer ended by itself ({kind})")
    process.stdout.close()


def promised(folder: Path) -> list[list[str]]:
    """Give what the writer promised; a line that was cut off promised nothing."""
    path = folder / "promised.log"
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    return [line.split() for line in text.splitlines(keepends=True) if line.endswith("\n")]


def check(folder: Path) -> list[str]:
    """Hold the register to what was promised; give what is wrong."""
    wrong: list[str] = []
    lines = promised(folder)
    store = open_store(folder / "register")
    with store.read() as reader:
        wrong += [f"{fault.what}: {fault.reason}" for fault in audit(reader).faults]
        for line in lines:
            if line[0] == "test":
                test = reader.find(ValveTest, UUID(line[1]))
                if test is None or len(read_kept(reader.folder, line[2])) < 10:
                    wrong.append(f"test {line[1]} is lost")
            elif line[0] in ("begins", "import"):
                found = sum(bool(reader.by_key(RegisteredValve, f"S{line[1]}-{n}")) for n in range(_IMPORT_ROWS))
                if found not in ({_IMPORT_ROWS} if line[0] == "import" else {0, _IMPORT_ROWS}):
                    wrong.append(f"import {line[1]} has {found} of {_IMPORT_ROWS} valves")
    store.close()
    return wrong + _check_others(folder, lines)


def _check_others(folder: Path, lines: list[list[str]]) -> list[str]:
    """Backups and new registers: whole where they were promised, else whole or not there."""
    wrong: list[str] = []
    said = {line[1] for line in lines if line[0] in ("backup", "made")}
    there = {path.name for path in folder.iterdir() if path.name.startswith(("backup-", "new-"))}
    wrong += [f"{name} is lost" for name in sorted(said - there)]
    for name in sorted(there):
        try:
            store = open_store(folder / name)
        except FirstliftError as error:
            if name in said or error.problems[0].code != "STO-008" or name.startswith("backup-"):
                wrong.append(f"{name}: {error}")
            else:  # making it again must go well
                create_store(folder / name, store_id=uuid4(), at=_AT).close()
            continue
        with store.read() as reader:
            wrong += [f"{name}: {fault.what}: {fault.reason}" for fault in audit(reader).faults]
        store.close()
    return wrong


def _clear(folder: Path) -> None:
    """Begin anew: registers grow, and so does the time to audit them."""
    import shutil

    for path in folder.iterdir():
        shutil.rmtree(path) if path.is_dir() else path.unlink()


def campaign(kills: int, seed: int, folder: Path) -> dict[str, int]:
    """Kill so many times; give how many promises were held to, or exit where one was broken."""
    rng = random.Random(seed)
    figures = {"kills_count": 0, "promises_count": 0, "broken_count": 0}
    for number in range(kills):
        if number % _FRESH_AFTER == 0:
            _clear(folder)
            make_register(folder)
        kind = KINDS[number % len(KINDS)]
        before = len(promised(folder))
        kill_once(kind, folder, rng)
        wrong = check(folder)
        figures["kills_count"] += 1
        figures["promises_count"] += len(promised(folder)) - before
        figures["broken_count"] += len(wrong)
        for line in wrong:
            print(f"kill {number} ({kind}): {line}", file=sys.stderr, flush=True)
    return figures


def main() -> int:
    """Run the campaign, or be the writer."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--work", choices=KINDS, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.work:
        work(options.work, options.folder, options.seed)
    if options.folder is not None:
        options.folder.mkdir(parents=True, exist_ok=True)
        if any(options.folder.iterdir()):
            sys.exit(f"{options.folder} is not empty")
        figures = campaign(options.kills, options.seed, options.folder)
    else:
        with tempfile.TemporaryDirectory() as name:
            figures = campaign(options.kills, options.seed, Path(name))
    print("\n".join(f"{key:20s} {value}" for key, value in figures.items()))
    return 1 if figures["broken_count"] else 0


if __name__ == "__main__":
    sys.exit(main())
