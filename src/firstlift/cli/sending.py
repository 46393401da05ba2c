"""``firstlift certificate send`` and ``outbox``: papers to contacts, as a message file or by a mail server."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from firstlift.cli.show import show

if TYPE_CHECKING:
    from firstlift.store.open import Store
    from firstlift.usecases.sending.settings import MailSettings

_WHO = "program:cli"


def send(arguments: argparse.Namespace) -> int:
    """Make a message of certificates for each contact; write it, or try to send it at once.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0: written, or taken by the server; 1: it waits, failed, or may not have arrived.
    """
    from firstlift.core.errors import Problem, UsageError
    from firstlift.store.outbox import Outbox, State, Way
    from firstlift.usecases.certify import write_whole
    from firstlift.usecases.papers.find import person_by
    from firstlift.usecases.register.place import opened
    from firstlift.usecases.sending.carry import carry
    from firstlift.usecases.sending.contacts import contact_by
    from firstlift.usecases.sending.papers import certificates_by, facts_of
    from firstlift.usecases.sending.queue import SendAsked, Sending, act, message_file, put_in, recipients

    if bool(arguments.out) == bool(arguments.mail) or (arguments.out and len(arguments.to) > 1):
        needed = "--out for one recipient, or --mail"
        raise UsageError(Problem("USE-003", "one way is needed", "--out, --mail", needed))
    with opened(arguments.store) as store:
        mail = _mail(store, arguments.mail)
        with store.read() as reader:
            person = person_by(reader, arguments.by)
            offered = recipients(reader, facts_of(reader, certificates_by(reader, arguments.number, said=True)))
            chosen = tuple(contact_by(offered, one).id for one in arguments.to)
        outbox, way = Outbox(store.folder), Way.SERVER if mail else Way.FILE
        asked = SendAsked(tuple(arguments.number), chosen, way, arguments.note, arguments.say)
        made = put_in(store, outbox, asked, Sending(person, mail=mail))
        if mail is None:
            (message,) = made
            ready = outbox.find(message.id) or message
            details = person.details
            write_whole(Path(arguments.out), message_file(store, ready, details.email if details else ""))
            act(store, outbox, message.id, State.BY_HAND, who=str(person.id))
            show(f"message {arguments.out}: open it in your mail program and send it")
            return 0
        carry(store, outbox, mail, who=_WHO)
        stands = [outbox.find(one.id) or one for one in made]
    for one in stands:
        show(f"{one.state:<9} {', '.join(paper.number for paper in one.papers)}  {one.said}".rstrip())
    return 0 if all(one.state is State.SENT for one in stands) else 1


def outbox(arguments: argparse.Namespace) -> int:
    """List what is in the outbox; where a server is stated, try what is due first.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0.
    """
    from firstlift.core.register.contacts import Contact
    from firstlift.store.outbox import Outbox
    from firstlift.usecases.register.place import opened
    from firstlift.usecases.sending.carry import carry
    from firstlift.usecases.sending.contacts import contact_said

    with opened(arguments.store) as store:
        kept = Outbox(store.folder)
        if arguments.mail:
            show(f"{carry(store, kept, _mail(store, arguments.mail), who=_WHO)} sent now")
        with store.read() as reader:
            for one in kept.every():
                to = contact_said(reader.find(Contact, one.contact_id))
                papers = ", ".join(paper.number or paper.file for paper in one.papers)
                show(f"{one.made_at[:16]}  {one.state:<9} {papers}  {to}  {one.said}".rstrip())
    return 0


def _mail(store: Store, named: str | None) -> MailSettings | None:
    from firstlift.usecases.sending.settings import check_apart, read_mail_settings

    if not named:
        return None
    mail = read_mail_settings(Path(named))
    check_apart(Path(named), mail, store.folder)
    return mail
