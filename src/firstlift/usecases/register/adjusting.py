"""Adjust a valve after a kept test: how far to turn, what was done, and what the pulls after it say."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from firstlift.core.adjust import Turned
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job
from firstlift.core.register.work import AdjustmentMade, HowTested, ValveTest
from firstlift.core.units import Kind
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.adjust import AdjustAsked, Advised, advise_job, reading_of
from firstlift.usecases.register.analyse import kept_document, seat_of_test
from firstlift.usecases.register.place import now
from firstlift.usecases.register.turned import turned_of
from firstlift.usecases.typed import typed_number, typed_si

# a screw nobody turns this far in one go; more is a slip of the pen
_MOST_TURNS = 20.0
# a reading of the screw's height by a rule, and of turns by eye
_HEIGHT_OFF_M = 0.5e-3
_LISTS = ("rings_before", "rings_after", "seals_before", "seals_after")
# the site's clock may run ahead of this machine's
_GRACE = dt.timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Done:
    """What was done to a valve, as it was typed. ``at`` is local, "2026-03-25T10:30"; "" for the time now.

    ``turns`` is how far the screw was turned, ``to`` the way: "right" (in, set pressure up) or "left". Rings and seals
    are lists with commas.
    """

    at: str = ""
    turns: str = ""
    to: str = "right"
    height_before: str = ""
    height_after: str = ""
    rings_before: str = ""
    rings_after: str = ""
    seals_before: str = ""
    seals_after: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work at a valve, in its order: a test or an adjustment."""

    at: dt.datetime
    zone: str
    test: ValveTest | None = None
    made: AdjustmentMade | None = None


def advise_test(reader: Reader, test: ValveTest, asked: AdjustAsked) -> Advised:
    """Say how far to turn the screw of the valve of a kept test, or why not to.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    asked : AdjustAsked
        What was typed; the reading is the test's own.

    Returns
    -------
    Advised

    Raises
    ------
    FirstliftError
        ADJ-001 to ADJ-006 as the advisor refuses it; ADJ-010 the valve was adjusted after the test; REG-026 the test
        keeps no recording.
    """
    job = _job(reader, test)
    _check_untouched(reader, test)
    if test.result is None:
        raise FirstliftError(Problem("ADJ-006", "the test holds no result", f"test {test.id}", "a pull that lifted"))
    reading = reading_of(test.result, job.valve.tag, f"test of {test.day}")
    return advise_job(asked, job, reading, _learned(reader, test))


def _check_untouched(reader: Reader, test: ValveTest) -> None:
    """Refuse a reading that no longer holds: what was turned once is not turned again for the same reason."""
    made = [one for one in reader.list(AdjustmentMade, valve_id=test.valve_id, order=("at", "id")) if one.at > test.at]
    if made:
        day = made[-1].at.astimezone(ZoneInfo(made[-1].zone)).date()
        raise FirstliftError(
            Problem(
                "ADJ-010",
                f"the valve was adjusted after this test, on {day}: what it read no longer holds",
                f"test of {test.day}",
                "a test as left after that adjustment",
                "Pull again, and adjust from that test where it is not within",
            )
        )


def _job(reader: Reader, test: ValveTest) -> Job:
    job = parse_jobsheet(write_sheet(kept_document(reader, test)).encode(), where=f"job sheet of test {test.id}")
    return replace(job, seat=seat_of_test(reader, test, job))


def _learned(reader: Reader, test: ValveTest) -> tuple[Turned, ...]:
    return turned_of(reader, test.valve_id, test.day)


def keep_adjustment(store: Store, test_id: UUID, done: Done, *, by: UUID) -> AdjustmentMade:
    """Keep what was done to a valve after a test of it.

    Parameters
    ----------
    store : Store
    test_id : UUID
        The test whose reading called for it.
    done : Done
    by : UUID
        Who turned.

    Returns
    -------
    AdjustmentMade

    Raises
    ------
    FirstliftError
        ADJ-009 nothing was done, it was done before the test, turns and heights of the screw contradict each other, or
        a seal is missing; UNI-001 to UNI-006 a number or a unit.
    """
    at = now()
    with store.read() as reader:
        test = reader.get(ValveTest, test_id)
        pitch = _job(reader, test).valve.screw_pitch_m
    made = _made(test, done, at, by)
    _check_screw(made, pitch)
    with store.work(at=at, who=str(by)) as work:
        work.add(made)
    return made


