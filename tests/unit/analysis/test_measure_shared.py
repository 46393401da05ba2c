"""A seat found with the test's own instruments: the budget of a pull counts their errors once."""

import math
from dataclasses import replace

import pytest

from firstlift.core.job import ChannelSpec, Measures
from firstlift.core.measure import measure_pull, shared_spread
from firstlift.core.valve import Seat, SeatShare

LOADS = (120.0, 80.0)
U_CELL, U_GAUGE = 0.004, 0.003
GAUGE = ChannelSpec("line", Measures.LINE_PRESSURE, "Pa", relative_standard_uncertainty=U_GAUGE, serial="G1")


def budget(by_hand, seat):
    specs = tuple(
        by_hand.cell(f"cell {i}", relative_standard_uncertainty=U_CELL, calibrated_with="PAIR") for i in (1, 2)
    )
    pull = by_hand.pull(LOADS, specs=specs, u_force_n=0.0, u_tare_n=0.0)
    return measure_pull(pull.signals, by_hand.job(specs, gauge=GAUGE, seat=seat), pull.find).budget


def test_an_area_of_the_same_instruments_leaves_only_the_gauges_scale(by_hand):
    """The area errs as cells over gauge: p + F/A then errs by the gauge's scale, whatever the cells do."""
    area = by_hand.area
    shares = (SeatShare("cell:PAIR", "scale", U_CELL * area), SeatShare("gauge:G1", "scale", -U_GAUGE * area))
    found = budget(by_hand, Seat(area, 0.0, 0.0, "fit", "fit", shares))
    set_pa = 8e5 + sum(LOADS) / area
    assert found.standard_uncertainty_pa == pytest.approx(U_GAUGE * set_pa, rel=1e-9)
    assert shared_spread(found).standard_uncertainty == pytest.approx(found.standard_uncertainty_pa, rel=1e-9)
    assert sum(line.share for line in found.lines) == pytest.approx(1.0)


def test_other_instruments_do_not_cancel(by_hand):
    area, pull_pa = by_hand.area, sum(LOADS) / by_hand.area
    u_area = math.hypot(U_CELL, U_GAUGE) * area
    found = budget(by_hand, Seat(area, u_area, 0.0, "fit", "fit"))
    parts = (U_GAUGE * 8e5, U_CELL * pull_pa, math.hypot(U_CELL, U_GAUGE) * pull_pa)
    assert found.standard_uncertainty_pa == pytest.approx(math.hypot(*parts), rel=1e-9)


def test_degrees_of_freedom_of_the_area_limit_the_budget(by_hand):
    area = by_hand.area
    seat = Seat(area, 0.02 * area, 0.0, "fit", "fit", degrees_of_freedom=2.0)
    few, many = budget(by_hand, seat), budget(by_hand, replace(seat, degrees_of_freedom=math.inf))
    assert few.standard_uncertainty_pa == pytest.approx(many.standard_uncertainty_pa)
    assert few.expanded_uncertainty_pa > 1.2 * many.expanded_uncertainty_pa
