"""What `firstlift certificate` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command, its steps and their options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    certificate = commands.add_parser(
        "certificate",
        help="keys to sign with, and the life of a certificate",
        description="Make a key to sign with.",
    )
    steps = certificate.add_subparsers(dest="step", metavar="STEP", required=True)
    _key(steps)


def _key(steps: argparse._SubParsersAction) -> None:
    key = steps.add_parser(
        "key",
        help="make a key to sign with",
        description="Make a key (EC P-256) whose certificate vouches for itself: nobody has checked the name in it. "
        "A key from your company or a trust service is better.",
    )
    key.add_argument("key", metavar="KEY.p12", help="where to write it; an existing file is never replaced")
    key.add_argument("--name", default="", help="whose it is")
    key.add_argument("--passphrase-file", required=True, metavar="FILE", help="its first line becomes the passphrase")
    key.add_argument("--public", metavar="CERT.pem", help="write the part that others need to check your signatures")
    key.set_defaults(run="firstlift.cli.certificate")
