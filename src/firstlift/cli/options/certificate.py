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
        description="The life of a certificate in a register: draft, review by somebody else, issue; later supersede "
        "or withdraw. And keys to sign with.",
    )
    steps = certificate.add_subparsers(dest="step", metavar="STEP", required=True)
    _key(steps)
    _draft(steps)
    _review(steps)
    _issue(steps)
    _withdraw(steps)
    _copy(steps)
    _list(steps)
    _send(steps)


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


def _draft(steps: argparse._SubParsersAction) -> None:
    draft = _step(steps, "draft", "keep a test, reserve the next number, print the draft", number=False)
    draft.add_argument("jobsheet", nargs="?", metavar="JOBSHEET", help="job sheet (TOML) that names its recording")
    draft.add_argument("--test", metavar="ID", help="or a test that the register keeps already")
    draft.add_argument("--by", required=True, metavar="PERSON", help="who tested: name or identifier in the register")
    draft.add_argument("--series", default="", help="series of numbers (default: the register's own)")
    draft.add_argument("--supersedes", default="", metavar="NUMBER", help="the issued certificate that this corrects")
    draft.add_argument("--reason", default="", help="why it is corrected")
    draft.add_argument("--out", metavar="DRAFT.pdf", help="write the draft, with its watermark")
    draft.add_argument("--issuer", metavar="ISSUER.toml", help="the issuer's settings: name, rules, layout, logo")


def _review(steps: argparse._SubParsersAction) -> None:
    review = _step(steps, "review", "review a draft: by somebody who did not test")
    review.add_argument("--by", required=True, metavar="PERSON", help="who reviews")


def _issue(steps: argparse._SubParsersAction) -> None:
    issue = _step(steps, "issue", "issue a reviewed certificate: typeset, sign, keep, hand out")
    issue.add_argument("--by", required=True, metavar="PERSON", help="who authorises the issue")
    issue.add_argument("--out", required=True, metavar="OUT.pdf", help="where to write the signed file")
    issue.add_argument("--issuer", metavar="ISSUER.toml", help="the issuer's settings: name, rules, layout, logo")
    issue.add_argument("--sign", metavar="KEY.p12", help="sign with this key (default: one this program made)")
    issue.add_argument("--passphrase-file", metavar="FILE", help="its first line is the key's passphrase")
    issue.add_argument("--timestamp", metavar="URL", default="", help="take a time stamp from this RFC 3161 server")


def _withdraw(steps: argparse._SubParsersAction) -> None:
    withdraw = _step(steps, "withdraw", "withdraw a certificate, or a draft that comes to nothing")
    withdraw.add_argument("--by", required=True, metavar="PERSON", help="who withdraws it")
    withdraw.add_argument("--reason", required=True, help="why")


def _copy(steps: argparse._SubParsersAction) -> None:
    copy = _step(steps, "copy", "write the signed file of a certificate again")
    copy.add_argument("--out", required=True, metavar="OUT.pdf")


def _list(steps: argparse._SubParsersAction) -> None:
    listed = _step(steps, "list", "list the certificates of a register, newest number first", number=False)
    listed.add_argument("--series", default="", help="of one series only")
    listed.add_argument("--json", action="store_true", help="print one JSON object a line")


def _send(steps: argparse._SubParsersAction) -> None:
    send = _step(steps, "send", "send certificates to a contact: as a message file, or by a mail server", number=False)
    send.add_argument("number", nargs="+", metavar="NUMBER", help="the certificates' numbers")
    send.add_argument(
        "--to", required=True, action="append", metavar="CONTACT", help="name, address or identifier; may be repeated"
    )
    send.add_argument("--by", required=True, metavar="PERSON", help="who sends them")
    send.add_argument("--note", default="", help="goes along as it is written")
    send.add_argument("--say", action="store_true", help="send what no longer stands; the message says so")
    send.add_argument("--out", metavar="MESSAGE.eml", help="write the message, to be sent by your own mail program")
    send.add_argument("--mail", metavar="MAIL.toml", help="send it by this mail server; what does not go waits")
    kept = _step(steps, "outbox", "list what waits, was sent or failed; try what is due", number=False)
    kept.add_argument("--mail", metavar="MAIL.toml", help="try what is due by this mail server")


def _step(steps: argparse._SubParsersAction, name: str, words: str, *, number: bool = True) -> argparse.ArgumentParser:
    step = steps.add_parser(name, help=words, description=words.capitalize() + ".")
    if number:
        step.add_argument("number", metavar="NUMBER", help="the certificate's number")
    step.add_argument("--store", metavar="PLACE", help="the register: folder or URL (default FIRSTLIFT_STORE)")
    step.set_defaults(run="firstlift.cli.certificate")
    return step
