"""Numbers of certificates: counted from 1 in each series, without gaps, one unit of work at a time."""

from __future__ import annotations

import dataclasses
import datetime as dt
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import Certificate, CertificateState
from firstlift.store.tables import TABLES
from firstlift.store.work import Work


def reserve_certificate(
    work: Work, *, certificate_id: UUID, test_id: UUID, series: str, zone: str, supersedes: UUID | None = None
) -> Certificate:
    """Reserve the next number of a series for a test's certificate, as a draft.

    One that is never issued is withdrawn and keeps its number: so the series shows no gap.

    Parameters
    ----------
    work : Work
    certificate_id, test_id : UUID
    series : str
        Stands before the number.
    zone : str
        The site's time zone.
    supersedes : UUID or None
        The certificate that this one corrects: it must have been issued.

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        REG-016 the one to supersede was not issued; REG-010, REG-011, REG-012.
    """
    if not series.strip():
        raise FirstliftError(Problem("REG-012", "a series of certificates without a name", needed="such as MB"))
    if supersedes is not None:
        old = work.get(Certificate, supersedes)
        if old.state is not CertificateState.ISSUED:
            raise FirstliftError(
                Problem(
                    "REG-016", f"certificate {old.text} is {old.state}: it cannot be superseded", str(old.id), "issued"
                )
            )
    table = TABLES["certificate"]
    last = work.connection.execute(sa.select(sa.func.max(table.c.number)).where(table.c.series == series)).scalar()
    number = (last or 0) + 1
    made = Certificate(
        certificate_id, test_id, series, number, f"{series}-{number:05d}", CertificateState.DRAFT, work.at, zone,
        supersedes=supersedes,
    )  # fmt: skip
    work.add(made)
    return made


def review_certificate(work: Work, certificate_id: UUID, *, reviewer_id: UUID | None) -> Certificate:
    """Note that a draft was reviewed.

    Parameters
    ----------
    work : Work
    certificate_id : UUID
    reviewer_id : UUID or None

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        REG-016 it is no draft.
    """
    reviewed = dataclasses.replace(
        work.get(Certificate, certificate_id), state=CertificateState.REVIEWED, reviewer_id=reviewer_id
    )
    work.change(reviewed)
    return reviewed


def issue_certificate(
    work: Work,
    certificate_id: UUID,
    *,
    unsigned_sha256: str,
    signed_sha256: str,
    signer_id: UUID | None = None,
    issued_at: dt.datetime | None = None,
) -> Certificate:
    """Issue a reviewed certificate; the one it supersedes becomes superseded in the same unit of work.

    Parameters
    ----------
    work : Work
    certificate_id : UUID
    unsigned_sha256, signed_sha256 : str
        Hashes of the typeset and of the signed file ("" where it was not signed).
    signer_id : UUID or None
    issued_at : datetime or None
        Now, where None.

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        REG-016 it was not reviewed.
    """
    issued = dataclasses.replace(
        work.get(Certificate, certificate_id),
        state=CertificateState.ISSUED,
        issued_at=issued_at or work.at,
        signer_id=signer_id,
        unsigned_sha256=unsigned_sha256,
        signed_sha256=signed_sha256,
    )
    work.change(issued)
    if issued.supersedes is not None:
        old = work.get(Certificate, issued.supersedes)
        work.change(dataclasses.replace(old, state=CertificateState.SUPERSEDED, reason=f"superseded by {issued.text}"))
    return issued


def withdraw_certificate(work: Work, certificate_id: UUID, *, reason: str) -> Certificate:
    """Withdraw a certificate, or a draft that will not be issued; its number stays taken.

    Parameters
    ----------
    work : Work
    certificate_id : UUID
    reason : str

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        REG-012 no reason is given; REG-016 it is superseded or withdrawn already.
    """
    if not reason.strip():
        raise FirstliftError(Problem("REG-012", "a certificate withdrawn without a reason", needed="the reason"))
    withdrawn = dataclasses.replace(
        work.get(Certificate, certificate_id), state=CertificateState.WITHDRAWN, reason=reason
    )
    work.change(withdrawn)
    return withdrawn
