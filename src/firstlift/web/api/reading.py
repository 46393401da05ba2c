"""What other systems read: valves, due dates, tests, results, events, certificates."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from fastapi import FastAPI, Path, Query, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Site
from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.core.result import to_json
from firstlift.core.seat.choose import Choice
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.seat.word import SeatWord, wrong_of
from firstlift.store.history import past_tests
from firstlift.store.open import Store
from firstlift.store.search import Wanted, count, due_list, search
from firstlift.usecases.papers.find import certificate_by
from firstlift.usecases.papers.life import issued_file
from firstlift.usecases.register.place import now
from firstlift.usecases.register.seats import seats_on
from firstlift.web.api.answers import MOST, Limit, Needs, Offset, Short
from firstlift.web.api.shapes import (
    CertificateOut,
    Day,
    EventPage,
    SeatRecordOut,
    SeatRecordPage,
    SiteOut,
    State,
    TestOut,
    ValveOut,
    ValvePage,
)
from firstlift.web.hooks.events import events_after
from firstlift.web.tokens import Scope

Number = Annotated[str, Path(max_length=100)]
After = Annotated[int, Query(ge=0, le=2**53)]


def add_valves(api: FastAPI, store: Store, needs: Needs) -> None:
    """Add valves, due dates, sites, tests.

    Parameters
    ----------
    api : FastAPI
    store : Store
    needs : callable (scope) -> dependency
    """

    @api.get("/valves", dependencies=[needs(Scope.VALVES)])
    def valves(tag: Short = "", serial: Short = "", limit: Limit = 50, offset: Offset = 0) -> ValvePage:
        """Find valves by the beginning of a tag or serial."""
        with store.read() as reader:
            wanted = Wanted(tag=tag, serial=serial)
            found = search(reader, wanted, limit=limit, offset=offset)
            return ValvePage([_valve(one) for one in found], offset, count(reader, wanted))

    @api.get("/due", dependencies=[needs(Scope.VALVES)])
    def due(by: Day | None = None, limit: Limit = 50, offset: Offset = 0) -> ValvePage:
        """Give the valves in use by due date, the most urgent first."""
        with store.read() as reader:
            wanted = Wanted(due_by=by)
            found = due_list(reader, wanted, limit=limit, offset=offset)
            return ValvePage([_valve(one) for one in found], offset, count(reader, wanted) if by else None)

    @api.get("/valves/{valve_id}", dependencies=[needs(Scope.VALVES)])
    def valve(valve_id: UUID) -> ValveOut:
        """Give one valve where it stands."""
        with store.read() as reader:
            serial = reader.get(RegisteredValve, valve_id).serial
            # a serial may stand on the valves of several owners
            found = [one for one in search(reader, Wanted(serial=serial), limit=MOST) if one.valve_id == valve_id]
        if not found:
            raise FirstliftError(Problem("WEB-005", "the valve stands nowhere", str(valve_id), "a valve of an owner"))
        return _valve(found[0])

    @api.get("/sites", dependencies=[needs(Scope.VALVES)])
    def sites(limit: Limit = 50, offset: Offset = 0) -> list[SiteOut]:
        """Give the sites, by name."""
        with store.read() as reader:
            found = reader.list(Site, order=("name_key", "id"), limit=limit, offset=offset)
        return [SiteOut(one.id, one.name, one.zone) for one in found]

    @api.get("/valves/{valve_id}/tests", dependencies=[needs(Scope.RESULTS)])
    def tests(valve_id: UUID, limit: Limit = 50) -> list[TestOut]:
        """Give a valve's tests, the latest first."""
        with store.read() as reader:
            found = past_tests(reader, valve_id=reader.get(RegisteredValve, valve_id).id, limit=limit)
        names = [name for name in TestOut.__dataclass_fields__ if name != "test_id"]
        return [TestOut(test_id=one.id, **{name: getattr(one, name) for name in names}) for one in found]


