"""A valve's signature out of the register, and the command on top of it."""

import datetime as dt
import json
import uuid

import pytest

from firstlift.cli.main import main
from firstlift.core.errors import FirstliftError
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Owner
from firstlift.core.register.work import AdjustmentMade, HowTested, ValveTest
from firstlift.core.result import (
    Disposition,
    DispositionOutcome,
    MethodRef,
    Outcome,
    Pull,
    PullOutcome,
    RecordingRef,
    Result,
    Signature,
)  # fmt: skip
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import create_store
from firstlift.usecases.register.signature import signature_of_valve, visit_of

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)
RATE = 2.0e5


def ident(number):
    return uuid.UUID(int=number)


def result(*, spring=1.0, friction=0.02, bar=10.0, lifted=True):
    """Give a result of two pulls by what they show."""
    shown = Signature(4e7, (spring - 2.5) * RATE, 1000.0, None, 1000.0 * friction, None)
    outcome = PullOutcome.MEASURED if lifted else PullOutcome.NOT_LIFTED
    opening = bar * 1e5 if lifted else None
    pulls = tuple(
        Pull(number, outcome, 0.0, 5.0, line_pressure_pa=8e5, set_pressure_pa=opening, signature=shown)
        for number in (1, 2)
    )  # fmt: skip
    return Result(
        Outcome.MEASURED, None, "PSV-3", "as-found", MethodRef("m", {}), RecordingRef("", 1, 1.0), pulls, None, None,
        None, None, Disposition(DispositionOutcome.FIT, ()), (), (),
    )  # fmt: skip


def made(number, year, **shown):
    at = dt.datetime(year, 6, 1, 9, tzinfo=dt.UTC)
    return ValveTest(
        ident(number),
        ident(10),
        HowTested.PULL,
        Purpose.AS_FOUND,
        at,
        "Europe/London",
        at.date(),
        result=result(**shown),
    )


@pytest.fixture
def store(tmp_path):
    def build(*entries):
        store = create_store(tmp_path / "register", store_id=ident(7), at=AT, folder=None)
        valve = RegisteredValve(
            ident(10), ident(1), "S-10", parse_quantity("10 bar", Kind.PRESSURE), spring_rate_n_m=RATE
        )
        with store.work(at=AT, who="program:test") as work:
            work.add_all([Owner(ident(1), "Marrow Bay Energy", "invented"), valve, *entries])
        stores.append(store)
        return store

    stores = []
    yield build
    for one in stores:
        one.close()


EARLIER = [made(30 + index, 2018 + 2 * index) for index in range(3)]


def codes(answer):
    return [finding.code for finding in answer.findings]


def test_the_last_test_is_held_against_the_earlier_ones(store):
    answer = signature_of_valve(store(*EARLIER, made(40, 2024, friction=0.09)), "s-10")
    assert codes(answer) == ["signature-galled-guide"]
    assert (answer.day.year, [day.year for day in answer.earlier]) == (2024, [2018, 2020, 2022])
    # nothing shows play, so it is not spoken of
    assert [str(change.feature) for change in answer.changes] == [
        "spring-rate",
        "stiff-slope",
        "friction",
        "set-pressure",
    ]


def test_a_lower_set_pressure_at_the_same_rate_is_a_tired_spring(store):
    tired = signature_of_valve(store(*EARLIER, made(40, 2024, bar=9.4)), "S-10")
    assert codes(tired) == ["signature-tired-spring"]
    assert visit_of(result(lifted=False), 1.0, adjusted=False) is None


def test_after_an_adjustment_the_set_pressure_says_nothing(store):
    turned = AdjustmentMade(
        ident(60), ident(10), dt.datetime(2023, 1, 5, 10, tzinfo=dt.UTC), "Europe/London", turns=-0.5
    )
    answer = signature_of_valve(store(*EARLIER, turned, made(40, 2024, bar=9.4)), "S-10")
    assert codes(answer) == []


def test_what_is_not_there_is_told(store):
    empty = store(made(30, 2018, lifted=False))
    with pytest.raises(FirstliftError, match="SGN-001"):
        signature_of_valve(empty, "S-10")
    with pytest.raises(FirstliftError, match="REG-028"):
        signature_of_valve(empty, "S-99")


def test_the_command_says_it_and_its_exit_code_too(store, tmp_path, capsys):
    store(*EARLIER, made(40, 2024, spring=1.4))
    where = str(tmp_path / "register")
    assert main(["signature", "--valve", "S-10", "--store", where]) == 1
    text = capsys.readouterr().out
    assert "another spring" in text or "not the one of earlier visits" in text
    assert main(["signature", "--valve", "S-10", "--store", where, "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["findings"][0]["code"] == "signature-wrong-spring"
    assert answer["changes"][0]["change"] == pytest.approx(0.4)


def test_a_healthy_valve_is_left_in_peace(store, tmp_path, capsys):
    store(*EARLIER, made(40, 2024))
    assert main(["signature", "--valve", "S-10", "--store", str(tmp_path / "register")]) == 0
    assert "Nothing changed" in capsys.readouterr().out
