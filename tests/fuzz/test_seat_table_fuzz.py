"""Whatever stands in a table of pulls: rows, or a problem of our own."""

import contextlib

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from firstlift.core.errors import FirstliftError
from firstlift.formats.seat_table import COLUMNS, read_seat_table
from firstlift.usecases.seat import SeatAsked, find_seat

fixed = settings(
    derandomize=True, deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
cells = st.one_of(
    st.sampled_from(
        ["4 bar", "8,5", "420 N", "1e308", "1e15 bar", "-3", "nan", "inf bar", "=1+1", '"', "\r", "٤ bar", ""]
    ),
    st.floats(0.01, 1e4).map(lambda x: f"{x:.6g}"),
    st.text(max_size=8),
)
headings = st.sampled_from([*COLUMNS, "line_pressure [bar]", "pull [N]", "pull [furlong]", "\u202epull", ""])
tables = st.builds(
    lambda sign, head, rows: "\n".join(sign.join(row) for row in [head, *rows]),
    st.sampled_from([",", ";", "\t"]),
    st.lists(headings, min_size=1, max_size=4),
    st.lists(st.lists(cells, min_size=1, max_size=4), max_size=5),
)
typed = st.builds(
    lambda rows: "line_pressure [bar],pull [N]\n" + "\n".join(f"{p},{f}" for p, f in rows),
    st.lists(st.tuples(cells, cells), max_size=5),
)


@fixed
@given(st.one_of(st.binary(max_size=200), tables.map(str.encode), typed.map(str.encode)))
@example(b"line_pressure,pull\r4 bar,420 N\r8 bar,141 N\r")
@example(b'line_pressure,pull\n"4 bar,420 N\n')
@example(b"line_pressure,pull\n" + b"9" * 200_000 + b",1 N\n")
def test_only_problems_of_our_own_come_out(tmp_path, raw):
    path = tmp_path / "pulls.csv"
    path.write_bytes(raw)
    # anything but a problem of our own fails the test
    with contextlib.suppress(FirstliftError):
        assert read_seat_table(path)
        assert find_seat(SeatAsked(table=path)).seat.area_m2 > 0.0


@fixed
@given(st.lists(st.one_of(st.builds("{}, {}".format, cells, cells), st.text(max_size=20)), max_size=4), cells)
def test_typed_pulls_give_an_area_or_a_problem_of_our_own(pulls, uncertainty):
    with contextlib.suppress(FirstliftError):
        assert find_seat(SeatAsked(pulls=pulls, u_line=uncertainty)).seat.area_m2 > 0.0
