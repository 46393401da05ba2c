"""Axes, thinning, traces and the SVG writer."""

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from firstlift.figures.axis import Axis, comfortable, step_for, ticks
from firstlift.figures.decimate import min_max, unbroken
from firstlift.figures.svg import Circle, Line, Polygon, Polyline, Rect, Text, clean, number, render, shorten
from firstlift.figures.trace import Trace, by_panel, trace_of_si


@given(values=hnp.arrays(np.float64, st.integers(2, 3000), elements=st.floats(-1e6, 1e6)), buckets=st.integers(1, 300))
def test_thinning_keeps_peaks_ends_and_order(values, buckets):
    time_s = np.arange(values.size, dtype=float)
    seconds, kept = min_max(time_s, values, buckets)
    assert kept.max() == values.max()
    assert kept.min() == values.min()
    assert (seconds[0], seconds[-1]) == (time_s[0], time_s[-1])
    assert np.all(np.diff(seconds) > 0)
    assert np.array_equal(values[seconds.astype(int)], kept)
    assert kept.size <= 2 * buckets + 4


def test_thinning_keeps_a_lone_peak():
    values = np.zeros(100_000)
    values[54_321] = 7.0
    seconds, kept = min_max(np.arange(values.size) * 1e-3, values, 200)
    assert seconds[kept == 7.0] == pytest.approx([54.321])


def test_a_line_is_not_drawn_across_a_gap_but_over_one_missing_sample():
    time_s = np.arange(0.0, 10.0, 0.1)
    values = np.ones_like(time_s)
    values[7] = np.nan
    values[40:60] = np.nan
    runs = unbroken(time_s, values)
    assert [run[0].size for run in runs] == [39, 40]
    assert unbroken(time_s, np.full_like(time_s, np.nan)) == ()


@pytest.mark.parametrize(
    ("low", "high", "count", "labels"),
    [
        (0.0, 257.0, 5, ["0", "100", "200"]),
        (-0.04, 0.21, 5, ["0", "0.05", "0.10", "0.15", "0.20"]),
        (7.98, 8.02, 4, ["7.98", "7.99", "8.00", "8.01", "8.02"]),
        (-1.2, 1.2, 4, ["−1", "0", "1"]),
        (0.0, 3e-6, 3, ["0", "0.000001", "0.000002", "0.000003"]),
        (0.0, 4e6, 4, ["0", "1000000", "2000000", "3000000", "4000000"]),
    ],
)
def test_ticks_are_round_and_agree_in_decimals(low, high, count, labels):
    assert [label for _, label in ticks(low, high, count)] == labels


@given(st.floats(1e-9, 1e9), st.integers(1, 12))
def test_steps_are_one_two_or_five(span, count):
    step = step_for(span, count)
    leading = step / 10.0 ** np.floor(np.log10(step) + 1e-9)
    assert min(abs(leading - nice) for nice in (1.0, 2.0, 5.0)) < 1e-6
    assert span / step <= count * (1 + 1e-6)


@given(st.lists(st.floats(-1e9, 1e9), max_size=30))
def test_range_holds_every_value_and_is_never_empty(values):
    low, high = comfortable(values)
    assert low < high
    assert all(low <= value <= high for value in values)


@pytest.mark.parametrize(
    ("values", "low", "high"),
    [
        ([0.0, 0.0], -0.56, 0.6),
        ([5e-324], -0.56, 0.6),
        ([8.0, 8.0], 7.9104, 8.096),
        ([1.0, 10.0], -0.54, 10.9),
        ([100.0, 110.0], 99.4, 111.0),
        ([-10.0, -1.0], -10.54, 0.9),
    ],
)
def test_range_near_zero_and_of_a_flat_channel(values, low, high):
    assert comfortable(values) == pytest.approx((low, high))


def test_axis_holds_places_inside_the_page():
    axis = Axis(0.0, 10.0, 100.0, 200.0)
    assert [axis.at(v) for v in (-5.0, 0.0, 5.0, 99.0)] == [100.0, 100.0, 150.0, 200.0]
    assert Axis(0.0, 10.0, 200.0, 100.0).at(2.5) == 175.0
    assert axis.holds(10.0)
    assert not axis.holds(10.1)


@pytest.mark.parametrize(
    ("measures", "largest_si", "unit", "shown"),
    [
        ("pull_force", 257.0, "N", 257.0),
        ("pull_force", 19635.0, "kN", 19.635),
        ("spindle_lift", 1.2e-4, "um", 120.0),
        ("spindle_lift", 2.2e-3, "mm", 2.2),
        ("line_pressure", 8e5, "psi", 116.03019),
        ("temperature", 300.0, "degC", 26.85),
        ("acoustic", 0.08, "mV", 80.0),
        ("acoustic", 3.0, "V", 3.0),
    ],
)
def test_units_suit_the_size(measures, largest_si, unit, shown):
    trace = trace_of_si("x", measures, np.array([0.0]), np.array([largest_si]), pressure_unit="psi")
    assert trace.unit_label == unit
    assert trace.values[0] == pytest.approx(shown)
    assert trace.from_si(np.array([largest_si])) == pytest.approx([shown])


def test_a_trace_in_a_unit_of_its_own_takes_no_fitted_line():
    assert Trace("x", "acoustic", np.zeros(1), np.zeros(1), "dB").from_si(np.zeros(1)) is None


@pytest.mark.parametrize(
    ("channel", "same"),
    [("lift", True), ("spindle_lift", True), ("spindle lift", True), ("sensor 3", True), ("sound", False), ("", False)],
)
def test_a_trace_answers_to_its_names(channel, same):
    assert Trace("sensor 3", "spindle_lift", np.zeros(1), np.zeros(1), "mm").answers_to(channel) is same


def test_panels_come_in_the_order_of_the_story():
    def one(label, measures, unit):
        return Trace(label, measures, np.zeros(1), np.zeros(1), unit)

    traces = (
        one("p", "line_pressure", "bar"),
        one("b", "pull_force", "N"),
        one("s", "acoustic", "V"),
        one("a", "pull_force", "N"),
        one("k", "pull_force", "kN"),
    )
    assert [[t.label for t in group] for group in by_panel(traces)] == [["b", "a"], ["k"], ["s"], ["p"]]


def test_svg_escapes_words_and_is_well_formed():
    hostile = '</text><script>alert("x")</script>&\x00\x1b\ud800'
    shapes = (
        Text(1, 2, hostile, bold=True, italic=True),
        Line(0, 0, 1, 1, dash="1 2"),
        Rect(0, 0, 1, 1),
        Polyline(((0.0, 0.0), (1.0, 1.234))),
        Polygon(((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))),
        Circle(1, 1, 2),
    )
    svg = render(10, 10, shapes, title=hostile)
    root = ET.fromstring(svg)
    assert [child.tag.split("}")[1] for child in root] == [
        "title",
        "text",
        "line",
        "rect",
        "polyline",
        "polygon",
        "circle",
    ]
    assert root[1].text == '</text><script>alert("x")</script>&���'
    assert root[4].get("points") == "0,0 1,1.23"
    assert svg == render(10, 10, shapes, title=hostile)


def test_numbers_and_words_are_short():
    assert [number(v) for v in (1.0, -0.001, 2.345678, 100.0)] == ["1", "0", "2.35", "100"]
    assert clean("a\tb") == "a�b"
    assert shorten("abcdef", 4) == "abc…"
    assert shorten("abc", 4) == "abc"
