"""What the figures say."""

import dataclasses
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from firstlift.core.result import BudgetLine, PullOutcome
from firstlift.figures import Reading, Trace, draw_budget, draw_limits, draw_pull, draw_test, plot_pull
from firstlift.figures.panels import lay_out
from firstlift.figures.svg import ACCENT
from firstlift.figures.trace import by_panel

SVG = "{http://www.w3.org/2000/svg}"


def words_of(svg):
    return [text.text for text in ET.fromstring(svg).iter(f"{SVG}text")]


def of_kind(svg, kind, **wanted):
    found = ET.fromstring(svg).iter(f"{SVG}{kind}")
    return [one for one in found if all(one.get(key.replace("_", "-")) == value for key, value in wanted.items())]


def test_pull_names_every_panel_with_its_unit(made):
    svg = draw_pull(made.traces(), made.pull())
    assert [w for w in words_of(svg) if w in ("pull force, N", "spindle lift, mm", "line pressure, bar")] == [
        "pull force, N",
        "spindle lift, mm",
        "line pressure, bar",
    ]
    assert "first lift 10.000 ± 0.050 s" in words_of(svg)
    assert "closure 15.200 s" in words_of(svg)


def test_first_lift_stands_at_its_time(made):
    pull = made.pull()
    svg = draw_pull(made.traces(), pull, width=480.0)
    line = of_kind(svg, "line", stroke=ACCENT)[0]
    # the axis runs from 46 to 472 over the pull and 6 % of it to each side, closure included
    low, high = 5.0 - 0.06 * 10.2, 15.2 + 0.06 * 10.2
    assert float(line.get("x1")) == pytest.approx(46.0 + (10.0 - low) / (high - low) * 426.0, abs=0.01)
    assert line.get("x1") == line.get("x2")
    assert line.get("stroke-dasharray") is None


def test_band_is_two_uncertainties_to_each_side(made):
    widths = [
        float(
            of_kind(draw_pull(made.traces(), made.pull(first_lift_standard_uncertainty_s=u)), "rect", fill="#f3d9c9")[
                0
            ].get("width")
        )
        for u in (0.1, 0.2)
    ]
    assert widths[1] == pytest.approx(2 * widths[0], abs=0.02)
    assert widths[0] == pytest.approx(0.4 / (10.2 * 1.12) * 426.0, abs=0.02)
    assert (
        of_kind(draw_pull(made.traces(), made.pull(first_lift_standard_uncertainty_s=None)), "rect", fill="#f3d9c9")
        == []
    )


def test_fitted_lines_and_closure_can_be_told_apart_without_colour(made):
    svg = draw_pull(made.traces(), made.pull())
    dashes = [one.get("stroke-dasharray") for one in of_kind(svg, "polyline", stroke=ACCENT)]
    closure = of_kind(svg, "line", stroke_dasharray="0.9 2.6")
    assert len(set(dashes)) == len(dashes) == 2
    assert len(closure) == 1


def test_a_pull_without_lift_has_no_marks(made):
    pull = made.pull(
        outcome=PullOutcome.NOT_LIFTED,
        first_lift_s=None,
        first_lift_standard_uncertainty_s=None,
        closure_s=None,
        fit=(),
    )
    svg = draw_pull(made.traces(), pull)
    assert of_kind(svg, "line", stroke=ACCENT) == []
    assert not any("first lift" in words for words in words_of(svg))


def test_no_trace_says_so(made):
    assert words_of(draw_pull((), made.pull())) == ["Pull 1: no signal to draw"]
    assert words_of(draw_test((), (made.pull(),))) == ["Whole test: no signal to draw"]


def test_a_pull_entered_by_hand_has_nothing_to_draw(made):
    pull = made.pull(start_s=None, end_s=None, first_lift_s=None, closure_s=None, fit=())
    assert words_of(draw_pull(made.traces(), pull)) == ["Pull 1: no signal to draw"]
    assert "Whole test" in words_of(draw_test(made.traces(), [pull]))
    assert plot_pull(made.traces(), pull) == "pull 1: entered by hand, nothing to plot"


def test_a_trace_without_one_finite_sample_is_an_empty_panel(made):
    time_s = np.arange(0.0, 20.0, 0.1)
    svg = draw_pull((Trace("x", "acoustic", time_s, np.full_like(time_s, np.nan), "V"),), made.pull(fit=()))
    assert "sound, V" in words_of(svg)
    assert of_kind(svg, "polyline") == []


def test_a_peak_of_one_sample_is_drawn(made):
    traces = made.traces(step_s=0.0005)
    values = np.array(traces[1].values)
    values[traces[1].time_s.searchsorted(9.0)] = 5000.0
    spiked = dataclasses.replace(traces[1], values=values)
    svg = draw_pull((spiked,), made.pull(fit=()))
    panel = lay_out(by_panel((spiked,)), low_s=4.0, high_s=16.0, left=46, right=472, top=26, bottom=376).panels[0]
    tops = [min(float(p.split(",")[1]) for p in one.get("points").split()) for one in of_kind(svg, "polyline")]
    assert min(tops) == pytest.approx(panel.axis.at(5000.0), abs=0.02)


def test_several_cells_share_a_panel_with_a_key(made):
    first = made.traces()[1]
    second = dataclasses.replace(first, label="cell <2>", values=first.values * 0.5)
    svg = draw_pull((first, second), made.pull(fit=()))
    assert words_of(svg).count("pull force, N") == 1
    assert {"cell", "cell <2>"} <= set(words_of(svg))
    assert {one.get("stroke-dasharray") for one in of_kind(svg, "polyline")} == {None, "5 1.6"}


