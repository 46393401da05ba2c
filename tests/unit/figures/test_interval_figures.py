"""Pictures of survival and drift: what stands where."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from firstlift.figures.drift_figure import DriftShown, draw_drift
from firstlift.figures.survival_figure import Survival, draw_survival
from firstlift.figures.svg import ACCENT, Text, breadth, directed, render
from firstlift.words.paper import Speaker, languages

SVG = "{http://www.w3.org/2000/svg}"


def words_of(svg):
    return [text.text for text in ET.fromstring(svg).iter(f"{SVG}text")]


def lines(svg, **wanted):
    return [one for one in ET.fromstring(svg).iter(f"{SVG}line") if all(one.get(k) == v for k, v in wanted.items())]


def survival(**changed):
    years = np.linspace(0.0, 10.0, 11)
    given = {
        "group": "steam <1>", "lives": 40, "failed": 7, "years": years, "middle": 1.0 - 0.04 * years,
        "low": 1.0 - 0.06 * years, "high": 1.0 - 0.02 * years, "stretches": ((2.0, 4.0, 0.2), (6.0, np.inf, 0.8)),
        "must_last": 0.95, "recommended_yr": 2.0, "evidence_yr": (2.0, 3.0, 5.0),
    }  # fmt: skip
    return Survival(**(given | changed))


def test_the_recommended_interval_stands_at_its_year():
    svg = draw_survival(survival(), width=560.0)
    upright = [
        line
        for line in lines(svg, stroke=ACCENT)
        if line.get("x1") == line.get("x2") and line.get("stroke-width") == "1.3"
    ]
    # ten years on the stretch from 46 to 546
    assert [float(line.get("x1")) for line in upright] == pytest.approx([46.0 + 0.2 * 500.0])
    assert "recommended 2.0 years" in words_of(svg)
    assert "must last for the target: 95.0 %" in words_of(svg)
    assert "group 'steam <1>': 40 lives, 7 found failed to danger" in words_of(svg)


def test_the_estimate_without_a_distribution_is_level_where_it_is_told_and_dotted_where_not():
    svg = draw_survival(survival(), height=330.0)
    dotted = [line for line in lines(svg) if line.get("stroke-dasharray") == "1.2 2"]
    assert [(float(line.get("x1")), float(line.get("x2"))) for line in dotted] == [(146.0, 246.0)]
    # down by a fifth of the way from 40 % (floor of the axis: 30 %) to 100 %
    drop = float(dotted[0].get("y2")) - float(dotted[0].get("y1"))
    assert drop == pytest.approx(0.2 / 0.7 * (330.0 - 58.0 - 40.0), abs=0.02)


@pytest.mark.parametrize(
    "changed",
    [
        {"stretches": ()},
        {"recommended_yr": 40.0, "evidence_yr": (0.0, np.inf, np.inf)},
        {"recommended_yr": 0.0},
        {"low": np.zeros(11), "must_last": 0.2},
    ],
)
def test_odd_groups_are_drawn_too(changed):
    assert draw_survival(survival(**changed)).startswith("<svg")


def drift(units=3, **changed):
    years = np.linspace(0.0, 8.0, 9)
    given = {
        "group": "air", "test_years": np.arange(1.0, 2.0 * units + 1.0) % 7.0, "test_ratio": np.full(2 * units, 1.01),
        "unit": np.repeat(np.arange(units), 2), "valve_of_unit": tuple(f"PSV-{index}" for index in range(units)),
        "danger_ratio": 1.1, "years": years, "line": (1.0 + 0.004 * years, 1.0 + 0.003 * years, 1.0 + 0.005 * years),
        "spread": np.full(9, 0.01),
    }  # fmt: skip
    return DriftShown(**(given | changed))


def test_valves_are_named_and_the_line_is_drawn_with_its_band():
    svg = draw_drift(drift())
    assert {"PSV-0", "PSV-1", "PSV-2", "group 'air': 6 openings of 3 valves"} <= set(words_of(svg))
    assert len(list(ET.fromstring(svg).iter(f"{SVG}circle"))) == 6
    assert len(list(ET.fromstring(svg).iter(f"{SVG}polygon"))) == 1


def test_danger_far_off_is_said_and_near_is_drawn():
    assert any("off the picture" in word for word in words_of(draw_drift(drift(danger_ratio=1.5))))
    svg = draw_drift(drift(test_ratio=np.full(6, 1.08)))
    assert "failed to danger from 1.1 on" in words_of(svg)
    assert [line for line in lines(svg, stroke=ACCENT) if line.get("stroke-dasharray")]


def test_a_group_without_a_line_says_so_and_a_large_one_is_thinned():
    assert "too few openings to tell a drift" in words_of(draw_drift(drift(line=None, spread=None)))
    svg = draw_drift(drift(units=1000))
    assert len(list(ET.fromstring(svg).iter(f"{SVG}circle"))) == 400


@pytest.mark.parametrize("language", languages())
def test_the_words_below_the_curve_do_not_run_into_one_another(language):
    drawn = draw_survival(survival(), say=Speaker(language))
    below = [(float(x), words) for x, y, words in re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>([^<]+)<', drawn)
             if float(y) == 316.0]  # fmt: skip
    assert len(below) == 3
    ends = [x + breadth(words, 7.5) for x, words in below]
    assert all(end < start - 20.0 for end, (start, _) in zip(ends, below[1:], strict=False))
    assert ends[-1] < 560.0


def test_chinese_is_drawn_in_the_weight_of_the_words_around_it():
    svg = render(100.0, 50.0, [Text(0.0, 20.0, "整定压力"), Text(0.0, 40.0, "开启", bold=True)], title="x")
    assert re.findall(r"'wght' (\d+)", svg) == ["400", "700"]
    assert "wght" not in render(100.0, 50.0, [Text(0.0, 20.0, "Set pressure")], title="x")


def test_arabic_runs_to_the_left_and_what_is_in_it_to_the_right():
    assert directed("10.02 ± 0.06 bar") == "10.02 ± 0.06 bar"
    assert directed("يدوم: 96.5 %") == "\u2067يدوم: \u206696.5 %\u2069\u2069"
    # a mark for a direction is put in here alone: in a name that comes from outside it is refused before
    assert directed("PSV-1") == "PSV-1"
