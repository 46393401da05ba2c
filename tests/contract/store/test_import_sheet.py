"""A spreadsheet goes into either engine in the same way: whole, once, or not at all."""

import datetime as dt

from tests.made_sheets import GOOD, HEADINGS, with_cell, write_rows

from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.formats.sheets.mapping import Mapping
from firstlift.store.audit import audit
from firstlift.usecases.import_sheet import import_sheet

AT = dt.datetime(2026, 6, 1, 9, tzinfo=dt.UTC)


def take(store, path, **options):
    return import_sheet(store, path, Mapping(), at=AT, who="program:import", **options)


def counts(store):
    with store.read() as reader:
        return [reader.count(kind) for kind in (Owner, Site, Position, RegisteredValve)]


def test_rows_come_in_once(store, tmp_path):
    path = write_rows(tmp_path / "list.xlsx", [HEADINGS, *GOOD])
    assert take(store, path).kept
    assert counts(store) == [1, 2, 3, 3]
    again = take(store, path, take_good_rows=True)
    assert (again.rows_taken, again.rows_refused) == (0, 3)
    assert counts(store) == [1, 2, 3, 3]
    with store.read() as reader:
        assert list(audit(reader).faults) == []


def test_a_bad_row_keeps_everything_out(store, tmp_path):
    assert not take(store, write_rows(tmp_path / "list.xlsx", with_cell("Medium", "mystery", row=2))).kept
    assert counts(store) == [0, 0, 0, 0]
