"""From papers and recipients to messages in the outbox; and what people do with those that lie there.

Two steps, as with every file that the register names: a message is put in as made, then the chain says that it is to be
sent, then it is let go. What a crash left made is let go where the chain has it, else taken out again (see `carry`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID, uuid4

from firstlift.certificate.settings import PLAIN, PaperSettings
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.contacts import Contact
from firstlift.core.register.people import Person
from firstlift.core.register.places import Site
from firstlift.core.register.work import SiteVisit
from firstlift.store.open import Store
from firstlift.store.outbox import Message, Outbox, SentPaper, State, Way
from firstlift.store.read import Reader
from firstlift.store.side_file import text_of
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.place import now
from firstlift.usecases.sending.contacts import contacts_of, removed
from firstlift.usecases.sending.deeds import OF_STATE, PaperDeed, note_papers
from firstlift.usecases.sending.message import Said, build, check_size, clean_note, write_words
from firstlift.usecases.sending.papers import PaperFacts, as_sent, certificates_by, facts_of, keep_summary
from firstlift.usecases.sending.settings import MailSettings

_MOST_MESSAGES = 50
_MOST_PAPERS = 200


@dataclass(frozen=True, slots=True)
class SendAsked:
    """What is to be sent to whom.

    ``said``: certificates that no longer stand may be among them, and the message says so. ``summary``: of the visit,
    in each recipient's language. ``way``: by the mail server, or as files for somebody's own mail program.
    """

    numbers: tuple[str, ...]
    contacts: tuple[UUID, ...]
    way: Way
    note: str = ""
    said: bool = False
    visit_id: UUID | None = None
    summary: bool = False


@dataclass(frozen=True, slots=True)
class Looked:
    """A message as it would go, to be looked at before."""

    contact: Contact
    subject: str
    body: str
    papers: tuple[SentPaper, ...]


@dataclass(frozen=True, slots=True)
class Sending:
    """Who sends, as what, by which server; ``mail`` None where none is stated."""

    person: Person
    paper: PaperSettings = PLAIN
    mail: MailSettings | None = None
    invented: bool = False

    @property
    def who(self) -> str:
        """What stands in the chain."""
        return str(self.person.id)


def look(store: Store, asked: SendAsked, sending: Sending) -> list[Looked]:
    """Give the messages that would be made, without making them.

    Parameters
    ----------
    store : Store
    asked : SendAsked
    sending : Sending

    Returns
    -------
    list of Looked

    Raises
    ------
    FirstliftError
        CRT-008, SND-002 to SND-004.
    """
    with store.read() as reader:
        facts, contacts, visit = _checked(reader, asked)
        papers = tuple(as_sent(reader, one.certificate) for one in facts)
    check_size(papers, *_most(sending, asked))
    found: list[Looked] = []
    for contact in contacts:
        subject, body = _words(facts, contact, asked, sending, visit)
        found.append(Looked(contact, subject, body, papers))
    return found


def put_in(store: Store, outbox: Outbox, asked: SendAsked, sending: Sending) -> list[Message]:
    """Make the messages and put them into the outbox, where they wait for the server or for somebody to take them.

    Parameters
    ----------
    store : Store
    outbox : Outbox
    asked : SendAsked
    sending : Sending

    Returns
    -------
    list of Message

    Raises
    ------
    FirstliftError
        CRT-008, SND-002 to SND-004; SND-006 no server is stated; WRD-002 a summary cannot be printed in a language.
    """
    if asked.way is Way.SERVER and sending.mail is None:
        raise FirstliftError(
            Problem(
                "SND-006",
                "no mail server is stated",
                needed="firstlift serve --mail MAIL.toml, or the way by a file",
                next="Take the message as a file into your own mail program",
            )
        )
    with store.read() as reader:
        facts, contacts, visit = _checked(reader, asked)
        papers = tuple(as_sent(reader, one.certificate) for one in facts)
    at = text_of(now())
    made: list[Message] = []
    for contact in contacts:
        with_summary = papers
        if visit is not None and asked.summary:
            summary = keep_summary(store, visit, contact.language, sending.paper, person_id=sending.person.id)
            with_summary = (*papers, summary)
        check_size(with_summary, *_most(sending, asked))
        subject, body = _words(facts, contact, asked, sending, visit)
        made.append(
            Message(uuid4(), at, sending.who, asked.way, contact.id, contact.language, subject, body, with_summary)
        )
    for message in made:
        outbox.add(message)
    with store.work(at=now(), who=sending.who) as work:
        for message in made:
            deed = PaperDeed.TO_SEND if asked.way is Way.SERVER else PaperDeed.READY
            note_papers(work, deed, message)
    for message in made:
        outbox.release(message.id, text_of(now()))
    return made


def _most(sending: Sending, asked: SendAsked) -> tuple[int, ...]:
    return (sending.mail.largest_bytes,) if sending.mail is not None and asked.way is Way.SERVER else ()


def _checked(reader: Reader, asked: SendAsked) -> tuple[list[PaperFacts], list[Contact], SiteVisit | None]:
    """Read what is asked: papers that can go, and contacts of their owner's."""
    visit = None if asked.visit_id is None else reader.get(SiteVisit, asked.visit_id)
    if not asked.numbers and not (visit and asked.summary):
        raise _nothing("no paper is chosen", "one paper or more")
    if len(asked.numbers) > _MOST_PAPERS or len(asked.contacts) > _MOST_MESSAGES:
        raise _nothing("too much is asked at once", f"at most {_MOST_PAPERS} papers to {_MOST_MESSAGES} people")
    facts = facts_of(reader, certificates_by(reader, asked.numbers, said=asked.said))
    if not asked.contacts:
        raise _nothing("nobody is chosen", "one recipient or more")
    offered = {one.id: one for one in recipients(reader, facts, visit)}
    strangers = [one for one in asked.contacts if one not in offered]
    if strangers:
        found = reader.find(Contact, strangers[0])
        if found is not None and found.details is None:
            raise removed()
        raise _nothing(f"'{strangers[0]}' is no contact of these papers", "a contact of their owner's, for their site")
    clean_note(asked.note)
    return facts, [offered[one] for one in dict.fromkeys(asked.contacts)], visit


