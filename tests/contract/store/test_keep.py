"""A register of the first schema is brought up with every row."""

import datetime as dt
import gzip
import uuid
from pathlib import Path

import pytest

from firstlift.core.register.kinds import KINDS
from firstlift.core.register.places import Owner, Site
from firstlift.core.register.work import ValveTest
from firstlift.store.audit import audit
from firstlift.store.open import DATABASE, open_store, upgrade_store
from firstlift.store.schema import HEAD
from firstlift.store.search import Wanted, search

KEPT = Path(__file__).parents[2] / "keep" / "register-0001.sqlite.gz"
HEAD_OF_CHAIN = "201d5a35ecc7d8c650d89333ef74361bc3d81c15885a84ed3363de6994005bc8"


@pytest.fixture
def old(tmp_path):
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / DATABASE).write_bytes(gzip.decompress(KEPT.read_bytes()))
    return tmp_path / "old"


def test_a_register_of_the_first_schema_keeps_every_row(old):
    assert upgrade_store(old) == ("0001", HEAD)
    store = open_store(old)
    with store.read() as reader:
        counts = {name: reader.count(kind) for name, kind in KINDS.items()}
        report = audit(reader)
        site = reader.list(Site)[0]
        test = reader.get(ValveTest, uuid.UUID(int=30))
        (line,) = search(reader, Wanted(tag="psv"))
    store.close()
    assert counts == {
        name: {"attachment": 0, "valve_test": 2, "seat_word": 0, "contact": 0}.get(name, 1) for name in KINDS
    }
    assert (report.entries, report.head_sha256) == (22, HEAD_OF_CHAIN)
    # its photo was left out
    assert [fault.reason for fault in report.faults] == ["it is missing"]
    assert (site.note, site.zone, test.verdict, line.last_verdict) == ("changed", "Europe/London", "outside", "outside")


def test_it_goes_on_being_used(old):
    upgrade_store(old)
    store = open_store(old)
    with store.work(at=dt.datetime(2026, 6, 1, tzinfo=dt.UTC), who="program:test") as work:
        work.add(Owner(uuid.uuid4(), "another"))
    with store.read() as reader:
        assert audit(reader).entries == 23
    store.close()
