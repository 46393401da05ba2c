"""Search: by how a tag or serial begins, by names, overdue; sites at a glance."""

import datetime as dt
import json
import uuid

import pytest
from tests.made_sheets import HEADINGS, write_csv

from firstlift.cli.main import main
from firstlift.core.errors import FirstliftError
from firstlift.formats.sheets.mapping import Mapping
from firstlift.store.open import create_store
from firstlift.usecases.import_sheet import import_sheet
from firstlift.usecases.search import Asked, search_valves, sites_at_a_glance

AT = dt.datetime(2026, 6, 1, 9, tzinfo=dt.UTC)
ROWS = [
    [*HEADINGS, "Unit", "Interval [months]", "Last test", "Result"],
    ["MB", "North", "10-PSV-1", "AA-1", "gas", 10, "Crude", 12, "2024-01-10", "pass"],
    ["MB", "North", "10-PSV-2", "AA-2", "steam", 12, "Steam", 24, "2026-01-10", "fail"],
    ["MB", "South", "20-PSV-1", "BB-1", "water", 8, "Crude", 36, "2025-01-10", "pass"],
    ["Other", "West", "30-PSV-1", "10-X", "gas", 8, "Crude", "", "", ""],
]


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=uuid.UUID(int=5), at=AT)
    report = import_sheet(made, write_csv(tmp_path / "list.csv", ROWS), Mapping(), at=AT, who="program:test")
    assert report.troubles == []
    yield made
    made.close()


def tags(store, **asked):
    return [line.tag for line in search_valves(store, Asked(**asked), at=AT, limit=50).lines]


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        ({}, ["10-PSV-1", "10-PSV-2", "20-PSV-1", "30-PSV-1"]),
        ({"text": "10-psv"}, ["10-PSV-1", "10-PSV-2"]),
        ({"text": "bb-"}, ["20-PSV-1"]),
        ({"text": "10-x"}, ["30-PSV-1"]),
        ({"serial": "10"}, ["30-PSV-1"]),
        ({"site": "north"}, ["10-PSV-1", "10-PSV-2"]),
        ({"owner": "Other"}, ["30-PSV-1"]),
        ({"unit": "crude", "owner": "mb"}, ["10-PSV-1", "20-PSV-1"]),
        ({"medium": "steam"}, ["10-PSV-2"]),
        ({"verdict": "outside"}, ["10-PSV-2"]),
        ({"overdue": True}, ["10-PSV-1"]),
        ({"text": "99"}, []),
    ],
)
def test_valves_are_found_by_what_people_know(store, asked, wanted):
    assert tags(store, **asked) == wanted


def test_a_page_says_how_many_there_are(store):
    found = search_valves(store, Asked(), at=AT, limit=2, offset=1)
    assert ([line.tag for line in found.lines], found.total) == (["10-PSV-2", "20-PSV-1"], 4)


@pytest.mark.parametrize("asked", [Asked(site="Nord"), Asked(owner="MBB")])
def test_a_name_that_is_not_there_is_told_with_the_nearest(store, asked):
    with pytest.raises(FirstliftError, match=r"FND-001.*Did you mean '(North|MB)'"):
        search_valves(store, asked, at=AT, limit=5)


def test_a_site_at_a_glance(store):
    ((site, owner, summary),) = sites_at_a_glance(store, site="North", owner="", at=AT)
    assert (site.name, owner.name) == ("North", "MB")
    assert (summary.valves, summary.overdue, summary.verdicts) == (2, 1, {"outside": 1, "within": 1})
    assert len(sites_at_a_glance(store, site="", owner="", at=AT)) == 3
    assert len(sites_at_a_glance(store, site="", owner="MB", at=AT)) == 2


def test_the_command_prints_a_table_or_json(store, tmp_path, capsys):
    where = ["--store", str(tmp_path / "register")]
    assert main(["search", "10-PSV", *where]) == 0
    out = capsys.readouterr().out.splitlines()
    assert out[0].split() == ["tag", "serial", "set", "medium", "unit", "site", "due", "last", "test"]
    assert "overdue" in out[1]
    assert out[-1] == "2 valves"
    assert main(["search", "--json", "--limit", "1", *where]) == 0
    read = json.loads(capsys.readouterr().out)
    assert (read["total"], read["valves"][0]["tag"]) == (4, "10-PSV-1")
    assert main(["search", "--summary", "--site", "South", *where]) == 0
    assert "South (MB): 1 valves in use, 0 overdue" in capsys.readouterr().out
    assert main(["search", "--limit", "2", *where]) == 0
    assert "1 to 2 of 4: --offset 2 goes on" in capsys.readouterr().out
    assert main(["search", "--site", "Nowhere", *where]) == 3
    assert "FND-001" in capsys.readouterr().err
