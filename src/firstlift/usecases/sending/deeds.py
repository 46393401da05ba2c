"""What the chain says of papers on their way: by identifiers and hashes, never a name, an address or a text."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.chain import DEED
from firstlift.store.outbox import Message, State
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table
from firstlift.store.work import Work


class PaperDeed(StrEnum):
    """What was done with a paper."""

    TO_SEND = "paper-to-send"
    READY = "paper-made-ready"
    SENT = "paper-sent"
    BY_HAND = "paper-sent-by-hand"
    FAILED = "paper-not-sent"
    UNSURE = "paper-maybe-sent"
    STOPPED = "paper-sending-stopped"
    AGAIN = "paper-to-send-again"


OF_STATE = {
    State.SENT: PaperDeed.SENT,
    State.BY_HAND: PaperDeed.BY_HAND,
    State.FAILED: PaperDeed.FAILED,
    State.UNSURE: PaperDeed.UNSURE,
    State.STOPPED: PaperDeed.STOPPED,
}


@dataclass(frozen=True, slots=True)
class PaperTold:
    """One line of a paper's sendings; ``who`` is as in the chain. ``since``: from when the message stands there."""

    number: int
    at: str
    who: str
    deed: PaperDeed
    message_id: str
    contact_id: str
    file_sha256: str
    since: str
    why: str


def note_papers(work: Work, deed: PaperDeed, message: Message, **more: str) -> None:
    """Write into the chain what was done with each paper of a message.

    Parameters
    ----------
    work : Work
    deed : PaperDeed
    message : Message
    **more : str
        Never a name, an address or a text that somebody typed.
    """
    for paper in message.papers:
        said = {
            "file_sha256": paper.sha256,
            "message": str(message.id),
            "to": str(message.contact_id),
            "way": str(message.way),
        }
        if paper.state not in ("issued", ""):
            said["stands"] = paper.state
        work.note_deed(str(deed), paper.about, {**said, **more})


def is_told(reader: Reader, message: Message, deed: PaperDeed, since: str = "") -> bool:
    """Say whether the chain has a deed of a message.

    Parameters
    ----------
    reader : Reader
    message : Message
    deed : PaperDeed
    since : str
        Since when the message stands where it stands; "" for any time.

    Returns
    -------
    bool
    """
    for one in told_of(reader, message.papers[0].about):
        if one.message_id == str(message.id) and one.deed == deed and since in ("", one.since):
            return True
    return False


def told_of(reader: Reader, about: UUID) -> Sequence[PaperTold]:
    """Give what the chain says of the sendings of a paper, in order.

    Parameters
    ----------
    reader : Reader
    about : UUID
        A certificate, or a visit.

    Returns
    -------
    sequence of PaperTold
    """
    table = audit_table.c
    query = (
        sa.select(table.number, table.at, table.who, table.after)
        .where(table.entry_id == about, table.kind == DEED)
        .order_by(table.number)
    )
    found: list[PaperTold] = []
    for number, at, who, after in reader.connection.execute(query):
        said = json.loads(after)
        if said.get("deed") in tuple(PaperDeed):
            message, to, sha256 = (said[name] for name in ("message", "to", "file_sha256"))
            since, why = said.get("since", ""), said.get("why", "")
            found.append(PaperTold(number, at, who, PaperDeed(said["deed"]), message, to, sha256, since, why))
    return found
