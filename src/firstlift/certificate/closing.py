"""Sections that close a certificate: what was not tested, cautions, statement, signatures."""

from __future__ import annotations

from firstlift.certificate.model import Bullets, Paragraph, Section, Signatures
from firstlift.certificate.settings import PaperSettings
from firstlift.words.paper import Speaker

_NOT_PROVED, _CAUTIONS = 5, 6


def not_proved(say: Speaker) -> Section:
    """Say what such a test does not prove."""
    bullets = Bullets(tuple(say(f"not-proved.{index + 1}") for index in range(_NOT_PROVED)))
    return Section(say("not-proved"), (Paragraph(say("not-proved.intro")), bullets), together=True)


def cautions(say: Speaker) -> Section:
    """Give the cautions that go with every result."""
    bullets = Bullets(tuple(say(f"cautions.{index + 1}") for index in range(_CAUTIONS)))
    return Section(say("cautions"), (bullets,), together=True)


def statement(settings: PaperSettings, say: Speaker) -> Section:
    """Give the statement, the issuer's own text, and the places to sign."""
    own = (Paragraph(settings.own_text),) if settings.own_text else ()
    fields = (say("signatures.name"), say("signatures.date"), say("signatures.signature"))
    roles = (say("signatures.tested"), say("signatures.reviewed"))
    texts = (Paragraph(say("statement.text")), Paragraph(say("statement.deviations")))
    return Section(say("statement"), (*texts, *own, Signatures(roles, fields)), together=True)
