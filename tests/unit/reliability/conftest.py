"""Rows of tests made by hand, and the terms they are judged by."""

import datetime as dt

import pytest

from firstlift.core.reliability.history import AsFoundState, Entry
from firstlift.formats.interval_rows import read_interval_tables
from firstlift.usecases.interval import Asked, terms_of


@pytest.fixture(scope="session")
def tables():
    return read_interval_tables()


@pytest.fixture
def terms(tables):
    return lambda **asked: terms_of(Asked(**asked), tables)


@pytest.fixture
def row():
    """Make a row by the year of its date: years count from the first day of 2000."""

    def make(valve, years, found="within", ratio=None, *, overhauled=False, group="all"):
        on = dt.date(2000, 1, 1) + dt.timedelta(days=round(years * 365.25))
        return Entry(valve, group, on, AsFoundState(found), ratio, overhauled)

    return make


@pytest.fixture
def new(row):
    return lambda valve, years=0.0, group="all": row(valve, years, "none", overhauled=True, group=group)
