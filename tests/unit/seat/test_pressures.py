"""An area from pulls at several line pressures: against a second library, and what makes it refuse."""

from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.fit import Role
from firstlift.core.seat.pressures import fit_pressures

OFF = [0.8, -1.1, 0.6, 0.3]
LEVELS = (4e5, 5.5e5, 7e5, 8e5)


def instruments(known):
    return (*known.cells, known.gauge)


def refusal(*arguments, **named):
    with pytest.raises(FirstliftError) as caught:
        fit_pressures(*arguments, **named)
    return caught.value.problems


def in_gtc(pulls, cells, gauge):
    """The same fit in a second library, each instrument's errors one unknown each."""
    gtc = pytest.importorskip("GTC")
    errors = {item.tag: (gtc.ureal(0.0, 1.0), gtc.ureal(0.0, 1.0)) for item in (*cells, gauge)}
    x, y = [], []
    for pull in pulls:
        scale, offset = errors[gauge.tag]
        line = gtc.ureal(pull.line_pressure_pa, pull.u_line_pa)
        line += pull.line_pressure_pa * gauge.relative_standard_uncertainty * scale
        x.append(line + gauge.standard_uncertainty * offset)
        force = gtc.ureal(pull.pull_n, pull.u_pull_n)
        for cell in cells:
            scale, offset = errors[cell.tag]
            force += cell.load_share * pull.pull_n * cell.relative_standard_uncertainty * scale
            force += cell.standard_uncertainty * offset
        y.append(force)
    found = gtc.type_b.line_fit_wtls(x, y, [p.u_line_pa for p in pulls], [p.u_pull_n for p in pulls])
    intercept, slope = found.a_b
    area, opening = -slope, -intercept / slope
    return area, opening, gtc.get_covariance(area, opening)


def test_area_set_pressure_and_covariance_are_those_of_a_second_library(known):
    pulls = known.pulls(LEVELS, off=OFF)
    fit = fit_pressures(pulls, instruments(known))
    area, opening, covariance = in_gtc(pulls, known.cells, known.gauge)
    # the second library stops its search for the slope some 1e-7 early
    assert fit.area_m2 == pytest.approx(area.x, rel=1e-6)
    assert fit.set_pressure_pa == pytest.approx(opening.x, rel=1e-6)
    # the second library follows the weights' change with the slope too: of second order in the residuals
    assert fit.u_area_m2 == pytest.approx(area.u, rel=5e-3)
    assert fit.u_set_pressure_pa == pytest.approx(opening.u, rel=5e-3)
    assert fit.covariance_m2_pa == pytest.approx(covariance, rel=5e-3)


def test_pulls_without_error_give_the_valve_back(known):
    fit = fit_pressures(known.pulls(), instruments(known))
    assert (fit.area_m2, fit.set_pressure_pa) == (pytest.approx(known.area), pytest.approx(known.set))
    assert fit.chi_square == pytest.approx(0.0, abs=1e-12)


def test_scale_errors_go_into_the_area_whole_and_offsets_not_at_all(known):
    fit = fit_pressures(known.pulls(), instruments(known))
    moved = {(part.source, part.part): (part.area_m2, part.set_pressure_pa) for part in fit.contributions}
    assert moved["cell:C1", "scale"] == (pytest.approx(0.6 * 0.003 * known.area), pytest.approx(0.0, abs=1e-6))
    assert moved["gauge:G1", "scale"] == (pytest.approx(-0.002 * known.area), pytest.approx(0.002 * known.set))
    assert moved["gauge:G1", "offset"] == (pytest.approx(0.0, abs=1e-15), pytest.approx(500.0))
    assert moved["cell:C2", "offset"] == (pytest.approx(0.0, abs=1e-15), pytest.approx(0.3 / known.area))
    assert [(tie.serials, tie.part, tie.calibration) for tie in fit.ties] == [
        (("C1",), "scale", "K-1"), (("C2",), "scale", "K-2"), (("G1",), "scale", "K-3"),
    ]  # fmt: skip


def test_cells_of_one_calibration_are_one_error(known):
    pair = tuple(replace(cell, tag="cell:PAIR", relative_standard_uncertainty=0.003) for cell in known.cells)
    fit = fit_pressures(known.pulls(), (*pair, known.gauge))
    (scale,) = [part.area_m2 for part in fit.contributions if (part.source, part.part) == ("cell:PAIR", "scale")]
    assert scale == pytest.approx(0.003 * known.area)
    assert [tie.serials for tie in fit.ties] == [("C1", "C2"), ("G1",)]


def test_friction_leaves_the_area_alone_and_stays_in_the_set_pressure(known):
    plain = fit_pressures(known.pulls(), instruments(known))
    stuck = fit_pressures(known.pulls(off=[14.0] * 3), instruments(known), friction_n=14.0)
    assert stuck.area_m2 == pytest.approx(plain.area_m2)
    assert stuck.set_pressure_pa == pytest.approx(known.set + 14.0 / known.area)
    (reason,) = [reason for reason in stuck.reasons if reason.code == "friction-stays-in-set-pressure"]
    assert reason.parameters["set_pressure_raised_by_pa"] == pytest.approx(14.0 / known.area)


