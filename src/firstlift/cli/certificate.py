"""``firstlift certificate``: keys to sign with, and the life of a certificate."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path

from firstlift.cli.show import show


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
    steps = {"key": _key}
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