def test_whole_test_numbers_its_pulls(made):
    pulls = [made.pull(number=n, start_s=5.0 * n, end_s=5.0 * n + 3.0, first_lift_s=5.0 * n + 1.0) for n in (1, 2, 3)]
    svg = draw_test(made.traces(), pulls)
    assert [w for w in words_of(svg) if w in ("1", "2", "3")] == ["1", "2", "3"]
    assert len(of_kind(svg, "line", stroke=ACCENT)) == 3


def test_many_pulls_do_not_print_numbers_over_each_other(made):
    pulls = [made.pull(number=n, start_s=0.02 * n, end_s=0.02 * n + 0.01) for n in range(1, 400)]
    numbers = [t for t in of_kind(draw_test(made.traces(), pulls), "text", font_weight="bold") if t.text.isdigit()]
    places = [float(t.get("x")) for t in numbers]
    assert 3 < len(numbers) < 60
    assert min(np.diff(places)) > 8.9


def test_figures_are_the_same_each_time(made):
    assert draw_pull(made.traces(), made.pull()) == draw_pull(made.traces(), made.pull())
    assert draw_test(made.traces(), [made.pull()]) == draw_test(made.traces(), [made.pull()])


def test_limits_show_values_bounds_and_judged_ones():
    readings = (
        Reading("pull 1", 10.02, 0.056, judged=True),
        Reading("pull 2", None, lower_bound=11.0),
        Reading("pull 3", None),
        Reading("pull 4", 9.9),
    )
    svg = draw_limits(readings, lower=9.7, upper=10.3, stamped=10.0, unit="bar")
    dots = of_kind(svg, "circle")
    assert [dot.get("fill") for dot in dots] == ["#16202a", "#ffffff"]
    assert {"lower limit", "upper limit", "stamped", "no value", "bar"} <= set(words_of(svg))
    assert len(of_kind(svg, "polygon")) == 1
    left, right = (float(t.get("x")) for t in of_kind(svg, "text") if t.text in ("lower limit", "upper limit"))
    # the value lies on the same scale as its limits
    share = (float(dots[0].get("cx")) - (left - 4)) / ((right + 4) - (left - 4))
    assert share == pytest.approx((10.02 - 9.7) / 0.6, abs=0.002)


def test_limits_close_together_drop_a_label_instead_of_printing_over_it():
    svg = draw_limits((Reading("pull 1", None, lower_bound=60.0),), lower=9.7, upper=10.3, stamped=10.0, unit="bar")
    assert "stamped" not in words_of(svg)
    assert draw_limits((), lower=None, upper=None, stamped=None, unit="bar").startswith("<svg")


def line(name, share):
    return BudgetLine(name, 1.0, "Pa", 1.0, "normal", None, 1.0, 1.0, share, "pull")


def test_budget_bars_are_in_proportion_and_largest_first():
    svg = draw_budget([line("small", 0.2), line("large", 0.8)])
    assert words_of(svg) == ["large", "80.0 %", "small", "20.0 %"]
    widths = [float(bar.get("width")) for bar in of_kind(svg, "rect")]
    assert widths[0] == pytest.approx(4 * widths[1], abs=0.05)


def test_budget_draws_a_negative_share_to_the_left_and_sums_the_small_ones():
    svg = draw_budget([line("a", 1.3), line("b", -0.3)])
    zero = float(of_kind(svg, "line")[0].get("x1"))
    assert float(of_kind(svg, "rect", fill="#ffffff")[0].get("x")) < zero
    assert "-30.0 %" in words_of(svg)
    many = draw_budget([line(f"n{k}", 1 / 14) for k in range(14)])
    assert "4 smaller ones" in words_of(many)
    assert words_of(draw_budget([])) == ["no budget"]


def test_text_plot_marks_first_lift_and_keeps_to_its_width(made):
    text = plot_pull(made.traces(), made.pull())
    lines = text.split("\n")
    assert max(map(len, lines)) <= 60
    assert len(lines) <= 14
    assert "pull force, 0 to 257 N" in text
    assert lines[-1].index("↑") == 30  # half-way through the pull
    assert any(row[30] == "│" for row in lines if len(row) > 30)
    rows = lines[lines.index("pull force, 0 to 257 N") + 1 :][:5]
    assert rows[0].rstrip()[-1] in "▇█"
    assert rows[0].strip()[0] != rows[-1].strip()[0]


def test_text_plot_in_plain_characters(made):
    text = plot_pull(made.traces(), made.pull(), ascii_only=True)
    assert text.isascii()
    assert "#" in text
    assert "^ first lift 10.000 +- 0.050 s" in text


def test_text_plot_without_lift_or_signal(made):
    pull = made.pull(first_lift_s=None, first_lift_standard_uncertainty_s=None)
    assert plot_pull(made.traces(), pull).endswith("no first lift")
    time_s = np.arange(0.0, 20.0, 0.1)
    empty = Trace("x", "pull_force", time_s, np.full_like(time_s, np.nan), "N")
    assert "pull force: no signal" in plot_pull((empty,), pull)
    flat = Trace("x", "pull_force", time_s, np.zeros_like(time_s), "N")
    assert "0 to 0 N" in plot_pull((flat,), pull)
