"""``firstlift certificate``: keys to sign with, and the life of a certificate in a register."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from firstlift.cli.sending import outbox, send
from firstlift.cli.show import prints_unicode, show

if TYPE_CHECKING:
    from firstlift.certificate import PaperSettings
    from firstlift.core.register.work import ValveTest
    from firstlift.store.open import Store


def run(arguments: argparse.Namespace) -> int:
    """Run one step.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0.
    """
    steps = {
        "key": _key,
        "draft": _draft,
        "review": _review,
        "issue": _issue,
        "withdraw": _withdraw,
        "copy": _copy,
        "list": _list,
        "send": send,
        "outbox": outbox,
    }
    return steps[arguments.step](arguments)


def _key(arguments: argparse.Namespace) -> int:
    from firstlift.certificate.keys import key_of, make_key, public_part, write_key
    from firstlift.usecases.certify import write_whole
    from firstlift.usecases.keys import read_passphrase

    path, passphrase = Path(arguments.key), read_passphrase(Path(arguments.passphrase_file))
    made = make_key(arguments.name, made_at=dt.datetime.now(dt.UTC), passphrase=passphrase)
    write_key(path, made)
    show(f"key     {path} (keep it and its passphrase apart, and to yourself)")
    if arguments.public:
        write_whole(Path(arguments.public), public_part(key_of(made, passphrase, path)))
        show(f"public  {arguments.public} (hand it to those who verify: firstlift verify --trust)")
    show("Nobody has checked the name in it: give the public part to people who know you.")
    return 0


def _draft(arguments: argparse.Namespace) -> int:
    from firstlift.usecases.certify import write_whole
    from firstlift.usecases.papers.life import draft_certificate, print_draft
    from firstlift.usecases.register.place import opened

    settings = _settings(arguments.issuer)
    with opened(arguments.store) as store:
        made = draft_certificate(
            store,
            _test(store, arguments),
            by=arguments.by,
            series=arguments.series,
            supersedes=arguments.supersedes,
            reason=arguments.reason,
        )
        show(f"{made.text}  draft")
        if arguments.out:
            write_whole(Path(arguments.out), print_draft(store, made.text, settings).pdf)
            show(f"draft   {arguments.out}")
    return 0


def _test(store: Store, arguments: argparse.Namespace) -> ValveTest:
    from uuid import UUID

    from firstlift.core.errors import Problem, UsageError
    from firstlift.core.register.work import ValveTest
    from firstlift.usecases.papers.find import person_by
    from firstlift.usecases.papers.record import keep_sheet

    if (arguments.jobsheet is None) == (arguments.test is None):
        raise UsageError(Problem("USE-003", "a draft is of one test", "JOBSHEET, --test", "exactly one of the two"))
    with store.read() as reader:
        person = person_by(reader, arguments.by)
        if arguments.test is not None:
            try:
                return reader.get(ValveTest, UUID(arguments.test))
            except ValueError as error:
                problem = Problem(
                    "USE-003", f"'{arguments.test[:60]}' is no identifier", "--test", "a test's identifier"
                )
                raise UsageError(problem) from error
    return keep_sheet(store, Path(arguments.jobsheet), person_id=person.id)


def _review(arguments: argparse.Namespace) -> int:
    from firstlift.usecases.papers.life import review_certificate
    from firstlift.usecases.register.place import opened

    with opened(arguments.store) as store:
        show(f"{review_certificate(store, arguments.number, by=arguments.by).text}  reviewed")
    return 0


def _issue(arguments: argparse.Namespace) -> int:
    from firstlift.usecases.certify import write_whole
    from firstlift.usecases.keys import WARNING, signing_key
    from firstlift.usecases.papers.life import issue_certificate
    from firstlift.usecases.register.place import opened

    settings = _settings(arguments.issuer)
    named = Path(arguments.sign) if arguments.sign else None
    phrase = Path(arguments.passphrase_file) if arguments.passphrase_file else None
    key = signing_key(named, phrase, at=dt.datetime.now(dt.UTC))
    with opened(arguments.store) as store:
        issued = issue_certificate(
            store, arguments.number, by=arguments.by, key=key, settings=settings, stamp_url=arguments.timestamp
        )
    show(f"{issued.certificate.text}  issued, SHA-256 {issued.certificate.signed_sha256}")
    write_whole(Path(arguments.out), issued.pdf)
    show(f"file    {arguments.out}")
    if named is None:
        print(f"firstlift: {arguments.out}: {WARNING}", file=sys.stderr)
    return 0


def _withdraw(arguments: argparse.Namespace) -> int:
    from firstlift.usecases.papers.life import withdraw_certificate
    from firstlift.usecases.register.place import opened

    with opened(arguments.store) as store:
        gone = withdraw_certificate(store, arguments.number, by=arguments.by, reason=arguments.reason)
        show(f"{gone.text}  withdrawn")
    return 0


def _copy(arguments: argparse.Namespace) -> int:
    from firstlift.usecases.certify import write_whole
    from firstlift.usecases.papers.life import issued_file
    from firstlift.usecases.register.place import opened

    with opened(arguments.store) as store:
        issued = issued_file(store, arguments.number)
    write_whole(Path(arguments.out), issued.pdf)
    show(f"{issued.certificate.text}  {issued.certificate.state}, written to {arguments.out}")
    return 0


def _list(arguments: argparse.Namespace) -> int:
    from firstlift.core.register.work import Certificate
    from firstlift.usecases.register.place import opened

    equal = {"series": arguments.series} if arguments.series else {}
    with opened(arguments.store) as store, store.read() as reader:
        found = reader.list(Certificate, order=("series", "-number"), **equal)
    for one in found:
        issued = "" if one.issued_at is None else one.issued_at.isoformat()
        if arguments.json:
            line = {"number": one.text, "state": str(one.state), "issued_at": issued, "sha256": one.signed_sha256}
            show(json.dumps(line | {"reason": one.reason}, ensure_ascii=not prints_unicode()))
        else:
            show(f"{one.text:<20} {one.state:<11} {issued:<26} {one.reason}".rstrip())
    return 0


def _settings(named: str | None) -> PaperSettings:
    from firstlift.certificate.settings import PLAIN
    from firstlift.usecases.certify import read_issuer

    return read_issuer(Path(named)) if named else PLAIN