def test_scatter_beyond_what_was_stated_is_not_believed(known):
    off = [4.0, -5.0, 4.5, -3.5]
    fit = fit_pressures(known.pulls(LEVELS, off=off), instruments(known))
    (reason,) = [reason for reason in fit.reasons if reason.code == "scatter-exceeds-statement"]
    wider = reason.parameters["birge_ratio"]
    honest = fit_pressures(known.pulls(LEVELS, off=off, u_pull=wider, u_line=300.0 * wider), instruments(known))
    assert fit.u_area_m2 == pytest.approx(honest.u_area_m2, rel=1e-9)
    assert not [reason for reason in honest.reasons if reason.code == "scatter-exceeds-statement"]
    assert fit.degrees_of_freedom < 4.0
    assert fit.expanded_area_m2() > 2.5 * fit.u_area_m2


def test_line_pressures_too_close_together_are_refused_with_the_spread_that_would_do(known):
    (problem,) = refusal(known.pulls((7.8e5, 8e5)), instruments(known))
    assert problem.code == "SEA-007"
    wide = float(problem.needed.split("some ")[1].split(" bar")[0])
    fit = fit_pressures(known.pulls((8e5 - 1.1 * wide * 1e5, 8e5)), instruments(known))
    assert 0.03 < fit.u_area_m2 / fit.area_m2 < 0.05


def test_a_pull_that_rises_with_line_pressure_is_refused(known):
    low, high = known.pulls((4e5, 8e5))
    swapped = [replace(low, pull_n=high.pull_n), replace(high, pull_n=low.pull_n)]
    assert [problem.code for problem in refusal(swapped, instruments(known))] == ["SEA-008"]


def test_one_setting_for_all(known):
    first, *rest = known.pulls(setting="as found")
    (problem,) = refusal([replace(first, setting="as left"), *rest], instruments(known))
    assert problem.code == "SEA-009"
    assert "'as left'" in problem.what


@pytest.mark.parametrize(
    ("condition", "step", "too_far"), [("temperature_k", 4.0, 60.0), ("back_pressure_pa", 2e3, 4e4)]
)
def test_unlike_conditions_widen_the_area_and_far_ones_refuse_it(known, condition, step, too_far):
    def with_condition(by):
        pulls = known.pulls(temperature_k=300.0)
        return [replace(p, **{condition: getattr(p, condition) + by * i}) for i, p in enumerate(pulls)]

    plain = fit_pressures(with_condition(0.0), instruments(known))
    some = fit_pressures(with_condition(step), instruments(known))
    assert some.area_m2 == pytest.approx(plain.area_m2)
    assert some.u_area_m2 > plain.u_area_m2
    (problem,) = refusal(with_condition(too_far), instruments(known))
    assert problem.code == "SEA-009"


def test_a_spring_that_warms_between_the_pulls_is_covered(known):
    # the full 3 % per 100 K over 12 K, which went with the line pressure: the area errs by less than three times u
    warm = (300.0, 306.0, 312.0)
    pulls = [
        replace(p, temperature_k=t, pull_n=p.pull_n - known.area * known.set * 3e-4 * (t - 306.0))
        for p, t in zip(known.pulls(), warm, strict=True)
    ]
    fit = fit_pressures(pulls, instruments(known))
    (drift,) = [part for part in fit.contributions if part.source == "temperature"]
    assert abs(fit.area_m2 - known.area) == pytest.approx(np.sqrt(3.0) * abs(drift.area_m2), rel=0.01)


def test_temperature_that_nobody_noted_is_said(known):
    codes = [reason.code for reason in fit_pressures(known.pulls(), instruments(known)).reasons]
    assert "temperature-not-stated" in codes
    codes = [r.code for r in fit_pressures(known.pulls(temperature_k=300.0), instruments(known)).reasons]
    assert "temperature-not-stated" not in codes


def test_readings_and_instruments_that_cannot_be(known):
    low, high = known.pulls((4e5, 8e5))
    assert [p.code for p in refusal([replace(low, pull_n=0.0), high], instruments(known))] == ["SEA-002"]
    assert [p.code for p in refusal([low, replace(high, line_pressure_pa=np.nan)], instruments(known))] == ["SEA-002"]
    for condition in ("temperature_k", "back_pressure_pa"):
        assert [p.code for p in refusal([low, replace(high, **{condition: np.nan})], instruments(known))] == ["SEA-002"]
    assert [p.code for p in refusal([low, high], instruments(known), friction_n=-1.0)] == ["SEA-002"]
    assert [p.code for p in refusal([low, high], (known.gauge,))] == ["SEA-003"]
    assert [p.code for p in refusal([low, high], known.cells)] == ["SEA-003"]
    unfair = (replace(known.cells[0], load_share=1.0), known.cells[1], known.gauge)
    assert [p.code for p in refusal([low, high], unfair)] == ["SEA-002"]
    vague = (*known.cells, replace(known.gauge, standard_uncertainty=np.inf))
    assert [p.code for p in refusal([low, high], vague)] == ["SEA-002"]
    assert [p.code for p in refusal([low], instruments(known))] == ["SEA-005"]
    assert known.gauge.role is Role.GAUGE
