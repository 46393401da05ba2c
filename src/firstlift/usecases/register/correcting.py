"""Keep a test that corrects an earlier one: nothing is edited, and no draft goes on as if nothing had happened."""

from __future__ import annotations

import dataclasses
from typing import Any
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.core.result import Result
from firstlift.formats.sheet_write import write_sheet
from firstlift.store import numbering
from firstlift.store.files import keep_bytes
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.store.work import Work
from firstlift.usecases.register.analyse import outcome_fields

_OPEN = (CertificateState.DRAFT, CertificateState.REVIEWED)


def check_counts(reader: Reader, test: ValveTest) -> None:
    """Refuse a test that was corrected already.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Raises
    ------
    FirstliftError
        REV-004; it names the test that counts, at the end of all corrections.
    """
    last, seen = test, {test.id}
    while later := [one for one in reader.list(ValveTest, supersedes=last.id) if one.id not in seen]:
        last = later[0]
        seen.add(last.id)
    if last.id != test.id:
        raise FirstliftError(
            Problem(
                "REV-004",
                "this test was corrected already",
                f"test {test.id}",
                f"the one that counts, {last.id}",
                "Open that one and go on there",
            )
        )


def corrected_test(
    store: Store,
    test: ValveTest,
    document: dict[str, Any],
    result: Result,
    *,
    by: UUID,
    done: str,
    seat_record_id: UUID | None,
) -> ValveTest:
    """Make the test that corrects an earlier one; its job sheet is kept as a file, the test itself is not kept yet.

    Parameters
    ----------
    store : Store
    test : ValveTest
        The earlier one.
    document : dict
        Tables of the job sheet that the new result was computed by.
    result : Result
    by : UUID
        Who corrects: belongs to the test from here on, so that somebody else reviews what is certified.
    done : str
        What was done and why; it goes behind the earlier one's note.
    seat_record_id : UUID or None
        The seat record that the new result was computed with.

    Returns
    -------
    ValveTest
    """
    return dataclasses.replace(
        test,
        id=uuid4(),
        people=test.people if by in test.people else (*test.people, by),
        sheet_sha256=keep_bytes(store.folder, write_sheet(document).encode()),
        seat_record_id=seat_record_id,
        supersedes=test.id,
        note="; ".join(part for part in (test.note, done) if part),
        **outcome_fields(result),
    )


def keep_corrected(work: Work, made: ValveTest, test: ValveTest, done: str) -> None:
    """Keep a test beside the one it corrects, whose certificate is withdrawn where it was not issued yet.

    Parameters
    ----------
    work : Work
    made : ValveTest
        Of `corrected_test`.
    test : ValveTest
        The earlier one.
    done : str
        Why a draft is withdrawn.

    Raises
    ------
    FirstliftError
        REV-004 it was corrected meanwhile.
    """
    check_counts(work, test)
    work.add(made)
    for paper in open_certificates(work, test):
        if paper.supersedes is not None:
            # a draft that comes to nothing lets go of the one it was to supersede
            work.change(dataclasses.replace(paper, supersedes=None))
        numbering.withdraw_certificate(work, paper.id, reason=done)


def open_certificates(reader: Reader, test: ValveTest) -> list[Certificate]:
    """Give the certificates of a test that were not issued yet.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    list of Certificate
    """
    return [paper for paper in reader.list(Certificate, test_id=test.id) if paper.state in _OPEN]


def issued_certificates(reader: Reader, test: ValveTest) -> list[Certificate]:
    """Give the certificates that stand of a test, or of one that it corrects.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    list of Certificate
    """
    found, seen = list[Certificate](), set[UUID]()
    one: ValveTest | None = test
    while one is not None and one.id not in seen:
        seen.add(one.id)
        found += reader.list(Certificate, test_id=one.id, state=CertificateState.ISSUED)
        one = None if one.supersedes is None else reader.get(ValveTest, one.supersedes)
    return found
