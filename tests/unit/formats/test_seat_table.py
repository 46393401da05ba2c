"""A table of pulls or of bench pairs: units in the heading or beside the values, every fault named at once."""

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.formats.seat_table import COLUMNS, read_seat_table


@pytest.fixture
def table(tmp_path):
    def write(text, encoding="utf-8"):
        path = tmp_path / "pulls.csv"
        path.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
        return path

    return write


def problems(path):
    with pytest.raises(FirstliftError) as caught:
        read_seat_table(path)
    return [(problem.code, problem.where) for problem in caught.value.problems]


@pytest.mark.parametrize(
    "text",
    [
        "line_pressure [bar],pull [N]\n4,420\n8.5,141.5\n",
        "Line pressure (bar);Pull (N)\n4;420\n8,5;141,5\n",
        "line-pressure\tpull\n4 bar\t420 N\n8,5 bar\t141,5 N\n",
        "\ufeffline_pressure,pull [N]\n400 kPa,420\n\n850 kPa,141.5\n",
    ],
)
def test_units_stand_in_the_heading_or_beside_the_value(table, text):
    rows = read_seat_table(table(text))
    assert [row["line_pressure"].si for row in rows] == [pytest.approx(4e5), pytest.approx(8.5e5)]
    assert [row["pull"].si for row in rows] == [420.0, 141.5]


def test_an_empty_cell_is_left_out_and_a_setting_is_text(table):
    (row, _) = read_seat_table(
        table("line_pressure [bar],pull [N],pull_uncertainty [N],setting\n4,420,,as found\n5,350,2,as found\n")
    )
    assert "pull_uncertainty" not in row
    assert row["setting"] == "as found"


def test_every_column_can_be_read(table):
    written = {"pressure": "5 bar", "force": "5 N", "temperature": "20 degC", "None": "as found"}
    cells = [written[str(kind)] for kind in COLUMNS.values()]
    (row,) = read_seat_table(table(",".join(COLUMNS) + "\n" + ",".join(cells) + "\n"))
    assert row.keys() == COLUMNS.keys()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", [("SEA-013", None)]),
        ("line_pressure,pull\n", [("SEA-013", None)]),
        ("line_pressure,pull\n4 bar\n", [("SEA-014", "pulls.csv, row 2")]),
        ("line_pressure,force\n4 bar,3 N\n", [("SEA-014", "pulls.csv"), ("SEA-014", "pulls.csv")]),
        ("line_pressure,pull,pull\n4 bar,3 N,3 N\n", [("SEA-014", "pulls.csv")]),
        ("line_pressure,pull\n,3 N\n", [("SEA-014", "pulls.csv, row 2")]),
        (
            "line_pressure,pull [N]\n4,3\n4 bara,x\n",
            [
                ("UNI-006", "pulls.csv, row 2, column line_pressure"),
                ("UNI-003", "pulls.csv, row 3, column line_pressure"),
                ("UNI-004", "pulls.csv, row 3, column pull"),
            ],
        ),
    ],
)
def test_faults_are_named_with_their_place(table, text, told):
    path = table(text)
    assert problems(path) == [(code, place or str(path)) for code, place in told]


@pytest.mark.parametrize("raw", [b"\xff\xfe\x00l", b"line_pressure,pull\n\x00,1\n", b"a" * 1_000_001])
def test_what_is_no_table_is_refused(table, raw):
    assert [code for code, _ in problems(table(raw))] == ["SEA-013"]


def test_a_table_that_is_not_there_is_said(tmp_path):
    assert problems(tmp_path / "none.csv") == [("SEA-013", str(tmp_path / "none.csv"))]
    assert problems(tmp_path) == [("SEA-013", str(tmp_path))]
