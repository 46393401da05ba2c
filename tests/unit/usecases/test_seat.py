"""The seat calculation from typed texts and from a table."""

import json
import math

import pytest

from firstlift.core.errors import FirstliftError, UsageError
from firstlift.usecases.seat import SeatAsked, find_seat
from firstlift.usecases.seat_answer import answer_to_json

PULLS = ("4 bar, 424 N", "6 bar; 283 N", "8 bar, 141 N")
STATED = {"u_line": "0.2 %", "u_pull": "1 N", "u_gauge": "0.25 %", "u_cell": "0.3 %"}


def code(**asked):
    with pytest.raises(FirstliftError) as caught:
        find_seat(SeatAsked(**asked))
    return caught.value.problems[0].code, caught.value.exit_code


def test_edges_mean_diameter_and_area():
    edges = find_seat(SeatAsked(inner="30 mm", outer="32 mm", u_dimension="0.1 mm"))
    assert edges.seat.area_m2 == pytest.approx(math.pi / 12 * (30**2 + 30 * 32 + 32**2) * 1e-6)
    assert edges.seat.half_width_m2 == pytest.approx(math.pi / 8 * (32**2 - 30**2) * 1e-6)
    assert edges.assumed == {}
    # a rectangle 48.7 mm2 either way rules: the factor is near 1.65, not 1.96
    assert edges.expanded_area_m2 / edges.seat.standard_uncertainty_m2 == pytest.approx(1.67, abs=0.05)
    mean = find_seat(SeatAsked(mean="30 mm", u_dimension="1 %"))
    assert mean.seat.area_m2 == pytest.approx(math.pi / 4 * 30**2 * 1e-6)
    assert mean.seat.standard_uncertainty_m2 / mean.seat.area_m2 == pytest.approx(0.02)
    assert find_seat(SeatAsked(area="700 mm2")).seat.area_m2 == pytest.approx(7e-4)


def test_what_was_assumed_is_told():
    assert find_seat(SeatAsked(mean="30 mm")).assumed == {"u_dimension": 0.003}
    assert set(find_seat(SeatAsked(pulls=PULLS)).assumed) == {"u_line", "u_pull", "u_cell", "u_gauge"}
    assert find_seat(SeatAsked(pulls=PULLS, **STATED)).assumed == {}


def test_pulls_at_several_line_pressures():
    found = find_seat(SeatAsked(pulls=PULLS, **STATED, cell="C-7", gauge="G-2"))
    assert found.seat.area_m2 == pytest.approx(7.07e-4, rel=2e-3)
    assert found.fit.set_pressure_pa == pytest.approx(10e5, rel=1e-3)
    assert {serial for tie in found.fit.ties for serial in tie.serials} == {"C-7", "G-2"}
    assert found.sensitivity[2] == (
        0.8,
        pytest.approx(0.2 * found.seat.standard_uncertainty_m2 / found.seat.area_m2),
    )


def test_an_offset_calibration_leaves_the_area_alone():
    plain = find_seat(SeatAsked(pulls=PULLS, **STATED | {"u_cell": "0 N"}))
    offset = find_seat(SeatAsked(pulls=PULLS, **STATED | {"u_cell": "5 N"}))
    assert offset.fit.u_area_m2 == pytest.approx(plain.fit.u_area_m2)
    assert offset.fit.u_set_pressure_pa > plain.fit.u_set_pressure_pa


def test_bench_pairs():
    pairs = ("7 bar, 212 N, 10,0 bar", "8 bar, 141 N, 10,0 bar")
    found = find_seat(SeatAsked(pairs=pairs, **STATED, u_bench="0.2 %", u_bench_gauge="0.1 %"))
    assert str(found.fit.source) == "bench-correlation"
    assert found.seat.area_m2 == pytest.approx(7.06e-4, rel=5e-3)


def test_a_table_is_read_with_its_own_uncertainties_and_conditions(tmp_path):
    path = tmp_path / "pulls.csv"
    head = "line_pressure [bar],pull [N],pull_uncertainty [N],temperature [degC],setting\n"
    path.write_text(head + "4,424,2,20,a\n6,283,2,20,a\n8,141,2,20,a\n", encoding="utf-8")
    found = find_seat(SeatAsked(table=path, u_line="0.2 %", u_gauge="0.2 %", u_cell="0.2 %"))
    assert found.assumed == {}
    assert "temperature-not-stated" not in [reason.code for reason in found.fit.reasons]
    path.write_text(head + "4,424,2,20,a\n8,141,2,20,b\n", encoding="utf-8")
    assert code(table=path) == ("SEA-009", 3)
    path.write_text("line_pressure,pull,bench_pressure\n7 bar,212 N,10 bar\n8 bar,141 N,\n", encoding="utf-8")
    assert code(table=path) == ("SEA-014", 3)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({}, ("SEA-015", 2)),
        ({"inner": "30 mm"}, ("SEA-015", 2)),
        ({"mean": "30 mm", "area": "700 mm2"}, ("SEA-015", 2)),
        ({"pulls": ("4 bar",)}, ("SEA-015", 2)),
        ({"pairs": ("4 bar, 420 N",)}, ("SEA-015", 2)),
        ({"mean": "30"}, ("UNI-006", 2)),
        ({"mean": "-30 mm"}, ("SEA-002", 2)),
        ({"mean": "30 mm", "u_dimension": "-0.1 mm"}, ("SEA-002", 2)),
        ({"inner": "32 mm", "outer": "30 mm"}, ("SEA-002", 2)),
        ({"pulls": ("4 bar, 420 mm", "8 bar, 141 N")}, ("UNI-002", 2)),
        ({"pulls": ("4 bar, 420 N",)}, ("SEA-005", 3)),
        ({"pulls": ("4 bar, 141 N", "8 bar, 420 N")}, ("SEA-008", 3)),
        ({"area": "1.287 in2"}, ("SEA-010", 3)),
        ({"area": "900 mm2", "reference": "API 526 K orifice"}, ("SEA-010", 3)),
    ],
)
def test_what_cannot_be_is_refused(asked, told):
    assert code(**asked) == told
    if told[1] == 2:
        with pytest.raises(UsageError):
            find_seat(SeatAsked(**asked))


@pytest.mark.parametrize("asked", [{"mean": "30 mm"}, {"pulls": PULLS}, {"pairs": ("7 bar, 212 N, 10 bar",)}])
def test_the_answer_is_plain_values(asked):
    data = json.loads(json.dumps(answer_to_json(find_seat(SeatAsked(**asked))), allow_nan=False))
    assert data["format"] == "firstlift-seat-1"
    assert data["expanded_uncertainty_m2"] > data["standard_uncertainty_m2"] > 0.0
    assert (data["fit"] is None) == ("mean" in asked)
