"""The table of tests: what is read, and what is refused with its line."""

import datetime as dt

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.reliability.history import AsFoundState
from firstlift.formats.interval_rows import read_interval_rows

HEAD = "valve,group,date,found,ratio,overhauled\n"


@pytest.fixture
def table(tmp_path):
    def write(text):
        path = tmp_path / "tests.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def problems(path):
    with pytest.raises(FirstliftError) as caught:
        read_interval_rows(path)
    return [problem.sentence() for problem in caught.value.problems]


def test_rows_are_read_with_their_line(table):
    text = (
        HEAD
        + 'A,steam,2020-01-31,none,,yes\n\nA,steam,2022-05-01,Stayed Open,"1,02",\nB,,2021-01-01,lower_bound,0.9,x\n'
    )
    first, second, third = read_interval_rows(table(text))
    assert (first.valve, first.group, first.on, first.overhauled) == ("A", "steam", dt.date(2020, 1, 31), True)
    assert (second.found, second.ratio, second.where) == (AsFoundState.STAYED_OPEN, 1.02, "tests.csv line 4")
    assert (third.group, third.found, third.overhauled) == ("all", AsFoundState.LOWER_BOUND, True)


def test_columns_may_stand_in_any_order_with_semicolons_and_without_what_is_not_needed(table):
    (row,) = read_interval_rows(table(b"\xef\xbb\xbfdate; found; VALVE\n2020-02-29;within;A-1\n"))
    assert (row.valve, row.group, row.ratio, row.overhauled) == ("A-1", "all", None, False)


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (",g,2020-01-01,within,,", "without a valve"),
        ("A,g,01.02.2020,within,,", "date '01.02.2020'"),
        ("A,g,9999-12-31,within,,", "lies far off"),
        ("A,g,2020-01-01,stuk,,", "Did you mean 'stuck'"),
        ("A,g,2020-01-01,,,", "found = ''"),
        ("A,g,2020-01-01,within,102,", "ratio '102'"),
        ("A,g,2020-01-01,within,nan,", "ratio 'nan'"),
        ("A,g,2020-01-01,within,one,", "ratio 'one'"),
        ("A,g,2020-01-01,within,1.0,maybe", "overhauled = 'maybe'"),
        ("A,g,2020-01-01,none,,no", "neither a test nor an overhaul"),
        ("A,g,2020-01-01", "the row has 3 values"),
        ("A,g,2020-01-01,within,1.0,no,more", "the row has 7 values"),
    ],
)
def test_a_bad_row_is_told_with_its_line(table, row, told):
    (sentence,) = problems(table(HEAD + "A,g,2019-01-01,none,,yes\n" + row + "\n"))
    assert sentence.startswith("HIS-003")
    assert "tests.csv line 3" in sentence
    assert told in sentence


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "column 'valve' is missing"),
        ("valve,date,found,overhaul\n", "Did you mean 'overhauled'"),
        ("valve,date,found,valve\n", "'valve' stands twice"),
    ],
)
def test_a_bad_heading_is_told(table, text, told):
    sentences = problems(table(text))
    assert any(told in sentence for sentence in sentences)
    assert all(sentence.startswith("HIS-002") for sentence in sentences)


def test_all_problems_come_at_once_up_to_twenty(table):
    assert len(problems(table(HEAD + "A,g,2020-01-01,stuk,,\nA,g,x,within,,\n"))) == 2
    assert len(problems(table(HEAD + "A,g,x,within,,\n" * 50))) == 20


@pytest.mark.parametrize("how", ["missing", "folder", "binary", "nul"])
def test_a_file_that_is_no_table_is_refused(table, tmp_path, how):
    path = {
        "missing": tmp_path / "none.csv",
        "folder": tmp_path,
        "binary": table(b"\xff\xfe\x00valve"),
        "nul": tmp_path / "nul.csv",
    }[how]
    if how == "nul":
        path.write_bytes(HEAD.encode() + b"A,g,2020-01-01,wi\x00thin,,\n")
    assert all(sentence.startswith("HIS-") for sentence in problems(path))
