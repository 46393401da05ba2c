"""``firstlift search``: valves of the register, or its sites at a glance."""

from __future__ import annotations

import argparse
import dataclasses
import json

from firstlift.cli.show import prints_unicode, show
from firstlift.store.search import Listed
from firstlift.usecases.register.place import now, opened
from firstlift.usecases.search import Asked, Found, search_valves, sites_at_a_glance

_HEAD = ("tag", "serial", "set", "medium", "unit", "site", "due", "last test")


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0, also where nothing was found.
    """
    with opened(arguments.store) as store:
        if arguments.summary:
            _show_sites(sites_at_a_glance(store, site=arguments.site, owner=arguments.owner, at=now()), arguments)
            return 0
        asked = Asked(
            arguments.text, arguments.serial, arguments.owner, arguments.site, arguments.unit, arguments.medium,
            arguments.verdict, arguments.overdue, arguments.all,
        )  # fmt: skip
        found = search_valves(store, asked, at=now(), limit=arguments.limit, offset=arguments.offset)
    if arguments.json:
        lines = [dataclasses.asdict(line) for line in found.lines]
        show(json.dumps({"total": found.total, "valves": lines}, default=str, ensure_ascii=not prints_unicode()))
    else:
        show(_table(found, arguments.offset))
    return 0


def _table(found: Found, offset: int) -> str:
    if not found.lines:
        return "Nothing found." if not found.total else f"Nothing after {offset}: there are {found.total}."
    rows = [_HEAD, *(_cells(line, found) for line in found.lines)]
    widths = [max(len(row[at]) for row in rows) for at in range(len(_HEAD))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    shown = len(found.lines)
    if shown < found.total:
        lines.append(f"{offset + 1} to {offset + shown} of {found.total}: --offset {offset + shown} goes on")
    else:
        lines.append(f"{found.total} valve{'' if found.total == 1 else 's'}")
    return "\n".join(lines)


def _cells(line: Listed, found: Found) -> tuple[str, ...]:
    due = "" if line.due is None else line.due.isoformat()
    if line.due is not None and line.due < found.today:
        due += " overdue"
    last = f"{line.last_day} {line.last_verdict or 'not judged'}" if line.last_day else "none"
    if line.not_tested:
        last += f", then not tested: {line.not_tested}"
    place = line.tag or "(hangs nowhere)"
    return place, line.serial, line.set_pressure, line.medium or "", line.unit or "", line.site or "", due, last


def _show_sites(sites: list, arguments: argparse.Namespace) -> None:
    if arguments.json:
        plain = [
            {"site": site.name, "owner": owner.name, **dataclasses.asdict(summary)} for site, owner, summary in sites
        ]
        show(json.dumps(plain, default=str, ensure_ascii=not prints_unicode()))
        return
    for site, owner, summary in sites:
        verdicts = ", ".join(f"{number} {name or 'not judged'}" for name, number in summary.verdicts.items())
        show(f"{site.name} ({owner.name}): {summary.valves} valves in use, {summary.overdue} overdue")
        show(f"  last verdicts: {verdicts or 'none'}")
        show(f"  {summary.not_tested} planned and not tested, {summary.without_date} without a due date")
    if not sites:
        show("The register has no site.")
