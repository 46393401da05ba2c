"""``firstlift register paired`` as a user runs it."""

import datetime as dt
import json
import uuid

import pytest

from firstlift.core.job import Purpose
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Owner
from firstlift.core.register.work import BenchMedium, BenchReading, HowTested, UsedInstrument, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import create_store

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)


@pytest.fixture
def register(tmp_path):
    valve, owner = uuid.UUID(int=2), uuid.UUID(int=1)
    entries = [
        Owner(owner, "Marrow Bay Energy", "invented"),
        RegisteredValve(valve, owner, "S-9", parse_quantity("10 bar", Kind.PRESSURE)),
    ]
    for number, off in enumerate([0.004, -0.003, 0.002, 0.05]):
        at = AT + dt.timedelta(days=100 * number)
        common = (Purpose.AS_FOUND, at, "UTC", at.date())
        entries += [
            ValveTest(
                uuid.UUID(int=10 + number), valve, HowTested.PULL, *common, set_pressure_pa=10e5 * (1.0 + off),
                expanded_uncertainty_pa=0.1e5, instruments=(UsedInstrument("C1", "pull_force"),),
            ),
            ValveTest(
                uuid.UUID(int=20 + number), valve, HowTested.BENCH, *common,
                bench=BenchReading(BenchMedium.AIR, 10e5, 0.05e5),
            ),
        ]  # fmt: skip
    store = create_store(tmp_path / "register", store_id=uuid.UUID(int=7), at=AT, folder=None)
    with store.work(at=AT, who="program:test") as work:
        work.add_all(entries)
    store.close()
    return tmp_path / "register"


def test_pairs_are_summed_up_and_the_one_that_disagrees_is_told(run, register):
    done = run("register", "paired", "--store", register)
    assert (done.returncode, done.stderr) == (1, "")
    assert "rig C1, conventional, team ?: 4 pairs" in done.stdout
    assert "3 agree within their uncertainties; largest normalised error +3.54" in done.stdout
    assert "provisional" in done.stdout
    (group,) = json.loads(run("register", "paired", "--store", register, "--json").stdout)["groups"]
    assert group["agreeing_count"] == 3
    assert len(group["chart"]["points"]) == 4


def test_days_are_days(run, register):
    done = run("register", "paired", "--store", register, "--within-days", "soon")
    assert (done.returncode, done.stdout) == (2, "")