def _made(test: ValveTest, done: Done, now_at: dt.datetime, by: UUID) -> AdjustmentMade:
    turns = typed_number(done.turns.strip() or None, "turns")
    if turns is not None and not 0.0 <= turns <= _MOST_TURNS:
        raise _refuse(f"the screw was turned {turns:g} times", f"0 to {_MOST_TURNS:g} turns, and the way apart from it")
    if done.to not in ("right", "left"):
        raise _refuse(f"'{done.to[:40]}' is no way to turn", "right or left")
    lists = {name: _listed(getattr(done, name)) for name in _LISTS}
    if not turns and lists["rings_before"] == lists["rings_after"] and not done.note.strip():
        raise _refuse("nothing was done", "turns of the screw, rings set anew, or a note of what was done")
    if not lists["seals_after"]:
        raise _refuse("no seal is named that closes the setting", "the number of the seal that was put on")
    return AdjustmentMade(
        uuid4(),
        test.valve_id,
        _when(test, done.at, now_at),
        test.zone,
        visit_id=test.visit_id,
        person_id=by,
        turns=None if turns is None else turns if done.to == "right" else -turns,
        screw_height_before_m=_height(done.height_before, "height before"),
        screw_height_after_m=_height(done.height_after, "height after"),
        note=done.note.strip(),
        **lists,
    )


def _listed(text: str) -> tuple[str, ...]:
    return tuple(part for each in re.split("[,،，、]", text) if (part := each.strip()))


def _height(text: str, where: str) -> float | None:
    height = typed_si(text or None, Kind.LENGTH, where)
    if height is not None and height < 0.0:
        raise _refuse("a screw stands out by less than nothing", "how far it stands out, 0 or more")
    return height


def _when(test: ValveTest, text: str, now_at: dt.datetime) -> dt.datetime:
    """Read when it was done, on the clock at the site: after its test, and not in times to come."""
    zone = ZoneInfo(test.zone)
    try:
        at = dt.datetime.fromisoformat(text.strip()).replace(tzinfo=zone) if text.strip() else now_at.astimezone(zone)
    except ValueError:
        needed = "such as 2026-03-25T10:30, as the clock at the site"
        raise _refuse(f"'{text[:40]}' is no date and time", needed) from None
    said = at.isoformat(timespec="minutes")
    if at <= test.at:
        raise _refuse(f"{said} is not after the test", "a time after the test it followed")
    if at > now_at + _GRACE:
        raise _refuse(f"{said} is still to come", "when it was done")
    return at


def _check_screw(made: AdjustmentMade, pitch_m: float | None) -> None:
    """Hold the turns against the screw's height: it goes down as it is turned to the right, by its pitch a turn."""
    before, after, turns = made.screw_height_before_m, made.screw_height_after_m, made.turns
    if before is None or after is None or turns is None:
        return
    sunk = before - after
    wrong_way = abs(sunk) > _HEIGHT_OFF_M and abs(turns) > 0.0 and (sunk > 0.0) != (turns > 0.0)
    far = pitch_m is not None and abs(abs(sunk) - abs(turns) * pitch_m) > _HEIGHT_OFF_M + 0.25 * abs(turns) * pitch_m
    if wrong_way or far:
        way = "right" if turns > 0.0 else "left"
        moved = f"{abs(sunk) * 1e3:.2f} mm {'lower' if sunk > 0.0 else 'higher'}"
        raise _refuse(
            f"{abs(turns):g} turns to the {way} do not fit a screw that stands {moved}",
            "turns to the right, which lower the screw by its pitch each, or to the left, which raise it",
        )


def way_of(reader: Reader, test: ValveTest) -> tuple[Step, ...]:
    """Give the work at a valve around a test, in its order: as found, what was turned, as left.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    tuple of Step
        Of the same visit, else of the same day; corrected tests left out.
    """
    every = reader.list(ValveTest, valve_id=test.valve_id, order=("at", "id"))
    corrected = {each.supersedes for each in every}
    tests = [each for each in every if each.id not in corrected and each.kind is not HowTested.NOT_TESTED]
    steps = [Step(each.at, each.zone, test=each) for each in tests if _together(test, each.visit_id, each.day)]
    return tuple(sorted((*steps, *_adjustments(reader, test)), key=lambda step: step.at))


def _adjustments(reader: Reader, test: ValveTest) -> Iterator[Step]:
    made: Sequence[AdjustmentMade] = reader.list(AdjustmentMade, valve_id=test.valve_id, order=("at", "id"))
    for one in made:
        if _together(test, one.visit_id, one.at.astimezone(ZoneInfo(one.zone)).date()):
            yield Step(one.at, one.zone, made=one)


def _together(test: ValveTest, visit_id: UUID | None, day: dt.date) -> bool:
    return visit_id == test.visit_id if test.visit_id is not None and visit_id is not None else day == test.day


def _refuse(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("ADJ-009", what, "What was done", needed))
