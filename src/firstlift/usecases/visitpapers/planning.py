"""Make the planning sheet: next dates of a register's valves, on a paper of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from firstlift.certificate.papers.dates import Planning, build_dates
from firstlift.certificate.papers.facts import Hung, Printing
from firstlift.certificate.papers.model import JobPaper
from firstlift.certificate.papers.parts import is_invented
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.reliability.answer import Answer
from firstlift.formats.interval_rows import read_interval_tables
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.interval import Asked, draw_group_survival, next_dates
from firstlift.usecases.register.lives import row_name, rows_of_register
from firstlift.words.paper import Speaker
from firstlift.words.place import written_in


@dataclass(frozen=True, slots=True)
class PlanningAsked:
    """Whose next dates: of one site or all, of some valves or all; what makes a group; what the owner asks."""

    site: str = ""
    valves: tuple[str, ...] = ()
    group_by: str = "none"
    asked: Asked = field(default_factory=Asked)


def make_planning(store: Store, wish: PlanningAsked, printing: Printing) -> JobPaper:
    """Make the planning sheet. All tests of the register are evidence; only the valves asked for are listed.

    Parameters
    ----------
    store : Store
    wish : PlanningAsked
    printing : Printing

    Returns
    -------
    JobPaper

    Raises
    ------
    FirstliftError
        PAP-005 no such site, or no valve hangs there; REL-004 nothing to answer from; UsageError where what is asked
        makes no sense.
    """
    rows = rows_of_register(store, group_by=wish.group_by)
    answer = next_dates(rows, wish.asked, read_interval_tables())
    with store.read() as reader:
        hung = _hung(reader, wish)
        owners = reader.list(Owner, order=("name_key",))
        sites = reader.by_key(Site, wish.site) if wish.site else []
        named = [reader.get(Owner, site.owner_id) for site in sites] or owners
    subject = " · ".join((*(site.name for site in sites[:1]), *(owner.name for owner in named[:2])))
    invented = any(is_invented(owner) for owner in named)
    with written_in(printing.settings.language):
        pictures = _pictures(answer, hung, Speaker(printing.settings.language))
        return build_dates(Planning(answer, hung, pictures, subject, invented), printing)


def _hung(reader: Reader, wish: PlanningAsked) -> dict[str, Hung]:
    sites = {site.id for site in (reader.by_key(Site, wish.site) if wish.site else reader.stream(Site))}
    valves = {valve.id: valve for valve in reader.stream(RegisteredValve) if valve.active}
    positions = {one.id: one for one in reader.stream(Position) if one.site_id in sites}
    keys = set(map(search_key, wish.valves))
    hung: dict[str, Hung] = {}
    for one in reader.stream(Installation):
        if one.until is None and one.valve_id in valves and one.position_id in positions:
            found = Hung(valves[one.valve_id], positions[one.position_id])
            if not keys or keys & {search_key(found.tag), search_key(found.valve.serial)}:
                hung[row_name(found.valve)] = found
    if not hung:
        where = ", ".join(filter(None, (wish.site, *wish.valves))) or "the register"
        raise FirstliftError(
            Problem(
                "PAP-005", f"no valve in use hangs at {where}"[:200], "--site, --valve", "a site or tag with a valve"
            )
        )
    return hung


def _pictures(answer: Answer, hung: dict[str, Hung], say: Speaker) -> dict[str, str]:
    shown = {valve.group for valve in answer.valves if valve.valve in hung}
    groups: Sequence[str] = sorted(shown)
    return {
        group.group: draw_group_survival(answer, group, say=say) for group in answer.groups if group.group in groups
    }
