"""Two results of the same recording side by side: every number, and every printed digit."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from firstlift.certificate.model import CertificateDetails, plain
from firstlift.certificate.page import build_certificate
from firstlift.core.job import Job
from firstlift.core.result import Result, to_json

TOLERANCE = 1e-9
# sentences are words about numbers that are compared themselves; a later release may word them better
_WORDS = frozenset({"message", "advice"})


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where two results are not the same: the path in the result, or the printed words."""

    where: str
    kept: str
    again: str


def differences(job: Job, kept: Result, again: Result) -> tuple[Difference, ...]:
    """Compare a result with the one recomputed.

    Parameters
    ----------
    job : Job
    kept, again : Result

    Returns
    -------
    tuple of Difference
        Numbers that differ by more than 1e-9 of their size, other values that differ, and printed words that do.
    """
    found = list(_compare("", to_json(kept), to_json(again)))
    if not found:
        found = list(_compare_printed(job, kept, again))
    return tuple(found)


def _compare(where: str, kept: Any, again: Any) -> Iterator[Difference]:
    if isinstance(kept, dict) and isinstance(again, dict):
        for key in dict.fromkeys((*kept, *again)):
            if key not in _WORDS:
                yield from _compare(f"{where}.{key}" if where else key, kept.get(key), again.get(key))
    elif isinstance(kept, list) and isinstance(again, list) and len(kept) == len(again):
        for index, (one, other) in enumerate(zip(kept, again, strict=True)):
            yield from _compare(f"{where}[{index}]", one, other)
    elif not _same(kept, again):
        yield Difference(where, _shown(kept), _shown(again))


def _same(kept: Any, again: Any) -> bool:
    numbers = all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in (kept, again))
    if not numbers:
        return type(kept) is type(again) and kept == again
    return math.isclose(kept, again, rel_tol=TOLERANCE, abs_tol=1e-12)


def _shown(value: Any) -> str:
    text = str(value) if not isinstance(value, (dict, list)) else f"{len(value)} entries"
    return text if len(text) <= 60 else text[:59] + "…"


def _compare_printed(job: Job, kept: Result, again: Result) -> Iterator[Difference]:
    details = CertificateDetails("", "", dt.date(2000, 1, 1), "")
    pages = [list(_words("", plain(build_certificate(job, result, (), details)))) for result in (kept, again)]
    for (where, one), (_, other) in itertools.zip_longest(*pages, fillvalue=("", "")):
        if one != other:
            yield Difference(f"printed{where}", _shown(one), _shown(other))


def _words(where: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for key, item in value.items():
            if key not in _WORDS and key != "svg":
                yield from _words(f"{where}.{key}", item)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _words(f"{where}[{index}]", item)
    elif isinstance(value, str):
        yield where, value
