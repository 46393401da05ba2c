"""Labels for the valves of the register, by the tags where they hang."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from firstlift.certificate.labels import Label, render_labels
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.words.paper import Speaker

MOST_LABELS = 5_000
_BASE = re.compile(r"https?://[^\s<>\"]{1,150}")
_INVENTED = "invented"


@dataclass(frozen=True, slots=True)
class LabelWish:
    """Which labels: by tags, at one site where it is named; no tags: every valve of the site.

    ``fonts`` is a folder with fonts for letters that the typesetter has none for.
    """

    tags: tuple[str, ...] = ()
    site: str = ""
    base_url: str = ""
    roll: bool = False
    language: str = "en"
    fonts: str = ""


def valve_uri(valve_id: UUID, base_url: str = "") -> str:
    """Give what a valve's code carries: a stable URI of its own, or a page below a given address.

    Parameters
    ----------
    valve_id : UUID
    base_url : str

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        LBL-004 the address is none.
    """
    if not base_url:
        return f"firstlift:valve/{valve_id}"
    if _BASE.fullmatch(base_url) is None or "?" in base_url or "#" in base_url:
        raise FirstliftError(
            Problem("LBL-004", f"'{base_url[:80]}' is no address that pages can stand below", "--base-url",
                    "one such as https://valves.example/app")
        )  # fmt: skip
    return f"{base_url.rstrip('/')}/valve/{valve_id}"


def make_labels(store: Store, wish: LabelWish, *, day: dt.date) -> tuple[bytes, int]:
    """Set the labels as PDF.

    Parameters
    ----------
    store : Store
    wish : LabelWish
    day : date
        Of the printing.

    Returns
    -------
    pdf, labels : bytes, int

    Raises
    ------
    FirstliftError
        LBL-001 a text cannot be printed, LBL-002 no such tag or site, or it holds no valve, LBL-003 a tag stands at
        several sites, LBL-004 no address; WRD-002 there are no words in the language.
    """
    say = Speaker(wish.language)
    with store.read() as reader:
        labels = [_label(reader, position, wish, say) for position in _positions(reader, wish)]
    found = [label for label in labels if isinstance(label, Label)]
    problems = [label for label in labels if isinstance(label, Problem)]
    if wish.tags and problems:
        raise FirstliftError(problems)
    if not found:
        raise FirstliftError(Problem("LBL-002", "no valve hangs there", wish.site or "register", "a valve to label"))
    pdf = render_labels(found, day=day, roll=wish.roll, language=wish.language, fonts=wish.fonts)
    return pdf, len(found)


def _positions(reader: Reader, wish: LabelWish) -> list[Position]:
    sites = reader.by_key(Site, wish.site) if wish.site else []
    if wish.site and not sites:
        raise FirstliftError(Problem("LBL-002", f"the register has no site '{wish.site}'", "--site", "a site's name"))
    if not wish.tags:
        every = [one for site in sites for one in reader.list(Position, site_id=site.id, order=("tag_key",))]
        if len(every) > MOST_LABELS:
            raise FirstliftError(
                Problem("LBL-002", f"{len(every)} labels at once", wish.site, f"at most {MOST_LABELS}", "Name tags")
            )
        return every
    ids = {site.id for site in sites}
    return [_position(reader, tag, ids) for tag in dict.fromkeys(wish.tags)]


def _position(reader: Reader, tag: str, sites: Sequence[UUID] | set[UUID]) -> Position:
    found = [one for one in reader.by_key(Position, tag) if not sites or one.site_id in sites]
    if len(found) == 1:
        return found[0]
    if found:
        names = ", ".join(sorted(f"'{reader.get(Site, one.site_id).name}'" for one in found))
        raise FirstliftError(
            Problem("LBL-003", f"tag '{tag}' stands at {names}", "register", "one place", "Say --site")
        )
    raise FirstliftError(Problem("LBL-002", f"the register has no tag '{tag}'", "register", "a tag that it holds"))


def _label(reader: Reader, position: Position, wish: LabelWish, say: Speaker) -> Label | Problem:
    hanging = reader.list(Installation, position_id=position.id, until=None)
    if not hanging:
        return Problem("LBL-002", f"no valve hangs at '{position.tag}'", "register", "a valve to label")
    valve = reader.get(RegisteredValve, hanging[0].valve_id)
    site = reader.get(Site, position.site_id)
    owner = reader.get(Owner, site.owner_id)
    made = " ".join(filter(None, (valve.maker, valve.model)))
    rows = [
        (say("label.serial"), valve.serial),
        (say("label.set"), valve.set_pressure.text),
        (say("label.type"), made),
        (say("label.at"), position.equipment),
    ]
    invented = _INVENTED in search_key(f"{owner.name} {owner.note}")
    return Label(
        tag=position.tag,
        rows=tuple((name, _cut(text, 40)) for name, text in rows if text),
        place=_cut(f"{site.name} · {owner.name}", 60),
        uri=valve_uri(valve.id, wish.base_url),
        short=str(valve.id),
        mark=say("label.invented") if invented else "",
    )


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
