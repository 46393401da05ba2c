"""The [[review]] tables of a job sheet: read whole, or every trouble told at once."""

import datetime as dt
import tomllib

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.job import PullReview, ReviewAction
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.sheet_write import write_sheet

SHEET = """
format = "firstlift-jobsheet-1"
[visit]
date = 2026-05-12
purpose = "as-found"
[valve]
tag = "PSV-1"
serial = "S-1"
set_pressure = "10 bar"
medium = "gas"
[seat]
mean_diameter = "30 mm"
standard_uncertainty = "0.05 mm"
[rules]
code = "iso-4126-1"
[recording]
file = "pull.csv"
time = "time_s"
[[channel]]
column = "force"
measures = "pull_force"
unit = "N"
[[channel]]
column = "line"
measures = "line_pressure"
unit = "bar"
[[channel]]
column = "lift"
measures = "spindle_lift"
unit = "mm"
"""
GOOD = {
    "pull": 2,
    "action": "move",
    "first_lift": "3.25 s",
    "reason": 'a "burst" of the line',
    "by": "Ada Quillfeather",
    "at": dt.datetime(2026, 5, 12, 15, 0, tzinfo=dt.timezone(dt.timedelta(hours=2))),
}


def read(*reviews):
    document = {**tomllib.loads(SHEET), "review": list(reviews)}
    return parse_jobsheet(write_sheet(document).encode(), where="sheet").reviews


def test_a_review_is_read_as_it_was_written():
    rejected = {**GOOD, "pull": 1, "action": "reject"}
    del rejected["first_lift"]
    assert read(GOOD, rejected) == (
        PullReview(1, ReviewAction.REJECT, GOOD["reason"], GOOD["by"], GOOD["at"]),
        PullReview(2, ReviewAction.MOVE, GOOD["reason"], GOOD["by"], GOOD["at"], 3.25),
    )
    assert parse_jobsheet(SHEET.encode(), where="sheet").reviews == ()


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"reason": ""}, "JOB-008"),
        ({"reason": None}, "JOB-006"),
        ({"by": None}, "JOB-006"),
        ({"at": None}, "JOB-006"),
        ({"pull": None}, "JOB-006"),
        ({"pull": 0}, "JOB-008"),
        ({"action": "hide"}, "JOB-008"),
        ({"action": "reject"}, "JOB-008"),
        ({"first_lift": None}, "JOB-008"),
        ({"first_lift": "3 bar"}, "UNI-002"),
        ({"reason": "x" * 501}, "JOB-008"),
        ({"note": "x"}, "JOB-005"),
    ],
)
def test_what_is_wrong_is_said(change, code):
    table = {key: value for key, value in {**GOOD, **change}.items() if value is not None}
    with pytest.raises(FirstliftError) as refused:
        read(table)
    assert code in [problem.code for problem in refused.value.problems]


def test_two_reviews_of_one_pull_are_refused():
    with pytest.raises(FirstliftError) as refused:
        read(GOOD, GOOD)
    assert [problem.code for problem in refused.value.problems] == ["JOB-009"]
