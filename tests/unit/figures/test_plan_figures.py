"""The force envelope and the decision map say what the plan says."""

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from firstlift.figures.envelope_figure import EnvelopePoint, draw_envelope
from firstlift.figures.map_figure import MapRow, draw_map
from firstlift.figures.svg import ACCENT

SVG = "{http://www.w3.org/2000/svg}"
POINTS = tuple(
    EnvelopePoint(line, 97 - 10 * line, 100 - 10 * line, 103 - 10 * line, 110 - 10 * line) for line in range(10)
)
ROWS = (
    MapRow(0.0, None, None, 9.0, 11.0),
    MapRow(4.0, None, None, 9.3, 10.7),
    MapRow(8.0, 9.9, 10.1, 9.6, 10.4),
    MapRow(9.0, 9.8, 10.2, 9.65, 10.35),
)


def words_of(svg):
    return [text.text for text in ET.fromstring(svg).iter(f"{SVG}text")]


def of_kind(svg, kind, **wanted):
    found = ET.fromstring(svg).iter(f"{SVG}{kind}")
    return [one for one in found if all(one.get(key.replace("_", "-")) == value for key, value in wanted.items())]


def envelope(**changes):
    given = {"line": 6.0, "expected": 40.0, "rig_limit": 120.0, "rig_part": "frame", "force_unit": "N"}
    return draw_envelope(POINTS, **{**given, "pressure_unit": "bar", **changes})


def decisions(**changes):
    given = {"lower": 9.7, "upper": 10.3, "middle": 10.0, "lowest_line": 6.0, "line": 8.5, "pressure_unit": "bar"}
    return draw_map(ROWS, **{**given, **changes})


def points_of(shape):
    return [tuple(map(float, pair.split(","))) for pair in shape.get("points").split()]


def test_the_envelope_names_its_axes_and_the_rigs_limit():
    words = words_of(envelope())
    assert {"pull, N", "line pressure, bar", "limit of the frame", "planned", "stop"} <= set(words)


def test_the_limit_stands_at_its_force():
    (high,) = of_kind(envelope(rig_limit=120.0), "line", stroke=ACCENT)
    (low,) = of_kind(envelope(rig_limit=60.0), "line", stroke=ACCENT)
    (stop, expected) = (shape for shape in ET.fromstring(envelope()).iter(f"{SVG}polyline"))
    # 120 N lies above the stop without line (110 N), 60 N below it
    assert float(high.get("y1")) < points_of(stop)[0][1] < float(low.get("y1"))
    assert points_of(stop)[0][1] < points_of(expected)[0][1]


def test_the_name_of_a_low_limit_stands_where_no_line_runs():
    def name(svg):
        return next(t for t in ET.fromstring(svg).iter(f"{SVG}text") if t.text == "limit of the frame")

    assert name(envelope(rig_limit=30.0)).get("text-anchor") == "start"
    assert name(envelope(rig_limit=120.0)).get("text-anchor") == "end"


def test_a_limit_far_above_or_unknown_is_said_in_words():
    assert "limit of the frame lies above: 5000 N" in words_of(envelope(rig_limit=5000.0))
    assert "limit of the frame lies above: 600 lbf" in words_of(envelope(rig_limit=600.0, force_unit="lbf"))
    assert "no limit of the rig is known" in words_of(envelope(rig_limit=None))


def test_the_planned_pull_stands_on_the_expected_line():
    svg = envelope()
    (dot,) = of_kind(svg, "circle")
    expected = points_of(list(ET.fromstring(svg).iter(f"{SVG}polyline"))[1])
    assert (float(dot.get("cx")), float(dot.get("cy"))) == pytest.approx(expected[6], abs=0.02)


def test_the_map_names_its_areas_and_limits():
    words = words_of(decisions())
    assert {"within", "undecided", "outside", "upper limit", "lower limit", "set pressure as read, bar"} <= set(words)


def test_the_wedge_of_what_is_within_begins_at_the_lowest_line():
    svg = decisions()
    (wedge,) = of_kind(svg, "polygon", fill="#cfe0d6")
    tip, *rest = points_of(wedge)
    assert len(rest) == 4
    # the axis runs from 54 to 466 over 9 bar
    assert tip[0] == pytest.approx(54.0 + 6.0 / 9.0 * 412.0, abs=0.02)
    assert min(x for x, _ in rest) > tip[0]


def test_where_nothing_can_be_within_there_is_no_wedge():
    svg = draw_map(
        ROWS[:2], lower=9.7, upper=10.3, middle=10.0, lowest_line=None, line=2.0, pressure_unit="bar", reading=10.2
    )
    assert of_kind(svg, "polygon", fill="#cfe0d6") == []
    assert "within" not in words_of(svg)
    assert len(of_kind(svg, "circle")) == 1


@pytest.mark.parametrize("draw", [envelope, decisions])
def test_the_same_plan_gives_the_same_bytes_on_one_page(draw, tmp_path):
    first, second = draw(), draw()
    assert first == second
    root = ET.fromstring(first)
    width, height = float(root.get("width")), float(root.get("height"))
    for shape in root.iter():
        for name, most in (("x", width), ("x1", width), ("x2", width), ("y", height), ("y1", height), ("y2", height)):
            if shape.get(name) is not None:
                assert 0.0 <= float(shape.get(name)) <= most
    assert not list(Path(tmp_path).iterdir())
