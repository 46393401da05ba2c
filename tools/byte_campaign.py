"""Change single bytes of a signed certificate at random, and ask each time who notices.

    python tools/byte_campaign.py [--changes 1000] [--seed 1] [--json]

A certificate of the demo's test is signed and entered in a register. Then, so many times each: a byte that the
signature covers is changed, and pyHanko's own validator must refuse the file, whatever this program says of it; a byte
anywhere else (the signature's own place, with its padding) is changed, and the register, which holds the hash of the
whole file, must call it another file. Exits 1 where one change went unnoticed.
"""

from __future__ import annotations

import argparse
import datetime as dt
import io
import json
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast
from uuid import uuid4

from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from firstlift import __version__
from firstlift.certificate.keys import Key, key_of, make_key
from firstlift.certificate.model import CertificateDetails
from firstlift.certificate.sign import quiet, sign_certificate
from firstlift.certificate.verify import check_certificate
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Owner
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.demo.case import make_demo_case
from firstlift.store import numbering
from firstlift.store.files import keep_bytes
from firstlift.store.open import Store, create_store
from firstlift.usecases.analyse import Analysed, analyse_jobsheet
from firstlift.usecases.certify import make_certificate
from firstlift.usecases.papers.registered import look_up
from firstlift.usecases.verify import Recomputed, Verified

_AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)


@dataclass(frozen=True, slots=True)
class Case:
    """A signed certificate, the key it was signed with, and the register that issued it."""

    signed: bytes
    key: Key
    store: Store

    def places(self) -> tuple[list[int], list[int]]:
        """Give the offsets that the signature covers, and all others."""
        (signature,) = PdfFileReader(io.BytesIO(self.signed)).embedded_signatures
        start, length, again, rest = map(int, cast("Sequence[int]", signature.byte_range))
        covered = [*range(start, start + length), *range(again, again + rest)]
        return covered, sorted(set(range(len(self.signed))) - set(covered))


def analysed_demo(folder: Path, *, until_s: float = float("inf")) -> Analysed:
    """Analyse the demo's test, or its beginning only, which is quicker."""
    sheet = make_demo_case(folder)
    recording = folder / "demo-recording.csv"
    heading, *rows = recording.read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if float(row.split(",")[0]) < until_s]
    recording.write_text("\n".join([heading, *kept, ""]), encoding="utf-8")
    return analyse_jobsheet(sheet)


def make_case(folder: Path, analysed: Analysed) -> Case:
    """Sign a certificate of a test, and issue it in a register of its own."""
    store = create_store(folder / "register", store_id=uuid4(), at=_AT)
    valve = analysed.job.valve
    owner = Owner(uuid4(), "Marrow Bay Energy")
    registered = RegisteredValve(
        uuid4(), owner.id, valve.serial, parse_quantity(valve.set_pressure.text, Kind.PRESSURE)
    )
    test = ValveTest(uuid4(), registered.id, HowTested.PULL, Purpose.AS_FOUND, _AT, "UTC", _AT.date())
    with store.work(at=_AT, who="program:campaign") as work:
        work.add_all([owner, registered, test])
        made = numbering.reserve_certificate(work, certificate_id=uuid4(), test_id=test.id, series="BY", zone="UTC")
        numbering.review_certificate(work, made.id, reviewer_id=None)
    key = key_of(make_key("byte campaign", made_at=_AT), None, folder)
    paper = make_certificate(analysed, CertificateDetails(made.text, "invented", _AT.date(), __version__))
    signed = sign_certificate(paper.pdf, key)
    kept = keep_bytes(store.folder, signed)
    with store.work(at=_AT, who="program:campaign") as work:
        numbering.issue_certificate(work, made.id, unsigned_sha256=paper.sha256, signed_sha256=kept)
    return Case(signed, key, store)


def validator_says(data: bytes, key: Key) -> str:
    """Give what pyHanko's own validator says: "valid", "invalid", or "unreadable" where it cannot even begin."""
    try:
        signatures = list(PdfFileReader(io.BytesIO(data)).embedded_signatures)
        if len(signatures) != 1:
            return "unreadable"
        roots = [] if key.signer.signing_cert is None else [key.signer.signing_cert]
        context = ValidationContext(trust_roots=roots, allow_fetching=False)
        return "valid" if validate_pdf_signature(signatures[0], context).bottom_line else "invalid"
    except Exception:  # noqa: BLE001  a damaged file breaks the reader anywhere; it has not validated
        return "unreadable"


def register_says(data: bytes, case: Case) -> bool:
    """Say whether the register and the signature together call the file whole."""
    checked = check_certificate(data)
    return Verified(checked, Recomputed(None), look_up(case.store, checked)).whole


def changed(data: bytes, at: int, rng: random.Random) -> bytes:
    """Give the bytes with one of them changed to any other value."""
    other = bytearray(data)
    other[at] ^= rng.randrange(1, 256)
    return bytes(other)


def chosen(places: Sequence[int], count: int, rng: random.Random) -> list[int]:
    """Choose places, each at most once while there are enough."""
    return rng.sample(places, count) if count <= len(places) else rng.choices(places, k=count)


def campaign(case: Case, changes: int, seed: int) -> dict[str, int]:
    """Change so many bytes, covered and not; give who noticed."""
    quiet()
    if validator_says(case.signed, case.key) != "valid" or not register_says(case.signed, case):
        sys.exit("the unchanged certificate is refused: a refusal of a changed one says nothing")
    rng = random.Random(seed)
    covered, others = case.places()
    said: Counter[str] = Counter()
    for at in chosen(covered, changes, rng):
        data = changed(case.signed, at, rng)
        answer = validator_says(data, case.key)
        said[answer] += 1
        said["covered_missed"] += answer == "valid" or check_certificate(data).whole
    for at in chosen(others, changes, rng):
        data = changed(case.signed, at, rng)
        said["other_seen_by_signature"] += not check_certificate(data).whole
        said["other_missed"] += register_says(data, case)
    return {
        "covered_changes_count": changes,
        "covered_signature_refused_count": said["invalid"],
        "covered_unreadable_count": said["unreadable"],
        "covered_missed_count": said["covered_missed"],
        "other_changes_count": changes,
        "other_seen_by_signature_count": said["other_seen_by_signature"],
        "other_seen_by_register_alone_count": changes - said["other_seen_by_signature"] - said["other_missed"],
        "other_missed_count": said["other_missed"],
        "file_bytes_count": len(case.signed),
        "other_bytes_count": len(others),
    }


def main() -> int:
    """Run the campaign."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--changes", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        case = make_case(Path(name), analysed_demo(Path(name)))
        figures = campaign(case, options.changes, options.seed)
        case.store.close()
    print(json.dumps(figures) if options.json else "\n".join(f"{key:36s} {value}" for key, value in figures.items()))
    return 1 if figures["covered_missed_count"] or figures["other_missed_count"] else 0


if __name__ == "__main__":
    sys.exit(main())
