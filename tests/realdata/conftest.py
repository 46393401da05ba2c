"""Real recordings in tests/data, each with origin and licence in tests/data/README.md."""

import csv
from pathlib import Path

import numpy as np
import pytest

DATA = Path(__file__).parents[1] / "data"


def rows_of(path):
    with (DATA / path).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def table():
    """Read the rows of one table of tests/data."""
    return rows_of


@pytest.fixture
def arrays():
    """Read one .npz of tests/data."""

    def read(path):
        with np.load(DATA / path) as stored:
            return {name: stored[name] for name in stored.files}

    return read


@pytest.fixture
def columns():
    """Read the columns of one NIST Dataplot file of tests/data (25 lines of text first)."""

    def read(path):
        rows = [line.split() for line in (DATA / path).read_text(encoding="ascii").splitlines()[25:]]
        return np.array([[float(cell) for cell in row] for row in rows if row]).T

    return read


def pytest_generate_tests(metafunc):
    """A test with ``row`` runs for every row of the table its module names in TABLES[test name]."""
    if "row" in metafunc.fixturenames:
        name, keep = metafunc.module.TABLES[metafunc.function.__name__]
        rows = [row for row in rows_of(name) if keep(row)]
        metafunc.parametrize("row", rows, ids=["-".join(list(row.values())[:2]) for row in rows])
