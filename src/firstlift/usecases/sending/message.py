"""The message itself: its words in the recipient's language, and its bytes with the papers attached.

Made by the standard library's email package, whose policy refuses a header with a line's end in it; addresses and names
are read by `firstlift.core.register.contacts` before. A message's identifier is its own for ever: a second copy, should
one ever arrive, is seen as such by mail programs.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.contacts import mail_address
from firstlift.core.register.people import PersonalDetails
from firstlift.core.register.work import CertificateState
from firstlift.store.files import read_kept
from firstlift.store.outbox import Message, SentPaper
from firstlift.usecases.sending.papers import PaperFacts
from firstlift.usecases.sending.settings import LARGEST_MB, MailSettings
from firstlift.words.paper import Speaker
from firstlift.words.place import local_date, written_in

# four letters stand for three bytes, and a line's end for each 76 of them
_GROWS = 4 / 3 * 78 / 76
_TEXT_BYTES = 20_000
LONGEST_NOTE = 2000
_MOST_LISTED = 60


@dataclass(frozen=True, slots=True)
class Said:
    """What a message says beside its papers: who sends it, of whom, and a note of theirs."""

    sender: str
    issuer: str = ""
    note: str = ""
    what: str = ""
    invented: bool = False
    summary: str = ""


def write_words(papers: Sequence[PaperFacts], to: PersonalDetails, language: str, said: Said) -> tuple[str, str]:
    """Write a message's subject and text.

    Parameters
    ----------
    papers : sequence of PaperFacts
    to : PersonalDetails
    language : str
        The recipient's.
    said : Said

    Returns
    -------
    subject, body : str
        Plain text; lines end in a line feed.
    """
    say = Speaker(language)
    with written_in(language):
        parts = [say("mail.dear", name=to.name), say("mail.one" if _alone(papers, said) else "mail.several")]
        if said.invented:
            parts.append(say("mail.invented"))
        if said.note.strip():
            parts.append(f"{say('mail.note')}\n{clean_note(said.note)}")
        parts += [_told(say, one) for one in papers[:_MOST_LISTED]]
        if said.summary:
            parts.append(f"{say('mail.summary')}\n{say('mail.file', name=said.summary)}")
        parts += [say("mail.found"), say("mail.check")]
        parts.append("\n".join(filter(None, (say("mail.regards"), said.sender, said.issuer))))
        subject = _subject(say, papers, said)
    return _one_line(subject), "\n\n".join(parts) + "\n"


def _alone(papers: Sequence[PaperFacts], said: Said) -> bool:
    return len(papers) == 1 and not said.summary


def _subject(say: Speaker, papers: Sequence[PaperFacts], said: Said) -> str:
    if _alone(papers, said):
        (only,) = papers
        return say("mail.subject", number=only.certificate.text, valve=only.tag or only.serial)
    count = len(papers) + bool(said.summary)
    return say("mail.subject-several", count=count, what=said.what or papers[0].site or papers[0].serial)


def _told(say: Speaker, one: PaperFacts) -> str:
    paper = one.certificate
    lines = [say("mail.number", number=paper.text)]
    if paper.state is CertificateState.SUPERSEDED:
        told = say("mail.superseded", by=one.by, reason=paper.reason) if one.by else say("mail.superseded-alone")
        lines.append(told)
    elif paper.state is CertificateState.WITHDRAWN:
        lines.append(say("mail.withdrawn", reason=paper.reason))
    if one.tag:
        lines.append(say("mail.valve", tag=one.tag, serial=one.serial))
    else:
        lines.append(say("mail.valve-nowhere", serial=one.serial))
    if one.site:
        lines.append(say("mail.site", site=one.site))
    lines.append(say("mail.day", date=local_date(dt.date.fromisoformat(one.day))))
    lines.append(say("mail.hash", sha256=paper.signed_sha256))
    return "\n".join(_one_line(line) for line in lines)


def clean_note(note: str) -> str:
    """Give a note as it goes along: lines as they were typed, nothing in it that cannot be seen.

    Parameters
    ----------
    note : str

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        SND-004 it is too long.
    """
    if len(note) > LONGEST_NOTE:
        raise FirstliftError(
            Problem("SND-004", f"the note has {len(note)} characters", "note", f"at most {LONGEST_NOTE}")
        )
    return "\n".join(_one_line(line) for line in note.splitlines()).strip()


def _one_line(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text).strip()


def check_size(papers: Sequence[SentPaper], most: int = LARGEST_MB * 1_000_000) -> None:
    """Refuse what would make a message larger than it may be.

    Parameters
    ----------
    papers : sequence of SentPaper
    most : int, [bytes]

    Raises
    ------
    FirstliftError
        SND-004.
    """
    size = sum(paper.size for paper in papers) * _GROWS + _TEXT_BYTES
    if size > most:
        raise FirstliftError(
            Problem(
                "SND-004",
                f"{len(papers)} papers make a message of {size / 1e6:.1f} MB",
                "message",
                f"at most {most / 1e6:.1f} MB",
                "Send fewer papers at a time, or hand the files over in another way",
            )
        )


def build(
    message: Message, to: PersonalDetails, folder: Path, *, settings: MailSettings | None = None, own: str = ""
) -> bytes:
    """Make a message's bytes, papers attached.

    Parameters
    ----------
    message : Message
    to : PersonalDetails
    folder : Path
        Of the register, for the files.
    settings : MailSettings or None
        Of the server that it goes to; None: a file for somebody's own mail program, which says who sends it.
    own : str
        Address of whoever sends it by their own program; "" where it is not known.

    Returns
    -------
    bytes
        Lines end in CR LF.

    Raises
    ------
    FirstliftError
        SND-001 the recipient's address; SND-004 it is too large; STO-010, STO-011 a file is missing or damaged.
    """
    made = EmailMessage(policy=SMTP)
    made["Date"] = format_datetime(dt.datetime.fromisoformat(message.made_at))
    if settings is not None:
        made["From"] = _address(settings.name, settings.address)
        if settings.reply_to:
            made["Reply-To"] = _address("", settings.reply_to)
        domain = settings.address.rpartition("@")[2]
    else:
        # mail programs open it as a message that is still to be sent
        made["X-Unsent"] = "1"
        if own:
            made["From"] = _address("", mail_address(own))
        domain = "firstlift.invalid"
    made["To"] = _address(to.name, mail_address(to.email))
    made["Subject"] = message.subject
    made["Message-ID"] = f"<{message.id}@{domain}>"
    made["Content-Language"] = message.language
    made.set_content(message.body, charset="utf-8")
    for paper in message.papers:
        made.add_attachment(read_kept(folder, paper.sha256), maintype="application", subtype="pdf", filename=paper.file)
    data = made.as_bytes()
    most = LARGEST_MB * 1_000_000 if settings is None else settings.largest_bytes
    if len(data) > most:
        check_size(message.papers, most - _TEXT_BYTES)
    return data


def _address(name: str, address: str) -> Address:
    local, _, domain = address.rpartition("@")
    return Address(name, local, domain)
