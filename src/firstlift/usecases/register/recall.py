"""Recall: when an instrument turns out wrong, what becomes of every test that used it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Instrument, RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import ValveTest
from firstlift.core.seat.record import SeatRecord
from firstlift.store.history import used_in
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.analyse import judged_value, kept_document, recompute
from firstlift.usecases.register.fill import calibration_keys, calibration_of

# what a calibration says of a channel; what the new one does not say must not be left over from the old
_OF_CALIBRATION = (
    "polynomial",
    "relative_standard_uncertainty",
    "standard_uncertainty",
    "calibration_due",
    "calibrated_with",
)


@dataclass(frozen=True, slots=True)
class Recalled:
    """A test that used the instrument: what it said, and what it says under the calibration in force now.

    ``problem`` says why it could not be computed again; then the values of now are None.
    """

    test_id: UUID
    day: dt.date
    tag: str
    serial: str
    verdict: str
    set_pressure_pa: float | None
    verdict_now: str | None
    set_pressure_now_pa: float | None
    problem: str = ""

    @property
    def changed(self) -> bool:
        """Whether the verdict is another one now."""
        return self.verdict_now is not None and self.verdict_now != self.verdict


def recall(store: Store, serial: str, *, first: dt.date | None = None, last: dt.date | None = None) -> list[Recalled]:
    """List the tests that used an instrument, each computed again under its calibration in force now.

    Enter the corrected calibration first, as one that supersedes the wrong one. Nothing is changed here.

    Parameters
    ----------
    store : Store
    serial : str
        The instrument's.
    first, last : date or None
        Bounds of the tests' days.

    Returns
    -------
    list of Recalled
        By day; superseded tests are left out.

    Raises
    ------
    FirstliftError
        REG-010 the instrument is not in the register.
    """
    with store.read() as reader:
        instruments = reader.by_key(Instrument, serial)
        if not instruments:
            raise FirstliftError(
                Problem("REG-010", f"the register has no instrument '{serial}'", needed="a serial of the register")
            )
        tests = used_in(reader, search_key(serial), first=first, last=last)
        return [_recalled(reader, reader.get(ValveTest, each), instruments[0]) for each in tests]


def _recalled(reader: Reader, test: ValveTest, instrument: Instrument) -> Recalled:
    tag = reader.get(Position, test.position_id).tag if test.position_id else ""
    serial = reader.get(RegisteredValve, test.valve_id).serial
    said = (test.id, test.day, tag, serial, test.verdict, test.set_pressure_pa)
    try:
        _check_seat(reader, test, instrument)
        document = corrected_document(reader, test, instrument)
        result = recompute(reader, test, document)
    except FirstliftError as error:
        return Recalled(*said, None, None, error.problems[0].sentence())
    verdict = "" if result.verdict is None else str(result.verdict.outcome)
    return Recalled(*said, verdict, judged_value(result)[0])


def _check_seat(reader: Reader, test: ValveTest, instrument: Instrument) -> None:
    """Refuse a test whose seat area holds the instrument's error: corrected in one place only, it would be wrong."""
    record = None if test.seat_record_id is None else reader.find(SeatRecord, test.seat_record_id)
    own = search_key(instrument.serial)
    if record is not None and own in {search_key(serial) for serial in record.serials}:
        raise FirstliftError(
            Problem(
                "SEA-020",
                f"the seat area was found with '{instrument.serial}': its error is in pull and area alike",
                f"seat record of {record.date.isoformat()}",
                "an area found again from the same pulls under the corrected calibration",
                "Add that seat record, then analyse the recording again",
            )
        )


def corrected_document(reader: Reader, test: ValveTest, instrument: Instrument) -> dict[str, Any]:
    """Give a test's job sheet with an instrument's channels as its calibration in force says.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    instrument : Instrument

    Returns
    -------
    dict

    Raises
    ------
    FirstliftError
        REG-026 the test keeps no recording; REG-010 no calibration is in force on its day.
    """
    document = kept_document(reader, test)
    calibration = calibration_of(reader, instrument, test.day)
    if calibration is None:
        raise FirstliftError(
            Problem(
                "REG-010",
                f"no calibration of '{instrument.serial}' is in force on {test.day.isoformat()}",
                needed="one made by that day",
            )
        )
    own = search_key(instrument.serial)
    channels: list[dict[str, Any]] = []
    for channel in document.get("channel", []):
        if search_key(str(channel.get("serial", ""))) == own:
            rest = {key: value for key, value in channel.items() if key not in _OF_CALIBRATION}
            channel = {**rest, **calibration_keys(instrument, calibration)}
        channels.append(channel)
    return {**document, "channel": channels}
