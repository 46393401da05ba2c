"""``firstlift verify``: is a certificate whole, by whom, current, and right."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from firstlift.certificate.verify import Checked, check_certificate
from firstlift.cli.show import prints_unicode, show
from firstlift.usecases.verify import Verified, read_file, read_trusted, to_plain, verify_certificate


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 only if the certificate is whole and current, and its own data do not contradict it; else 1.
    """
    data = read_file(Path(arguments.certificate))
    trust = read_trusted([Path(name) for name in arguments.trust])
    recording = Path(arguments.recording) if arguments.recording else None
    if arguments.store:
        verified = _with_register(arguments.store, check_certificate(data, trust), recording)
    else:
        verified = verify_certificate(data, trust=trust, recording=recording)
    if arguments.json:
        show(json.dumps(to_plain(verified), ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        show("\n".join(lines(verified)))
    return 0 if verified.passed else 1


def _with_register(place: str, checked: Checked, recording: Path | None) -> Verified:
    from firstlift.usecases.papers.registered import verify_in_register
    from firstlift.usecases.register.place import opened

    with opened(place) as store:
        return verify_in_register(store, checked, recording=recording)


def lines(verified: Verified) -> list[str]:
    """Say what was found, for people.

    Parameters
    ----------
    verified : Verified

    Returns
    -------
    list of str
    """
    checked, manifest = verified.checked, verified.checked.manifest
    said = [f"number      {manifest.number}, issued {manifest.issued_on}"] if manifest is not None else []
    said.append("whole       yes: no byte was changed" if verified.whole else "whole       NO")
    said += [f"            {reason}" for reason in checked.reasons]
    said += [*_signer(verified), *_standing(verified), *_recomputed(verified)]
    if checked.seal is not None:
        said.append(f"seal        {checked.seal} (compare with the paper's code)")
    said.append(f"file        SHA-256 {checked.file_sha256}")
    return said


def _signer(verified: Verified) -> list[str]:
    checked = verified.checked
    if checked.signed_by is None:
        return ["signed by   nobody"]
    clock = "by a time stamp server's clock" if checked.time_stamped else "by the signer's own clock"
    at = "" if checked.signed_at is None else f", {checked.signed_at.isoformat()} {clock}"
    trusted = "yes" if checked.trusted else "no: the name was not checked by anyone you named with --trust"
    return [f"signed by   {checked.signed_by}{at}", f"trusted     {trusted}"]


def _standing(verified: Verified) -> list[str]:
    registered = verified.registered
    if verified.checked.manifest is None:
        return ["current     NO: it is no certificate that can be read"]
    if verified.draft:
        return ["current     NO: it is a draft"]
    if registered.superseded_by is not None:
        return [f"current     NO: superseded by {registered.superseded_by}. {registered.reason}".rstrip()]
    if registered.state == "not asked":
        return ["current     as far as the file says; no register was asked (--store)"]
    word = "yes" if verified.current else "NO"
    return [f"current     {word}: {registered.state} in the register. {registered.reason}".rstrip()]


def _recomputed(verified: Verified) -> list[str]:
    again = verified.recomputed
    said = [f"recomputed  {again.outcome or 'no'}: {again.reason}"]
    said += [f"            {d.where}: {d.kept} then, {d.again} now" for d in again.differences[:10]]
    if len(again.differences) > 10:
        said.append(f"            and {len(again.differences) - 10} more")
    return said
