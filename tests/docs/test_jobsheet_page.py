"""docs/jobsheet.md lists every key of the closed list and no other, and its example can be read."""

import re
from pathlib import Path

import pytest

from firstlift.core.job import Decision, Form, Measures, Purpose
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.valve import Definition, Medium, ValveType
from firstlift.formats import jobsheet

PAGE = (Path(__file__).parents[2] / "docs" / "jobsheet.md").read_text(encoding="utf-8")
PARTS = dict(re.findall(r"^## \[+(\w+)\]+\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL))


def rows(table):
    return dict(re.findall(r"^\| \**`(\w+)`\** \| (.+) \|$", PARTS[table], re.MULTILINE))


def test_every_table_has_its_part_and_no_other():
    assert PARTS.keys() == jobsheet._KEYS.keys()


@pytest.mark.parametrize("table", list(jobsheet._KEYS))
def test_every_key_is_listed_and_no_other(table):
    assert sorted(rows(table)) == sorted(jobsheet._KEYS[table])


@pytest.mark.parametrize(
    ("table", "key", "choices"),
    [
        ("visit", "purpose", Purpose),
        ("valve", "medium", Medium),
        ("valve", "type", ValveType),
        ("valve", "opening_definition", Definition),
        ("rules", "code", KNOWN_CODES),
        ("rules", "decision", Decision),
        ("channel", "measures", Measures),
        ("channel", "form", Form),
    ],
)
def test_every_choice_is_named(table, key, choices):
    assert [str(word) for word in choices if f"`{word}`" not in rows(table)[key]] == []


def test_the_example_is_a_job_sheet():
    example = re.search(r"^```toml\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL).group(1)
    job = jobsheet.parse_jobsheet(example.encode(), where="example")
    assert job.valve.set_pressure.text == "13.9 bar"
    assert len(job.channels) == 3