def add_seats(api: FastAPI, store: Store, needs: Needs) -> None:
    """Add the seat records of a valve.

    Parameters
    ----------
    api : FastAPI
    store : Store
    needs : callable (scope) -> dependency
    """

    @api.get("/valves/{valve_id}/seat-records", dependencies=[needs(Scope.VALVES)])
    def seat_records(valve_id: UUID, limit: Limit = 50, offset: Offset = 0) -> SeatRecordPage:
        """Give a valve's seat records, the latest first, and which of them is in force today."""
        with store.read() as reader:
            valve = reader.get(RegisteredValve, valve_id)
            records, choice = seats_on(reader, valve.id, now().date(), None)
            wrong = wrong_of(reader.list(SeatWord, valve_id=valve.id))
        shown = records[offset : offset + limit]
        return SeatRecordPage([_seat(one, choice, wrong.get(one.id)) for one in shown], offset, len(records))


def _seat(record: SeatRecord, choice: Choice, wrong: SeatWord | None) -> SeatRecordOut:
    seat = seat_of(record)
    left = next((one.reason.code for one in choice.left_out if one.record_id == record.id), None)
    return SeatRecordOut(
        record_id=record.id,
        day=record.date,
        source=str(record.source),
        area_m2=seat.area_m2,
        standard_uncertainty_m2=seat.standard_uncertainty_m2,
        inner_diameter_m=record.inner_diameter_m,
        outer_diameter_m=record.outer_diameter_m,
        reference=record.reference,
        note=record.note,
        measured_with=list(record.measured_with),
        instruments=list(record.serials),
        in_force=record == choice.record,
        left_out=left,
        wrong=wrong is not None,
        replaced_by=None if wrong is None else wrong.replaced_by,
    )


def add_results(api: FastAPI, store: Store, needs: Needs) -> None:
    """Add whole results, and what happened since.

    Parameters
    ----------
    api : FastAPI
    store : Store
    needs : callable (scope) -> dependency
    """

    @api.get("/tests/{test_id}/result", dependencies=[needs(Scope.RESULTS)])
    def result(test_id: UUID) -> dict[str, Any]:
        """Give a test's whole result (format firstlift-result-1, SI)."""
        with store.read() as reader:
            test = reader.get(ValveTest, test_id)
        if test.result is None:
            raise FirstliftError(Problem("WEB-005", "the test holds no whole result", str(test_id), "a test by pulls"))
        return to_json(test.result)

    @api.get("/events", dependencies=[needs(Scope.RESULTS)])
    def events(after: After = 0, limit: Limit = 50) -> EventPage:
        """Give what web-hooks tell, for who would rather ask: issued certificates, finds out of tolerance or unfit."""
        with store.read() as reader:
            found, following = events_after(reader, after, limit)
        return EventPage(found, following)


def add_certificates(api: FastAPI, store: Store, needs: Needs) -> None:
    """Add certificates and their files.

    Parameters
    ----------
    api : FastAPI
    store : Store
    needs : callable (scope) -> dependency
    """

    @api.get("/certificates", dependencies=[needs(Scope.CERTIFICATES)])
    def certificates(
        state: State = "",
        limit: Limit = 50,
        offset: Offset = 0,
    ) -> list[CertificateOut]:
        """Give certificates, the latest first."""
        equal = {"state": CertificateState(state)} if state else {}
        with store.read() as reader:
            found = reader.list(Certificate, order=("-reserved_at", "-id"), limit=limit, offset=offset, **equal)
        return [_certificate(one) for one in found]

    @api.get("/certificates/{number}", dependencies=[needs(Scope.CERTIFICATES)])
    def certificate(number: Number) -> CertificateOut:
        """Give one certificate by its number."""
        with store.read() as reader:
            return _certificate(certificate_by(reader, number))

    @api.get(
        "/certificates/{number}/file",
        dependencies=[needs(Scope.CERTIFICATES)],
        response_class=Response,
        responses={200: {"content": {"application/pdf": {}}}},
    )
    def file(number: Number) -> Response:
        """Give the signed file of a certificate that was issued."""
        issued = issued_file(store, number)
        return Response(issued.pdf, media_type="application/pdf")


def _valve(one: Any) -> ValveOut:
    names = [name for name in ValveOut.__dataclass_fields__ if name != "in_use"]
    return ValveOut(in_use=one.active, **{name: getattr(one, name) for name in names})


def _certificate(one: Certificate) -> CertificateOut:
    return CertificateOut(one.text, str(one.state), one.test_id, one.issued_at, one.signed_sha256, one.reason)