def recipients(reader: Reader, facts: Sequence[PaperFacts], visit: SiteVisit | None = None) -> list[Contact]:
    """Give who may be sent papers: contacts of the owner of all of them, for every site that they are of.

    Parameters
    ----------
    reader : Reader
    facts : sequence of PaperFacts
    visit : SiteVisit or None

    Returns
    -------
    list of Contact
    """
    places = places_of(reader, facts, visit)
    if not places:
        return []
    (owner, site), *others = sorted(places, key=str)
    found = contacts_of(reader, owner, site)
    for owner, site in others:
        also = {one.id for one in contacts_of(reader, owner, site)}
        found = [one for one in found if one.id in also]
    return found


def places_of(
    reader: Reader, facts: Sequence[PaperFacts], visit: SiteVisit | None = None
) -> set[tuple[UUID, UUID | None]]:
    """Give the owners and sites that papers are of.

    Parameters
    ----------
    reader : Reader
    facts : sequence of PaperFacts
    visit : SiteVisit or None

    Returns
    -------
    set of (UUID, UUID or None)
        Owner, and site where the valve hung anywhere.
    """
    found = {(one.owner_id, one.site_id) for one in facts}
    if visit is not None:
        found.add((reader.get(Site, visit.site_id).owner_id, visit.site_id))
    return found


def _words(
    facts: Sequence[PaperFacts], contact: Contact, asked: SendAsked, sending: Sending, visit: SiteVisit | None
) -> tuple[str, str]:
    assert contact.details is not None
    summary = f"summary-{visit.start.isoformat()}-{contact.language}.pdf" if visit and asked.summary else ""
    said = Said(
        name_of(sending.person),
        sending.paper.issuer,
        asked.note,
        visit.name if visit else "",
        sending.invented,
        summary,
    )
    return write_words(facts, contact.details, contact.language, said)


def message_file(store: Store, message: Message, own: str = "") -> bytes:
    """Give a ready message as the file that mail programs open.

    Parameters
    ----------
    store : Store
    message : Message
    own : str
        Address of whoever sends it, where it is known.

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        SND-002 what identifies the recipient was removed; SND-007 it is not for that way, or over; STO-010, STO-011.
    """
    if message.way is not Way.FILE or message.state is not State.READY:
        raise _not_now(message)
    with store.read() as reader:
        contact = reader.get(Contact, message.contact_id)
    if contact.details is None:
        raise removed()
    return build(message, contact.details, store.folder, own=own)


def act(store: Store, outbox: Outbox, message_id: UUID, what: State, *, who: str) -> Message:
    """Do with a message what somebody asks: stop it, try it again or at once, or keep that they sent it themselves.

    Parameters
    ----------
    store : Store
    outbox : Outbox
    message_id : UUID
    what : State
        STOPPED, WAITING or BY_HAND.
    who : str

    Returns
    -------
    Message
        As it stands then.

    Raises
    ------
    FirstliftError
        SND-007 it stands where that cannot be done, or there is none.
    """
    message = outbox.find(message_id)
    if message is None:
        raise FirstliftError(Problem("SND-007", "there is no such message", "outbox", "one that is listed"))
    at = text_of(now())
    moves = {State.STOPPED: outbox.stop, State.WAITING: outbox.again, State.BY_HAND: outbox.by_hand}
    if (what is State.WAITING) != (message.way is Way.SERVER) and what is not State.STOPPED:
        raise _not_now(message)
    if not moves[what](message_id, at):
        raise _not_now(outbox.find(message_id) or message)
    with store.work(at=now(), who=who) as work:
        if what is State.WAITING:
            note_papers(work, PaperDeed.AGAIN, message)
        else:
            note_papers(work, OF_STATE[what], message, since=at)
    outbox.told(message_id)
    return replace(message, state=what, state_at=at)


def _nothing(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("SND-002", what, "send", needed))


def _not_now(message: Message) -> FirstliftError:
    return FirstliftError(
        Problem(
            "SND-007",
            f"the message is {message.state}: that cannot be done now",
            "outbox",
            "a message that stands where it can",
            "Load the page again and look where it stands",
        )
    )
