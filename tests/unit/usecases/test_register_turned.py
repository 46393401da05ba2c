"""Earlier adjustments of a valve, found in a register with the tests around them."""

import datetime as dt
import uuid
from contextlib import closing

import pytest
from tests.made_plans import MEAN, SHEET

from firstlift.cli.main import main
from firstlift.core.adjust.screw import learn_effect
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import AdjustmentMade, HowTested, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.store.open import create_store
from firstlift.usecases.register.turned import turned_before

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)


def ident(number):
    return uuid.UUID(int=number)


def pull(number, day, pressure, **more):
    at = AT + dt.timedelta(days=day)
    more = {"set_pressure_pa": pressure, "expanded_uncertainty_pa": 0.0329e5} | more
    return ValveTest(ident(number), ident(2), HowTested.PULL, Purpose.AS_FOUND, at, "UTC", at.date(), **more)


def turn(number, day, turns):
    return AdjustmentMade(ident(number), ident(2), AT + dt.timedelta(days=day), "UTC", turns=turns)


@pytest.fixture
def learned(tmp_path):
    def of(*entries, on=dt.date(2026, 12, 1)):
        with closing(create_store(tmp_path / "register", store_id=ident(7), at=AT, folder=None)) as store:
            with store.work(at=AT, who="program:test") as work:
                work.add_all([
                    Owner(ident(1), "Marrow Bay Energy", "invented"),
                    Site(ident(4), ident(1), "Tern Street works", zone="UTC"),
                    Position(ident(5), ident(4), "PSV-1", Medium.GAS),
                    RegisteredValve(ident(2), ident(1), "S-9", parse_quantity("10 bar", Kind.PRESSURE)),
                    Installation(ident(6), ident(2), ident(5), dt.date(2024, 1, 1)),
                    *entries,
                ])  # fmt: skip
            return turned_before(store, "PSV-1", on)

    return of


def test_two_adjustments_teach_the_effect_of_a_turn(learned):
    turned = learned(
        pull(10, 0, 10.4e5), turn(11, 1, -0.5), pull(12, 2, 10.0e5),
        pull(20, 100, 9.8e5), turn(21, 101, 0.25), pull(22, 102, 10.0e5),
    )  # fmt: skip
    assert [one.turns for one in turned] == [-0.5, 0.25]
    assert [one.u_before_pa for one in turned] == pytest.approx([0.02e5, 0.02e5])
    effect = learn_effect(turned)
    assert effect is not None
    assert effect.pa_per_turn == pytest.approx(0.8e5)


@pytest.mark.parametrize(
    "entries",
    [
        (turn(11, 1, -0.5), pull(12, 2, 10.0e5)),
        (pull(10, 0, 10.4e5), turn(11, 1, -0.5)),
        (pull(10, 0, 10.4e5), turn(11, 61, -0.5), pull(12, 62, 10.0e5)),
        (pull(10, 0, 10.4e5), turn(11, 1, -0.5), turn(13, 1.5, 0.1), pull(12, 2, 10.0e5)),
        (pull(10, 0, 10.4e5), turn(11, 1, None), pull(12, 2, 10.0e5)),
        (pull(10, 0, 10.4e5, expanded_uncertainty_pa=None), turn(11, 1, -0.5), pull(12, 2, 10.0e5)),
    ],
)
def test_an_adjustment_without_readings_around_it_teaches_nothing(learned, entries):
    assert learned(*entries) == ()


def test_a_later_adjustment_does_not_count(learned):
    entries = (pull(10, 0, 10.4e5), turn(11, 1, -0.5), pull(12, 2, 10.0e5))
    assert learned(*entries, on=dt.date(2026, 6, 2)) == ()


def test_a_corrected_reading_counts_as_it_was_corrected(learned):
    wrong = pull(10, 0, 12.0e5)
    (one,) = learned(wrong, pull(13, 0, 10.4e5, supersedes=wrong.id), turn(11, 1, -0.5), pull(12, 2, 10.0e5))
    assert one.before_pa == 10.4e5


@pytest.mark.parametrize(
    ("entries", "said"),
    [
        (
            (pull(10, -39, 10.4e5), turn(11, -38, -0.5), pull(12, -37, 10.0e5)),
            "learned from 1 earlier adjustment of this",
        ),
        ((), "holds no adjustment of this valve"),
    ],
)
def test_the_command_says_from_how_many_it_learned(learned, tmp_path, capsys, entries, said):
    learned(*entries)
    sheet = tmp_path / "job.toml"
    given = {"purpose": "as-found", "medium": "gas", "seat": MEAN, "code": "iso-4126-1", "decision": "guarded"}
    spring = 'spring_rate = "40.6 N/mm"\nscrew_pitch = "1.5 mm"'
    sheet.write_text(SHEET.format(**given, valve=spring), encoding="utf-8")
    asked = ["adjust", str(sheet), "--reading", "10.4 bar", "--line", "8 bar", "--pull-off", "--authorised-by", "owner"]
    assert main([*asked, "--store", str(tmp_path / "register")]) == 0
    assert said in capsys.readouterr().out
