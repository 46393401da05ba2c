"""``firstlift register``: make a register, add, change, list and show its entries, recall an instrument."""

from __future__ import annotations

import argparse
import dataclasses
import json
from typing import Any

from firstlift.cli.dates import read_date
from firstlift.cli.show import show
from firstlift.core.register.codec import to_plain
from firstlift.core.register.kinds import NAME_OF
from firstlift.store.open import Store
from firstlift.store.outbox import Outbox
from firstlift.usecases.register.entries import add_entry, change_entry, erase_person, find_entry, list_entries
from firstlift.usecases.register.place import create_register, opened, upgrade_register
from firstlift.usecases.register.recall import Recalled, recall
from firstlift.usecases.register.told import Told, tell
from firstlift.usecases.register.who import who_of
from firstlift.usecases.sending.contacts import erase_contact, named_contact

_SHORT = (
    "name",
    "tag",
    "serial",
    "text",
    "code",
    "task",
    "certificate_number",
    "start",
    "at",
    "since",
    "date",
    "verdict",
)


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0; of a recall 1 where a verdict changes or cannot be computed again.
    """
    if arguments.part == "create":
        store = create_register(arguments.store)
        store.close()
        show(f"made an empty register: {store.where} ({store.id})")
        return 0
    if arguments.part == "upgrade":
        before, after = upgrade_register(arguments.store)
        show(f"schema {before}: nothing to do" if before == after else f"schema {before} brought up to {after}")
        return 0
    with opened(arguments.store) as store:
        return _PARTS[arguments.part](store, arguments)


def _add(store: Store, arguments: argparse.Namespace) -> int:
    entry = add_entry(store, arguments.kind, arguments.values, who=who_of(store, arguments.by))
    _show_entry(entry, arguments, "added")
    return 0


def _set(store: Store, arguments: argparse.Namespace) -> int:
    who = who_of(store, arguments.by)
    entry = change_entry(store, arguments.kind, arguments.name, arguments.values, who=who)
    _show_entry(entry, arguments, "changed")
    return 0


def _list(store: Store, arguments: argparse.Namespace) -> int:
    with store.read() as reader:
        found = list_entries(reader, arguments.kind, arguments.values, limit=arguments.limit, offset=arguments.offset)
    if arguments.json:
        show(json.dumps([to_plain(entry) for entry in found]))
        return 0
    for entry in found:
        show(_line(entry))
    show(f"{len(found)} listed" if found else "none")
    return 0


def _show(store: Store, arguments: argparse.Namespace) -> int:
    with store.read() as reader:
        told = tell(reader, find_entry(reader, arguments.kind, arguments.name))
    if arguments.json:
        plain = {"entry": to_plain(told.entry), "changes": told.changes}
        plain["confirmed"] = [dataclasses.asdict(one) for one in told.confirmed]
        show(json.dumps({**plain, "history": [dataclasses.asdict(test) for test in told.tests]}, default=str))
        return 0
    _show_told(told)
    return 0


def _erase(store: Store, arguments: argparse.Namespace) -> int:
    who = who_of(store, arguments.by)
    with store.read() as reader:
        contact = named_contact(reader, arguments.name)
    if contact is not None:
        stopped = erase_contact(store, Outbox(store.folder), contact.id, who=who)
        show(f"removed what identifies contact {contact.id}; messages stopped: {stopped}; the history holds")
        return 0
    person = erase_person(store, arguments.name, who=who)
    show(f"removed what identifies person {person.id}; the history holds")
    return 0


def _recall(store: Store, arguments: argparse.Namespace) -> int:
    lines = recall(
        store,
        arguments.serial,
        first=read_date(arguments.first, "--from"),
        last=read_date(arguments.last, "--until"),
    )
    if arguments.json:
        show(json.dumps([{**dataclasses.asdict(line), "changed": line.changed} for line in lines], default=str))
    else:
        for line in lines:
            show(_recalled(line))
        changed = sum(line.changed for line in lines)
        show(f"{len(lines)} tests used {arguments.serial}; the verdict of {changed} changes")
    return 1 if any(line.changed or line.problem for line in lines) else 0


_PARTS = {"add": _add, "set": _set, "list": _list, "show": _show, "erase": _erase, "recall": _recall}


def _recalled(line: Recalled) -> str:
    head = f"{line.day}  {line.tag or line.serial}  test {line.test_id}  {line.verdict or 'not judged'}"
    if line.problem:
        return f"{head}  cannot be computed again: {line.problem}"
    now = line.verdict_now or "not judged"
    return f"{head} -> {now}  {_bar(line.set_pressure_pa)} -> {_bar(line.set_pressure_now_pa)}"


def _bar(pressure_pa: float | None) -> str:
    return "no set pressure" if pressure_pa is None else f"{pressure_pa / 1e5:.4g} bar"


def _show_entry(entry: Any, arguments: argparse.Namespace, done: str) -> None:
    if arguments.json:
        show(json.dumps(to_plain(entry)))
    else:
        show(f"{done} {NAME_OF[type(entry)].replace('_', ' ')} {_line(entry)}")


def _line(entry: Any) -> str:
    plain = to_plain(entry)
    if details := plain.get("details"):
        plain["name"] = details["name"]
    words = [str(plain[name]) for name in _SHORT if plain.get(name)]
    return f"{plain['id']}  {'  '.join(words)}"


def _show_told(told: Told) -> None:
    for name, value in to_plain(told.entry).items():
        if value not in (None, "", []) and name != "result":
            show(f"{name:34s} {value}")
    for change in told.changes:
        show(f"history: {change['at']}  {change['action']}  by {change['who']}  entry {change['number']}")
    for one in told.confirmed:
        show(f"confirmed: {one.code}  {one.person}  {one.at:%Y-%m-%d %H:%M}  {one.note}".rstrip())
    for test in told.tests:
        value = _bar(test.set_pressure_pa) if test.set_pressure_pa is not None else test.not_tested or ""
        said = test.verdict or test.kind
        over = f"  superseded by {test.superseded_by}" if test.superseded_by else ""
        show(f"test: {test.day}  {test.tag or 'no position'}  {test.serial}  {test.purpose}  {said}  {value}{over}")
