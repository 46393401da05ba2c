"""Values shown in the units of whoever looks, and what is typed in another unit converted and shown."""

import re

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.units import Kind
from firstlift.web.units import LIKED, OFFERED, Units, check_unit, converted


def plain(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_a_bar_field_takes_psi_and_shows_what_it_comes_to(ada):
    page = plain(ada.get("/pocket?line=116+psi&pull=31.7+lbf&seat=1.181+in&set=174+psi"))
    assert "= 12.00 bar" in page
    assert "= 7.998 bar" in page
    assert "= 141.0 N" in page
    assert "= 30.00 mm" in page
    # a bare number is taken in the usual unit, and nothing is said of it
    assert "= 8" not in plain(ada.get("/pocket?line=8&pull=141&seat=30&set=10"))


def test_forces_and_lengths_are_shown_as_a_person_chose(ada, outside):
    force = outside.result.pulls[0].pull_force_n
    assert f"{force:.0f} N" in plain(ada.get(f"/tests/{outside.id}"))
    chosen = {"look": "", "unit": "psi", "force": "lbf", "length": "in"}
    page = ada.post("/settings/look", chosen, page="/settings")
    assert all(f'<option value="{unit}" selected>' in page.text for unit in ("psi", "lbf", "in"))
    shown = plain(ada.get(f"/tests/{outside.id}"))
    assert f"{force / 4.4482216:.1f} lbf" in shown
    assert f"{force:.0f} N" not in shown
    plan = plain(ada.get(f"/valves/{outside.valve_id}/plan"))
    assert "pull, lbf" in plan
    assert re.search(r"lies above: \d+ lbf", plan)
    assert "= 8.000 in" in plain(ada.get("/pocket?line=8+bar&pull=141&seat=203.2+mm&set=10+bar"))


def test_a_unit_of_another_kind_is_not_kept(ada):
    wrong = ada.post("/settings/look", {"look": "", "force": "mm"}, page="/settings")
    assert (wrong.status_code, "UNI-002" in wrong.text) == (422, True)


def test_every_unit_offered_is_one_that_is_known():
    for kind, units in OFFERED.items():
        assert [check_unit(unit, kind) for unit in units] == list(units)
        liked = Units.of({LIKED[kind]: units[1]})
        assert (liked.chosen(kind), liked.meant(kind)) == (units[1], units[1])
        assert Units().meant(kind)
    with pytest.raises(FirstliftError):
        check_unit("furlong", Kind.LENGTH)
    assert converted("12,5 bar", "pressure", "bar") == ""
    assert converted("high", "pressure", "bar") == ""
    assert Units().show_force(31.0) == "31 N"
    assert Units(force="lbf").show_force(None) == "–"
    assert Units(length="mil").show_length(25.4e-6) == "1 mil"
