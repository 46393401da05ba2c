"""What a message takes along: issued certificates as they were handed out, and a visit's summary."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID, uuid4

import sqlalchemy as sa

from firstlift.certificate.settings import PaperSettings
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.places import Site
from firstlift.core.register.work import Attachment, Certificate, CertificateState, SiteVisit
from firstlift.store.files import keep_bytes, read_kept
from firstlift.store.open import Store
from firstlift.store.outbox import SentPaper
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES
from firstlift.usecases.papers.find import certificate_by
from firstlift.usecases.register.place import now
from firstlift.usecases.visitpapers.make import make_visit, printing_of, set_paper

_OVER = (CertificateState.SUPERSEDED, CertificateState.WITHDRAWN)


@dataclass(frozen=True, slots=True)
class PaperFacts:
    """A certificate with what a message says of it. ``by`` is the number of the one that takes its place."""

    certificate: Certificate
    serial: str
    tag: str
    site: str
    day: str
    owner_id: UUID
    site_id: UUID | None
    by: str

    @property
    def stands(self) -> bool:
        """Whether it is the one that counts."""
        return self.certificate.state is CertificateState.ISSUED


def facts_of(reader: Reader, certificates: Sequence[Certificate]) -> list[PaperFacts]:
    """Give what messages say of certificates.

    Parameters
    ----------
    reader : Reader
    certificates : sequence of Certificate

    Returns
    -------
    list of PaperFacts
        In the same order.
    """
    test, valve, position, site = (TABLES[name] for name in ("valve_test", "valve", "position", "site"))
    query = (
        sa.select(
            test.c.id, test.c.day, valve.c.serial, valve.c.owner_id, position.c.tag, position.c.site_id,
            site.c.name.label("site"),
        )
        .select_from(test.join(valve, valve.c.id == test.c.valve_id))
        .outerjoin(position, position.c.id == test.c.position_id)
        .outerjoin(site, site.c.id == position.c.site_id)
        .where(test.c.id.in_([one.test_id for one in certificates]))
    )  # fmt: skip
    rows = {row["id"]: row for row in reader.connection.execute(query).mappings()}
    found: list[PaperFacts] = []
    for one in certificates:
        row = rows[one.test_id]
        later = reader.list(Certificate, supersedes=one.id) if one.state is CertificateState.SUPERSEDED else []
        found.append(
            PaperFacts(
                one, row["serial"], row["tag"] or "", row["site"] or "", row["day"].isoformat(), row["owner_id"],
                row["site_id"], later[0].text if later else "",
            )
        )  # fmt: skip
    return found


def certificates_of_visit(reader: Reader, visit_id: UUID) -> list[Certificate]:
    """Give the issued certificates of a visit's tests, by number.

    Parameters
    ----------
    reader : Reader
    visit_id : UUID

    Returns
    -------
    list of Certificate
    """
    test, paper = TABLES["valve_test"], TABLES["certificate"]
    query = (
        sa.select(paper.c.id)
        .select_from(paper.join(test, test.c.id == paper.c.test_id))
        .where(test.c.visit_id == visit_id, paper.c.state == str(CertificateState.ISSUED))
    )
    found = list(reader.connection.execute(query).scalars())
    return reader.list(Certificate, id=frozenset(found), order=("series", "number")) if found else []


def certificates_by(reader: Reader, numbers: Sequence[str], *, said: bool = False) -> list[Certificate]:
    """Find certificates to send.

    Parameters
    ----------
    reader : Reader
    numbers : sequence of str
    said : bool
        Whether those that no longer stand may be among them: the message then says so.

    Returns
    -------
    list of Certificate

    Raises
    ------
    FirstliftError
        CRT-008 there is none; SND-003 it was never issued, or no longer stands and nobody says so.
    """
    found = [certificate_by(reader, number) for number in dict.fromkeys(numbers)]
    for one in found:
        if not one.signed_sha256:
            raise cannot_go(one, "it was never issued", "one that is reviewed and issued")
        if one.state in _OVER and not said:
            raise cannot_go(one, f"it is {one.state}", "the one that stands, or the word that it no longer stands")
    return found


def cannot_go(paper: Certificate, why: str, needed: str) -> FirstliftError:
    """Say why a certificate is not sent.

    Parameters
    ----------
    paper : Certificate
    why, needed : str

    Returns
    -------
    FirstliftError
    """
    return FirstliftError(Problem("SND-003", f"certificate {paper.text} cannot be sent: {why}", paper.text, needed))


def as_sent(reader: Reader, certificate: Certificate) -> SentPaper:
    """Give a certificate as it goes along, its file looked at against its hash.

    Parameters
    ----------
    reader : Reader
    certificate : Certificate

    Returns
    -------
    SentPaper

    Raises
    ------
    FirstliftError
        STO-010, STO-011 its file is missing or damaged.
    """
    size = len(read_kept(reader.folder, certificate.signed_sha256))
    name = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "_" for c in certificate.text)
    return SentPaper(
        certificate.id, certificate.text, certificate.signed_sha256, f"{name}.pdf", size, str(certificate.state)
    )


def keep_summary(
    store: Store, visit: SiteVisit, language: str, settings: PaperSettings, *, person_id: UUID
) -> SentPaper:
    """Make a visit's summary as it stands today, and keep its file as what was sent.

    Parameters
    ----------
    store : Store
    visit : SiteVisit
    language : str
    settings : PaperSettings
    person_id : UUID
        Who sends it.

    Returns
    -------
    SentPaper

    Raises
    ------
    FirstliftError
        PAP-001 it has no valve; CRT-001 to CRT-003, WRD-002 it cannot be printed.
    """
    at = now()
    printing = printing_of(at.date(), dataclasses.replace(settings, language=language))
    pdf = set_paper(make_visit(store, str(visit.id), printing), printing)
    sha256 = keep_bytes(store.folder, pdf)
    name = f"summary-{visit.start.isoformat()}-{language}.pdf"
    with store.work(at=at, who=str(person_id)) as work:
        if not work.list(Attachment, belongs_to=visit.id, sha256=sha256):
            zone = work.get(Site, visit.site_id).zone
            kept = Attachment(uuid4(), visit.id, name, "application/pdf", sha256, len(pdf), at, zone, person_id)
            work.add(kept)
    return SentPaper(visit.id, "", sha256, name, len(pdf), "")
