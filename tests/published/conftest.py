"""Each test module here names its sources; every row of them must be computed by the module and agree."""

import tomllib
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def rows_of(source):
    return tomllib.loads((HERE / source).read_text(encoding="utf-8"))["check"]


def pytest_generate_tests(metafunc):
    if "check" in metafunc.fixturenames:
        rows = [row for source in metafunc.module.SOURCES for row in rows_of(source)]
        metafunc.parametrize("check", rows, ids=[row["id"] for row in rows])


def as_list(value):
    return list(value) if isinstance(value, (list, tuple)) else [value]


@pytest.fixture
def agree():
    """Compare what was computed with what a row expects, within the row's own tolerance."""

    def compare(row, computed):
        expected, found = as_list(row["expected"]), as_list(computed)
        assert len(found) == len(expected)
        for ours, theirs in zip(found, expected, strict=True):
            if isinstance(theirs, str):
                assert str(ours) == theirs
            elif row["tolerance_kind"] == "rel":
                assert ours == pytest.approx(theirs, rel=row["tolerance"], abs=0.0)
            else:
                assert ours == pytest.approx(theirs, abs=row["tolerance"], rel=0.0)

    return compare
