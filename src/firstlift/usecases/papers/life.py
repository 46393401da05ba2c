"""Draft, review, issue, supersede and withdraw certificates: one transaction each.

Numbers count from 1 in their series. A number is reserved and its draft committed in one transaction that holds the
store, so that no number is given twice and none is left out; a draft that comes to nothing is withdrawn and keeps its
number. Issuing keeps the signed file by its hash before the entry that names it is committed: a crash leaves at most
a kept file that nothing names, and the certificate is then still reviewed and can be issued again.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from firstlift import __version__
from firstlift.certificate.keys import Key
from firstlift.certificate.make import Made
from firstlift.certificate.model import CertificateDetails, Person
from firstlift.certificate.settings import PaperSettings
from firstlift.certificate.sign import sign_certificate
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.people import Person as Registered
from firstlift.core.register.work import Attachment, Certificate, CertificateState, ValveTest
from firstlift.store import numbering
from firstlift.store.files import keep_bytes, read_kept
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.store.work import Work
from firstlift.usecases.certify import make_certificate
from firstlift.usecases.papers.find import certificate_by, drafter_of, name_of, person_by
from firstlift.usecases.papers.record import history_of, kept_test
from firstlift.usecases.register.seat_again import off_seat

_OPEN = (CertificateState.DRAFT, CertificateState.REVIEWED)


@dataclass(frozen=True, slots=True)
class Issued:
    """A certificate as it was handed out: its entry and the bytes of its signed file."""

    certificate: Certificate
    pdf: bytes


def draft_certificate(
    store: Store, test: ValveTest, *, by: str, series: str = "", supersedes: str = "", reason: str = ""
) -> Certificate:
    """Reserve the next number of a series for the certificate of a kept test.

    Parameters
    ----------
    store : Store
    test : ValveTest
    by : str
        Who drafts: name or identifier of a person in the register.
    series : str
        Empty for the store's own.
    supersedes, reason : str
        Number of the issued certificate that this one will correct, and why.

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        CRT-007 the person, CRT-008 the old number; CRT-009 the old one is not issued, or no reason is given; CRT-012
        the test rests on a seat record that was wrong.
    """
    with store.read() as reader:
        person = person_by(reader, by)
        _check_seat(reader, test)
    with store.work(at=_now(), who=str(person.id)) as work:
        old = _to_supersede(work, supersedes, reason) if supersedes else None
        made = numbering.reserve_certificate(
            work,
            certificate_id=uuid4(),
            test_id=test.id,
            series=series or own_series(work),
            zone=test.zone,
            supersedes=None if old is None else old.id,
        )
        if reason:
            made = dataclasses.replace(made, reason=reason)
            work.change(made)
    return made


def own_series(reader: Reader) -> str:
    """Give a store's own series: made of its identifier, so that no two stores number alike.

    Parameters
    ----------
    reader : Reader

    Returns
    -------
    str
    """
    return f"FL{reader.store_id.hex[:4].upper()}"


def _to_supersede(reader: Reader, number: str, reason: str) -> Certificate:
    old = certificate_by(reader, number)
    if old.state is not CertificateState.ISSUED:
        raise _wrong_step(old, "superseded", "one that is issued")
    if not reason.strip():
        raise _no_reason(old)
    return old


def print_draft(store: Store, number: str, settings: PaperSettings) -> Made:
    """Make the paper of a draft, with its watermark, from the files the register keeps.

    Parameters
    ----------
    store : Store
    number : str
    settings : PaperSettings

    Returns
    -------
    Made

    Raises
    ------
    FirstliftError
        CRT-008 there is none; CRT-009 it is issued already; CRT-011.
    """
    with store.read() as reader:
        certificate = certificate_by(reader, number)
        if certificate.state not in _OPEN:
            raise _wrong_step(certificate, "printed as a draft", "a draft")
        return _paper(reader, certificate, settings, on=_today(certificate.zone), draft=True)


def review_certificate(store: Store, number: str, *, by: str) -> Certificate:
    """Review a draft: by someone who neither tested nor drafted.

    Parameters
    ----------
    store : Store
    number : str
    by : str
        Name or identifier of the reviewer.

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        CRT-009 it is no draft; CRT-010 the reviewer is one of those who tested or drafted; CRT-012 the test rests on a
        seat record that was wrong.
    """
    with store.read() as reader:
        person = person_by(reader, by)
    with store.work(at=_now(), who=str(person.id)) as work:
        certificate = certificate_by(work, number)
        if certificate.state is not CertificateState.DRAFT:
            raise _wrong_step(certificate, "reviewed", "a draft")
        test = work.get(ValveTest, certificate.test_id)
        _check_seat(work, test)
        if person.id in test.people or str(person.id) == drafter_of(work, certificate):
            raise FirstliftError(
                Problem(
                    "CRT-010",
                    f"{name_of(person)} tested or drafted for certificate {number} and cannot review it",
                    needed="a second pair of eyes",
                    next="Have somebody else review it",
                )
            )
        return numbering.review_certificate(work, certificate.id, reviewer_id=person.id)


def issue_certificate(
    store: Store, number: str, *, by: str, key: Key, settings: PaperSettings, stamp_url: str = ""
) -> Issued:
    """Issue a reviewed certificate: typeset, sign, keep the file, and supersede the old one where there is one.

    Parameters
    ----------
    store : Store
    number : str
    by : str
        Name or identifier of the person who authorises the issue.
    key : Key
    settings : PaperSettings
    stamp_url : str
        Address of a time stamp server, or empty.

    Returns
    -------
    Issued

    Raises
    ------
    FirstliftError
        CRT-009 it is not reviewed, or the old one was withdrawn meanwhile; CRT-011; CRT-012 the test rests on a seat
        record that was wrong; SIG-004.
    """
    at = _now()
    with store.read() as reader:
        person = person_by(reader, by)
        certificate = certificate_by(reader, number)
        if certificate.state is not CertificateState.REVIEWED:
            raise _wrong_step(certificate, "issued", "one that was reviewed")
        _check_seat(reader, reader.get(ValveTest, certificate.test_id))
        made = _paper(reader, certificate, settings, on=_today(certificate.zone), signer=person)
    signed = sign_certificate(made.pdf, key, stamp_url=stamp_url)
    kept = keep_bytes(store.folder, signed)
    with store.work(at=at, who=str(person.id)) as work:
        if work.get(Certificate, certificate.id) != certificate:
            raise _wrong_step(work.get(Certificate, certificate.id), "issued", "one that nobody changed meanwhile")
        if certificate.supersedes is not None:
            _check_stands(work, certificate.supersedes)
        issued = numbering.issue_certificate(
            work, certificate.id, unsigned_sha256=made.sha256, signed_sha256=kept, signer_id=person.id
        )
        if certificate.supersedes is not None:
            old = work.get(Certificate, certificate.supersedes)
            work.change(dataclasses.replace(old, reason=certificate.reason))
        work.add(_attachment(issued, kept, len(signed), at, person.id))
    return Issued(issued, signed)


def _attachment(issued: Certificate, sha256: str, size: int, at: dt.datetime, person_id: UUID) -> Attachment:
    """Name the signed file in the register, so that audits look at it and backups take it along."""
    name = f"{issued.text}.pdf"
    return Attachment(uuid4(), issued.id, name, "application/pdf", sha256, size, at, issued.zone, person_id)


def _check_seat(reader: Reader, test: ValveTest) -> None:
    """Refuse a test whose seat area is known to be wrong: every number on its paper would be."""
    off = off_seat(reader, test)
    if off is not None and off.wrong is not None:
        raise FirstliftError(
            Problem(
                "CRT-012",
                f"the test rests on a seat record that was wrong: {off.wrong.note}",
                f"test {test.id}, seat record {off.rests_on.id}",
                "a test computed with the seat record in force for its day",
                "Compute it again: firstlift register seat again",
            )
        )


def _check_stands(work: Work, old_id: UUID) -> None:
    old = work.get(Certificate, old_id)
    if old.state is not CertificateState.ISSUED:
        raise _wrong_step(old, "superseded", "one that is issued")


def withdraw_certificate(store: Store, number: str, *, by: str, reason: str) -> Certificate:
    """Withdraw a certificate, or a draft that comes to nothing; its number is not used again.

    Parameters
    ----------
    store : Store
    number : str
    by : str
    reason : str

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        CRT-009 it is superseded or withdrawn already, or no reason is given.
    """
    with store.read() as reader:
        person = person_by(reader, by)
    with store.work(at=_now(), who=str(person.id)) as work:
        certificate = certificate_by(work, number)
        if certificate.state in (CertificateState.SUPERSEDED, CertificateState.WITHDRAWN):
            raise _wrong_step(certificate, "withdrawn", "one that stands")
        if not reason.strip():
            raise _no_reason(certificate)
        if certificate.state in _OPEN and certificate.supersedes is not None:
            # a draft that comes to nothing lets go of the one it was to supersede, so that another may
            work.change(dataclasses.replace(certificate, supersedes=None))
        return numbering.withdraw_certificate(work, certificate.id, reason=reason)


def issued_file(store: Store, number: str) -> Issued:
    """Give the signed file of a certificate again, checked against its hash.

    Parameters
    ----------
    store : Store
    number : str

    Returns
    -------
    Issued

    Raises
    ------
    FirstliftError
        CRT-009 it was never issued; STO-010, STO-011 the kept file is missing or damaged.
    """
    with store.read() as reader:
        certificate = certificate_by(reader, number)
        if not certificate.signed_sha256:
            raise _wrong_step(certificate, "copied", "one that was issued")
        return Issued(certificate, read_kept(reader.folder, certificate.signed_sha256))


def _paper(
    reader: Reader,
    certificate: Certificate,
    settings: PaperSettings,
    *,
    on: dt.date,
    draft: bool = False,
    signer: Registered | None = None,
) -> Made:
    test = reader.get(ValveTest, certificate.test_id)
    old = None if certificate.supersedes is None else reader.get(Certificate, certificate.supersedes)
    reviewer = None if certificate.reviewer_id is None else reader.get(Registered, certificate.reviewer_id)
    with kept_test(reader, test) as analysed:
        details = CertificateDetails(
            number=certificate.text,
            issuer=settings.issuer,
            issued_on=on,
            release=__version__,
            settings=settings,
            draft=draft,
            supersedes="" if old is None else old.text,
            reason="" if old is None else certificate.reason,
            reviewed=None if reviewer is None else Person(name_of(reviewer), None),
            authorised=None if signer is None else Person(name_of(signer), on),
        )
        history = history_of(reader, test, settings.pressure_unit or analysed.job.valve.set_pressure.unit)
        return make_certificate(analysed, details, history=history)


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(microsecond=0)


def _today(zone: str) -> dt.date:
    return dt.datetime.now(ZoneInfo(zone)).date()


def _wrong_step(certificate: Certificate, step: str, needed: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "CRT-009",
            f"certificate {certificate.text} is {certificate.state} and cannot be {step}",
            needed=needed,
            next="A certificate goes from draft to reviewed to issued; then it is superseded or withdrawn",
        )
    )


def _no_reason(certificate: Certificate) -> FirstliftError:
    return FirstliftError(
        Problem("CRT-009", f"no reason is given for certificate {certificate.text}", needed="a reason, for its readers")
    )
