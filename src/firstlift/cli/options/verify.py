"""What `firstlift verify` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    verify = commands.add_parser(
        "verify",
        help="is a certificate whole, by whom, current, and right",
        description="Verify a certificate: no byte changed, who signed, not superseded, and its own data give the "
        "same result again. Nothing is fetched from anywhere. Exit code 0 only if it is whole and current.",
    )
    verify.add_argument("certificate", metavar="CERT.pdf", help="the certificate")
    verify.add_argument("--json", action="store_true", help="print the answer as one JSON object")
    verify.add_argument(
        "--trust", action="append", default=[], metavar="CA.pem", help="a certificate to trust (may be repeated)"
    )
    verify.add_argument("--recording", metavar="FILE", help="the recording, where it is kept apart")
    verify.add_argument("--store", metavar="PLACE", help="ask this register whether it stands: folder or URL")
    verify.set_defaults(run="firstlift.cli.verify")
