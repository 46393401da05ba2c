"""A test beside the earlier ones of its valve: the curves bend where each test says the valve opened."""

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from tests.web.test_adjusting import bring_as_left, plain

from firstlift.core.register.work import ValveTest
from firstlift.figures.overlay_figure import Curve, draw_overlay
from firstlift.usecases.register.overlay import comparable, loops_of


def test_each_curve_bends_at_its_own_set_pressure(ada, store, outside, tmp_path):
    assert ada.get(f"/tests/{outside.id}/compared.svg").status_code == 404
    left = bring_as_left(store, outside, tmp_path, 1.1)
    with store.read() as reader:
        assert comparable(reader, outside) == []
        tests = comparable(reader, left)
        assert [test.id for test in tests] == [outside.id, left.id]
        loops = loops_of(reader, tests)
    for loop in loops:
        pull = loop.test.result.pulls[loop.pull - 1]
        # the seat gives way at the bend: the disc has gone a tenth of its way only after it
        moved = loop.load_pa[loop.lift_m > 0.15 * loop.lift_m.max()]
        assert moved[0] == pytest.approx(pull.set_pressure_pa, rel=0.01)
        assert loop.load_pa[0] < 0.85 * pull.set_pressure_pa
        assert loop.lift_m[0] < 0.05 * loop.lift_m.max()
    page = ada.get(f"/tests/{left.id}")
    assert f"/tests/{left.id}/compared.svg" in page.text
    assert "Beside the earlier tests" in plain(page)
    picture = ET.fromstring(ada.get(f"/tests/{left.id}/compared.svg").text)
    said = " ".join(text.text or "" for text in picture.iter() if text.tag.endswith("text"))
    assert re.search(r"as found, pull 1 .*as left, pull 4", said)


def test_a_rejected_pull_or_a_corrected_test_is_not_compared(store, outside):
    pulls = tuple(replace(pull, accepted=False) for pull in outside.result.pulls)
    with store.read() as reader:
        assert comparable(reader, replace(outside, result=replace(outside.result, pulls=pulls))) == []
        others = reader.list(ValveTest, valve_id=outside.valve_id)
    assert outside.id in {test.id for test in others}


def test_curves_are_told_apart_without_colour():
    ramp = np.linspace(0.0, 1.0, 5)
    curves = [Curve(f"test {n}", ramp, ramp * n, current=n == 4) for n in (1, 2, 3, 4)]
    picture = ET.fromstring(draw_overlay(curves, title="t", x_label="mm", y_label="bar", lower=1.0, upper=2.0))
    lines = [line for line in picture.iter() if line.tag.endswith("polyline")]
    dashes = [line.get("stroke-dasharray") for line in lines]
    assert len(set(dashes)) == 4
    assert dashes[-1] is None
    assert len({line.get("stroke") for line in lines}) == 1
