"""Certificates: from the draft by one pair of eyes, the review by another, to the signed and issued file."""

from __future__ import annotations

from typing import Annotated, Any

import sqlalchemy as sa
from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.people import Person
from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES
from firstlift.usecases.keys import WARNING, signing_key
from firstlift.usecases.papers.find import certificate_by, name_of
from firstlift.usecases.papers.life import (
    issue_certificate,
    issued_file,
    print_draft,
    review_certificate,
    withdraw_certificate,
)
from firstlift.usecases.register.place import now
from firstlift.usecases.register.told import tell
from firstlift.web.here import HereNow
from firstlift.web.lists import PAGE, PageNumber, names, teller
from firstlift.web.page import show
from firstlift.web.pages.outbox import sendings_of
from firstlift.web.roles import May

router = APIRouter()
Text = Annotated[str, Form()]
_OPEN = (CertificateState.DRAFT, CertificateState.REVIEWED)
_MOST_OFFERED = 6


@router.get("/papers")
def papers_page(here: HereNow, state: str = "", page: PageNumber = 1) -> Response:
    """List certificates, the latest first."""
    page = max(page, 1)
    equal = {"state": CertificateState(state)} if state in tuple(CertificateState) else {}
    with here.store.read() as reader:
        total = reader.count(Certificate, **equal)
        found = reader.list(Certificate, order=("-reserved_at", "-id"), limit=PAGE, offset=(page - 1) * PAGE, **equal)
        rows = _rows(reader, found)
        # somebody who looks for certificates in a state, or leafs through them, does not look for one to draft
        offered = _without_certificate(reader) if not equal and page == 1 else []
    pages = max(1, -(-total // PAGE))
    return show(
        here,
        "papers.html",
        rows=rows,
        offered=offered,
        total=total,
        page=page,
        pages=pages,
        state=state,
        states=tuple(CertificateState),
        query=f"state={state}",
    )


def _rows(reader: Reader, papers: list[Certificate]) -> list[dict[str, object]]:
    """Give what a list shows of certificates, from one question: a test's whole result is not read."""
    query = _tests_told().where(TABLES["valve_test"].c.id.in_([paper.test_id for paper in papers]))
    told = {row["id"]: row for row in reader.connection.execute(query).mappings()}
    return [{"paper": paper, **told[paper.test_id]} for paper in papers]


def _without_certificate(reader: Reader) -> list[sa.RowMapping]:
    """Give the latest tests that a certificate can be drafted of and that have none yet: the latest first."""
    test, later, paper = TABLES["valve_test"], TABLES["valve_test"].alias(), TABLES["certificate"]
    query = (
        _tests_told()
        .where(
            test.c.recording_sha256 > "",
            test.c.sheet_sha256 > "",
            ~sa.exists().where(paper.c.test_id == test.c.id),
            ~sa.exists().where(later.c.supersedes == test.c.id),
        )
        .order_by(test.c.at.desc(), test.c.id)
        .limit(_MOST_OFFERED)
    )
    return list(reader.connection.execute(query).mappings())


def _tests_told() -> sa.Select[Any, Any, Any, Any, Any]:
    """Ask for what a list shows of tests."""
    test, valve, position = TABLES["valve_test"], TABLES["valve"], TABLES["position"]
    return (
        sa.select(test.c.id, test.c.day, test.c.verdict, valve.c.serial, position.c.tag)
        .select_from(test.join(valve, valve.c.id == test.c.valve_id))
        .outerjoin(position, position.c.id == test.c.position_id)
    )


@router.get("/papers/{number}")
def paper_page(here: HereNow, number: str) -> Response:
    """Show where a certificate stands and what may be done with it."""
    with here.store.read() as reader:
        paper = certificate_by(reader, number)
        test = reader.get(ValveTest, paper.test_id)
        by = [reader.find(Person, p) if p else None for p in (paper.reviewer_id, paper.signer_id)]
        old = reader.find(Certificate, paper.supersedes) if paper.supersedes else None
        new = reader.list(Certificate, supersedes=paper.id)
        values = {
            "paper": paper,
            "test": test,
            "valve": reader.get(RegisteredValve, test.valve_id),
            "testers": names(reader, test.people),
            "reviewer": name_of(by[0]),
            "signer": name_of(by[1]),
            "old": old,
            "new": new[0] if new else None,
            "sendings": sendings_of(reader, paper.id),
            "changes": [{**c, "who": teller(reader, str(c["who"]))} for c in tell(reader, paper).changes],
        }
    tested_it = here.person.id in test.people
    return show(here, "paper.html", tested_it=tested_it, own_key=here.settings.key is None, warning=WARNING, **values)


@router.post("/papers/{number}/review")
def review(here: HereNow, number: str, read: Text = "") -> Response:
    """Review a draft, by somebody who did not test."""
    here.must(May.REVIEW)
    if not read:
        raise FirstliftError(
            Problem("WEB-009", "it is not confirmed that the draft was read", "Review", "the tick: I have read it")
        )
    review_certificate(here.store, number, by=here.who)
    return RedirectResponse(f"/papers/{number}", 303)


@router.post("/papers/{number}/issue")
def issue(here: HereNow, number: str) -> Response:
    """Sign and issue a reviewed certificate."""
    here.must(May.REVIEW)
    key = signing_key(here.settings.key, here.settings.passphrase, at=now())
    issue_certificate(here.store, number, by=here.who, key=key, settings=here.settings.paper)
    return RedirectResponse(f"/papers/{number}", 303)


@router.post("/papers/{number}/withdraw")
def withdraw(here: HereNow, number: str, reason: Text = "") -> Response:
    """Withdraw a certificate, with the reason that its readers will see."""
    here.must(May.REVIEW)
    withdraw_certificate(here.store, number, by=here.who, reason=reason)
    return RedirectResponse(f"/papers/{number}", 303)


@router.get("/papers/{number}/file.pdf")
def paper_file(here: HereNow, number: str, look: str = "") -> Response:
    """Give the file: as issued, or the draft with its watermark; to ``look`` at where the browser can show it."""
    with here.store.read() as reader:
        paper = certificate_by(reader, number)
    if paper.state in _OPEN:
        pdf, name = print_draft(here.store, number, here.settings.paper).pdf, f"{paper.text}-draft.pdf"
    else:
        pdf, name = issued_file(here.store, number).pdf, f"{paper.text}.pdf"
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "_" for c in name)
    how = "inline" if look else "attachment"
    headers = {"Content-Disposition": f'{how}; filename="{safe}"'}
    return Response(pdf, media_type="application/pdf", headers=headers)
