"""Text tables as loggers and spreadsheets write them: separators, headings, encodings, damage."""

import time

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.formats.csv_values import instants_of
from firstlift.formats.source import open_source
from firstlift.formats.text_layout import find_layout

ROWS = [(0.0, -0.25, 11.5), (0.001, 0.5, 11.25), (0.002, 1.75, 11.125), (0.003, 2.5, 11.0)]


def table(head, rows=ROWS, sep=",", decimal=".", end="\n", tail=""):
    lines = [head] + [sep.join(f"{v}" for v in row).replace(".", decimal) + tail for row in rows]
    return end.join(lines) + end


def read(tmp_path, content, name="run.csv"):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with open_source(path) as source:
        return source


def columns(source):
    return {c.name: c.read(0, c.length).tolist() for c in source.channels}


EXPECTED = [[row[n] for row in ROWS] for n in range(3)]


@pytest.mark.parametrize(
    ("sep", "decimal"),
    [(",", "."), (";", ","), (";", "."), ("\t", ","), ("\t", "."), ("|", "."), ("   ", "."), (" ", ",")],
)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_any_separator(tmp_path, sep, decimal, end):
    content = table(sep.join(["t", "cell", "line"]), sep=sep, decimal=decimal, end=end)
    assert columns(read(tmp_path, content)) == dict(zip(["t", "cell", "line"], EXPECTED, strict=True))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_any_encoding(tmp_path, encoding):
    content = table("t;Öffnung;line", sep=";", decimal=",").encode(encoding)
    assert columns(read(tmp_path, content))["Öffnung"] == EXPECTED[1]


def test_units_in_the_heading(tmp_path):
    source = read(tmp_path, table("time (ms),Force [kN],cell (left)"))
    assert [(c.name, c.unit, c.aliases) for c in source.channels] == [
        ("time (ms)", "ms", ("time",)),
        ("Force [kN]", "kN", ("Force",)),
        ("cell (left)", None, ()),
    ]


def test_units_in_a_second_row(tmp_path):
    source = read(tmp_path, table("t;Kraft;Druck\ns;[kN];bar", sep=";", decimal=","))
    assert [(c.name, c.unit) for c in source.channels] == [("t", "s"), ("Kraft", "kN"), ("Druck", "bar")]
    assert columns(source)["Druck"] == EXPECTED[2]


@pytest.mark.parametrize(
    "above",
    [
        "# logger 7\n# rate 1000\n",
        "// x\n",
        "; note\n",
        "% note\n\n",
        "Logger;7\nRate;1000\n\n",
        "Logger 7\nStart 09:30:00\n",
    ],
)
def test_preamble_and_comments(tmp_path, above):
    assert columns(read(tmp_path, above + table("t,cell,line")))["line"] == EXPECTED[2]


def test_heading_in_a_comment(tmp_path):
    assert columns(read(tmp_path, table("# t,cell,line")))["cell"] == EXPECTED[1]


def test_no_heading_numbers_the_columns(tmp_path):
    content = table("t,cell,line").split("\n", 1)[1]
    assert columns(read(tmp_path, content)) == {f"column {n + 1}": EXPECTED[n] for n in range(3)}


def test_quotes_gaps_and_separators_at_the_end(tmp_path):
    content = '"t";"cell, left";line;\n"0,0";"1,5";;\n0,1;NaN;2;\n0,2;n/a;-;\n0,3;inf;4;\n'
    source = read(tmp_path, content)
    got = {c.name: c.read(0, 4) for c in source.channels}
    assert list(got) == ["t", "cell, left", "line"]
    np.testing.assert_array_equal(got["cell, left"], [1.5, np.nan, np.nan, np.nan])
    np.testing.assert_array_equal(got["line"], [np.nan, 2.0, np.nan, 4.0])


def test_heading_without_the_last_separator(tmp_path):
    content = table("t;cell;line", sep=";", decimal=",", tail=";")
    assert columns(read(tmp_path, content))["line"] == EXPECTED[2]


def test_one_column(tmp_path):
    content = "force\n" + "".join(f"{n},5\n" for n in range(20))
    assert columns(read(tmp_path, content)) == {"force": [n + 0.5 for n in range(20)]}


def test_text_column_is_no_trouble_until_asked_for(tmp_path):
    content = "t,state,line\n" + "".join(f"{n},run,{n}\n" for n in range(20))
    source = read(tmp_path, content)
    assert {c.name: bool(c.why_not) for c in source.channels} == {"t": False, "state": True, "line": False}


def many(n=2000):
    return [f"{k / 1000:.3f},{k},{k * 2}" for k in range(n)]


def test_damaged_field_is_named_with_line_and_column(tmp_path):
    rows = many()
    rows[700] = "0.700,ERR,1400"
    source = read(tmp_path, "t,cell,line\n" + "\n".join(rows) + "\n")
    _, cell, line = source.channels
    (bad,) = cell.bad
    assert (bad.row, bad.line, bad.text) == (700, 702, "ERR")
    assert np.flatnonzero(np.isnan(cell.read(0, 2000))).tolist() == [700]
    assert line.bad == ()
    assert line.read(700, 701) == [1400.0]


