"""Carry the outbox: try what is due, keep what came of it, and tell the chain. One carries at a time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from uuid import UUID

from firstlift.core.errors import FirstliftError
from firstlift.core.register.contacts import Contact
from firstlift.core.register.work import Certificate
from firstlift.store.open import Store
from firstlift.store.outbox import Message, Outbox, State
from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now
from firstlift.usecases.retry import next_try
from firstlift.usecases.sending.deeds import OF_STATE, PaperDeed, is_told, note_papers
from firstlift.usecases.sending.message import build
from firstlift.usecases.sending.server import NotTaken, Outcome, hand_in
from firstlift.usecases.sending.settings import MailSettings, read_password

# a message that is made but not let go after so long was left so by a crash
_MADE_S = 600
_TELLING_S = 60
_BY_PEOPLE = (State.STOPPED, State.BY_HAND)


def carry(
    store: Store,
    outbox: Outbox,
    mail: MailSettings | None,
    *,
    who: str,
    stopped: Callable[[], bool] = lambda: False,
) -> int:
    """Mend what a crash left, try what is due, and tell the chain what came of it.

    Parameters
    ----------
    store : Store
    outbox : Outbox
    mail : MailSettings or None
        None: no server is stated, nothing is tried.
    who : str
        Who stands in the chain for what came of it.
    stopped : callable
        Asked between two messages.

    Returns
    -------
    int
        How many were sent; 0 where another carries already.
    """
    with outbox.carrying() as mine:
        if not mine:
            return 0
        _mend(store, outbox)
        sent = 0
        if mail is not None:
            sent = _try_all(store, outbox, mail, stopped)
        _tell(store, outbox, who)
        return sent


def _try_all(store: Store, outbox: Outbox, mail: MailSettings, stopped: Callable[[], bool]) -> int:
    sent = 0
    refused = ""
    for message in outbox.due(text_of(now())):
        if stopped():
            break
        if not outbox.claim(message.id, text_of(now())):
            continue
        if refused:
            # the same user and password would be refused again, and servers lock out whoever tries often
            outbox.settle(message.id, State.FAILED, refused, text_of(now()))
            continue
        try:
            said = _hand_over(store, outbox, mail, message)
        except NotTaken as missed:
            refused = missed.said if missed.outcome is Outcome.SIGN_IN else ""
            _missed(outbox, message, missed)
        except FirstliftError as error:
            problem = error.problems[0]
            refused = problem.what if problem.code == "SND-005" else ""
            outbox.settle(message.id, State.FAILED, problem.what, text_of(now()))
        else:
            sent += 1
            outbox.settle(message.id, State.SENT, said, text_of(now()))
    return sent


def _hand_over(store: Store, outbox: Outbox, mail: MailSettings, message: Message) -> str:
    with store.read() as reader:
        contact = reader.find(Contact, message.contact_id)
        for paper in message.papers:
            stands = reader.find(Certificate, paper.about) if paper.state else None
            if stands is not None and str(stands.state) != paper.state:
                said = f"{stands.text} is {stands.state} since this message was made"
                raise NotTaken(Outcome.NEVER, f"{said}; send it anew, with that said, or the one that stands")
    if contact is None or contact.details is None or not contact.active:
        raise NotTaken(Outcome.NEVER, "what identified the recipient was removed")
    data = build(message, contact.details, store.folder, settings=mail)
    password = read_password(mail.server)
    return hand_in(mail.server, password, mail.address, contact.details.email, data, lambda: _given(outbox, message.id))


def _given(outbox: Outbox, message_id: UUID) -> None:
    outbox.given(message_id, text_of(now()))


def _missed(outbox: Outbox, message: Message, missed: NotTaken) -> None:
    at = now()
    again: dt.datetime | None = None
    if missed.outcome in (Outcome.OFFLINE, Outcome.LATER):
        again = next_try(message.tries, at, reached=missed.outcome is Outcome.LATER)
    if again is not None:
        outbox.settle(message.id, State.WAITING, missed.said, text_of(at), text_of(again))
    else:
        state = State.UNSURE if missed.outcome is Outcome.UNSURE else State.FAILED
        outbox.settle(message.id, state, missed.said, text_of(at))


def _mend(store: Store, outbox: Outbox) -> None:
    outbox.mend(text_of(now()))
    old = text_of(now() - dt.timedelta(seconds=_MADE_S))
    for message in outbox.every((State.MADE,)):
        if message.made_at > old:
            continue
        with store.read() as reader:
            meant = is_told(reader, message, PaperDeed.TO_SEND) or is_told(reader, message, PaperDeed.READY)
        if meant:
            outbox.release(message.id, text_of(now()))
        else:
            outbox.drop(message.id)


def _tell(store: Store, outbox: Outbox, who: str) -> None:
    """Write into the chain where messages ended; what it has already is not written twice."""
    fresh = text_of(now() - dt.timedelta(seconds=_TELLING_S))
    for message in outbox.untold():
        if message.state in _BY_PEOPLE and message.state_at > fresh:
            # whoever did it is just telling it
            continue
        deed = OF_STATE[message.state]
        with store.read() as reader:
            known = is_told(reader, message, deed, message.state_at)
        if not known:
            with store.work(at=now(), who=who) as work:
                note_papers(work, deed, message, since=message.state_at, why=_why(message))
        outbox.told(message.id)


def _why(message: Message) -> str:
    """Give why in a word that holds nobody's address: a server's own words may."""
    if message.state is State.SENT:
        return ""
    answered = message.said.removeprefix("the server answered ").split(" ", 1)[0]
    return answered if answered.isdecimal() and len(answered) == 3 else "not-taken"
