"""A register with issued certificates whose files are kept, made by the store's own steps: for what is sent."""

import datetime as dt
from dataclasses import replace
from uuid import uuid4

from firstlift.core.register.work import Attachment, Certificate
from firstlift.store import numbering
from firstlift.store.files import keep_bytes
from tests.contract.store import entries as e

REVIEWER = replace(e.PERSON, id=e.ident(90), details=None, details_sha256="")
_BEFORE_TEST = tuple(one for one in e.ALL if one not in (e.CERTIFICATE, e.ATTACHMENT, e.IDENTITY, e.WORD))


def fill(store):
    """Put in one entry of every kind that a certificate stands on, and a contact."""
    with store.work(at=e.AT, who=str(e.PERSON.id)) as work:
        work.add_all([*_BEFORE_TEST, REVIEWER])


def issue(
    store,
    *,
    pdf=b"%PDF-1.7 invented",
    supersedes=None,
    reason="",
    issued=True,
    test=e.TEST,
    people=(e.PERSON.id, REVIEWER.id),
):
    """Draft, review and issue a certificate of the test."""
    at = dt.datetime(2026, 3, 3, 9, 0, tzinfo=dt.UTC)
    with store.work(at=at, who=str(people[0])) as work:
        made = numbering.reserve_certificate(
            work, certificate_id=uuid4(), test_id=test.id, series="MB", zone=test.zone,
            supersedes=None if supersedes is None else supersedes.id,
        )  # fmt: skip
        if reason:
            made = replace(made, reason=reason)
            work.change(made)
        if not issued:
            return made
        numbering.review_certificate(work, made.id, reviewer_id=people[1])
        kept = keep_bytes(store.folder, pdf)
        done = numbering.issue_certificate(
            work, made.id, unsigned_sha256="ab" * 32, signed_sha256=kept, signer_id=people[0]
        )
        if supersedes is not None:
            old = work.get(Certificate, supersedes.id)
            work.change(replace(old, reason=reason))
        work.add(
            Attachment(
                uuid4(), done.id, f"{done.text}.pdf", "application/pdf", kept, len(pdf), at, test.zone, people[0]
            )
        )
        return done