def test_damaged_row_becomes_a_gap(tmp_path):
    rows = many()
    rows[800] = "0.800,8"
    source = read(tmp_path, "# note\nt,cell,line\n" + "\n".join(rows) + "\n")
    (bad,) = source.bad_rows
    assert (bad.row, bad.line) == (800, 803)
    assert all(np.isnan(c.read(800, 801)).all() for c in source.channels)
    assert source.channels[1].read(801, 802) == [801.0]
    assert source.channels[1].length == 2000


def test_damage_in_the_first_rows_keeps_the_heading(tmp_path):
    rows = many()
    rows[3] = "0.003,x"
    source = read(tmp_path, "t,cell,line\n" + "\n".join(rows) + "\n")
    assert [c.name for c in source.channels] == ["t", "cell", "line"]
    assert source.channels[1].length == 2000


def test_lines_are_counted_over_comments_and_blanks(tmp_path):
    rows = many()
    rows[10] = "# marker\n\n" + rows[10]
    rows[700] = "0.700,ERR,1400"
    source = read(tmp_path, "t,cell,line\n" + "\n".join(rows) + "\n")
    assert source.channels[1].bad[0].line == 704
    assert source.channels[1].length == 2000


def test_too_much_damage_is_an_error(tmp_path):
    rows = many()
    for k in range(100, 200):
        rows[k] = "1,2"
    with pytest.raises(FirstliftError) as caught:
        read(tmp_path, "t,cell,line\n" + "\n".join(rows) + "\n")
    (problem,) = caught.value.problems
    assert problem.code == "REC-006"
    assert "102" in problem.where


@pytest.mark.parametrize("cut", ["1.999,19", "1.999,1999,", "1.999,1999,-", "1.999,1999,3e"])
def test_torn_in_its_last_row(tmp_path, cut):
    rows = many()
    source = read(tmp_path, "t,cell,line\n" + "\n".join(rows[:-1]) + "\n" + cut)
    assert source.torn
    assert source.torn_line == 2001
    assert [c.length for c in source.channels] == [1999] * 3
    assert source.channels[2].read(1998, 1999) == [3996.0]
    assert all(c.bad == () for c in source.channels)


def test_no_line_end_after_the_last_row_is_not_torn(tmp_path):
    source = read(tmp_path, "t,cell,line\n" + "\n".join(many()))
    assert not source.torn
    assert source.channels[0].length == 2000


def test_torn_utf16(tmp_path):
    content = ("t,cell,line\n" + "\n".join(many())).encode("utf-16")[:-7]
    assert read(tmp_path, content).channels[0].length == 1999 + (content[-1] == 0)


def test_heading_without_rows(tmp_path):
    with pytest.raises(FirstliftError) as caught:
        read(tmp_path, "t,cell,line\n")
    assert caught.value.problems[0].code == "REC-005"


@pytest.mark.parametrize(
    ("texts", "seconds"),
    [
        (["2026-05-12 09:30:00.000", "2026-05-12 09:30:00.250"], 0.25),
        (["2026-05-12T09:30:00Z", "2026-05-12T11:30:01+02:00"], 1.0),
        (["12.05.2026 09:30:00,5", "12.05.2026 09:30:01,75"], 1.25),
        (["5/31/2026 23:59:59.5", "6/1/2026 00:00:00.5"], 1.0),
        (["23:59:59.9", "00:00:00.1"], 0.2),
    ],
)
def test_instants(texts, seconds):
    instants, wrong = instants_of(texts)
    assert wrong.size == 0
    assert (instants[1] - instants[0]) / np.timedelta64(1, "ns") == pytest.approx(seconds * 1e9)


def test_instants_that_are_none():
    instants, wrong = instants_of(["2026-02-30 10:00:00", "", "soon", "2026-02-28 25:00:00"])
    assert np.isnat(instants).all()
    assert wrong.tolist() == [0, 2, 3]


def test_layout_tells_the_first_row():
    layout = find_layout(b"# a\nt;x\n0,1;2\n0,2;3\n", "x.csv")
    assert (layout.separator, layout.decimal, layout.line, layout.offset) == (";", ",", 3, 8)


@pytest.mark.slow
def test_a_minute_of_six_channels_at_10_khz_is_read_in_seconds(tmp_path):
    n = 600_000
    block = np.column_stack([np.arange(n) / 1e4, *(np.random.default_rng(1).normal(size=(6, n)))])
    path = tmp_path / "run.csv"
    np.savetxt(path, block, fmt="%.5f", delimiter=",", header="t,a,b,c,d,e,f", comments="")
    start = time.perf_counter()
    with open_source(path) as source:
        assert source.channels[6].length == n
    assert time.perf_counter() - start < 4.0


@pytest.mark.parametrize(("rows", "columns"), [(2, 5000), (2, 300), (4, 101)])
def test_a_table_on_its_side_is_refused(tmp_path, rows, columns):
    path = tmp_path / "run.csv"
    path.write_text("\n".join(",".join(f"{k / 7:.6f}" for k in range(columns)) for _ in range(rows)) + "\n")
    with pytest.raises(FirstliftError, match="on its side") as caught:
        open_source(path)
    assert caught.value.problems[0].code == "REC-005"
