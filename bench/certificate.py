"""What a certificate takes: one made and signed warm, a batch in bounded memory, beside an empty page typeset."""

from __future__ import annotations

import argparse
import datetime as dt
import functools
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from bench.speed import make_recording
from firstlift import __version__
from firstlift.certificate.keys import Key, key_of, make_key
from firstlift.certificate.make import Made, Sources, make_certificate
from firstlift.certificate.model import CertificateDetails
from firstlift.certificate.sign import sign_certificate
from firstlift.certificate.verify import check_certificate
from firstlift.core.analysis import Analysis, analyse
from firstlift.core.job import Job
from firstlift.sim.text import jobsheet_text
from firstlift.usecases.analyse import limits_of, worded
from firstlift.usecases.draw import traces_of

_LENGTH_S, _RATE_HZ = 60.0, 10_000.0
# what the typesetter keeps between pages settles within the first tenth of a full batch
_MOST_GROWTH_MB = 64.0
_EMPTY = b'#set page(paper: "a4")\n#set document(date: none)\n'


class Case:
    """Three pulls of 10 kHz traces, analysed once; papers of it are made again and again."""

    def __init__(self, length_s: float) -> None:
        test = make_recording(length_s, _RATE_HZ)
        self.job: Job = test.job
        self.sheet = jobsheet_text(test).encode()
        self.analysis: Analysis = analyse(test.recording, test.job, limits_of(test.job), worded(test.job))
        pulls = self.analysis.result.pulls
        if len(pulls) != 3 or any(pull.set_pressure_pa is None for pull in pulls):
            sys.exit("the certified test does not give its three pulls: its time says nothing")
        self.key: Key = key_of(make_key("bench", made_at=dt.datetime.now(dt.UTC)), None, Path("memory"))

    def make(self, number: int) -> tuple[Made, bytes]:
        """Make and sign one certificate, from the clean signals to the signed bytes; its tag is its own."""
        job = replace(self.job, valve=replace(self.job.valve, tag=f"PSV-{number:04d}"))
        traces = traces_of(self.analysis, pressure_unit=job.valve.set_pressure.unit)
        details = CertificateDetails(f"BENCH-{number:04d}", "bench, invented", job.visit.date, __version__)
        made = make_certificate(job, self.analysis.result, traces, details, sources=Sources(self.sheet))
        return made, sign_certificate(made.pdf, self.key)


@functools.cache
def _typesetter() -> Any:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True)
    return typst.Compiler(font_paths=fonts, ignore_system_fonts=True)


def _empty_page() -> bytes:
    stamp = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    return _typesetter().compile(input=_EMPTY, format="pdf", timestamp=stamp)


def _spent(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def one_figures(case: Case, times: int) -> dict[str, float]:
    """Time one certificate warm and one empty page, turn about; hold its size and its soundness."""
    made, signed = case.make(0)
    found = check_certificate(signed)
    if not found.whole or found.manifest is None or found.manifest.number != "BENCH-0000":
        sys.exit(f"the certificate does not verify ({found.reasons}): its time says nothing")
    if case.make(0)[0].pdf != made.pdf:
        sys.exit("the same input gave other bytes: its time says nothing")
    _empty_page()
    ones, empties = [], []
    for number in range(times):
        ones.append(_spent(lambda number=number: case.make(number + 1)))
        empties.append(float(np.median([_spent(_empty_page) for _ in range(5)])))
    one, empty = float(np.median(ones)), float(np.median(empties))
    return {
        "one_warm_s": round(one, 4),
        "empty_page_s": round(empty, 6),
        "over_empty_page_ratio": round(one / empty, 1),
        "size_kb": round(len(signed) / 1e3, 1),
    }


def _resident_mb() -> float:
    """Give the memory this process holds now; NaN where the system does not say."""
    status = Path("/proc/self/status")
    if not status.exists():
        return float("nan")
    line = next(line for line in status.read_text().splitlines() if line.startswith("VmRSS"))
    return float(line.split()[1]) / 1e3


def _peak_mb() -> float:
    """Give the most memory this process ever held; NaN where the system does not say."""
    if sys.platform == "win32":
        return float("nan")
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)


def batch_figures(case: Case, count: int) -> dict[str, float]:
    """Make, sign and write many, with a progress bar; watch the memory and look at every hundredth one."""
    held, largest = [], 0
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        for number in range(1, count + 1):
            _, signed = case.make(number)
            (Path(folder) / f"{number:04d}.pdf").write_bytes(signed)
            largest = max(largest, len(signed))
            _progress(number, count)
            if number % max(1, count // 10) == 0:
                held.append(_resident_mb())
        spent = time.perf_counter() - start
        for number in range(1, count + 1, 100):
            found = check_certificate((Path(folder) / f"{number:04d}.pdf").read_bytes())
            if not found.whole or found.manifest is None or found.manifest.number != f"BENCH-{number:04d}":
                sys.exit(f"certificate {number} of the batch does not verify: its time says nothing")
    if held[-1] - held[0] > _MOST_GROWTH_MB:
        sys.exit(f"the batch holds {held[-1] - held[0]:.0f} MB more at its end than after a tenth: it is not bounded")
    return {
        "batch_per_certificate_s": round(spent / count, 4),
        "batch_certificate_count": count,
        "batch_largest_kb": round(largest / 1e3, 1),
        "batch_memory_first_tenth_mb": round(held[0], 1),
        "batch_memory_last_mb": round(held[-1], 1),
        "batch_peak_memory_mb": round(_peak_mb(), 1),
    }


def _progress(done: int, count: int) -> None:
    if done % max(1, count // 50) and done != count:
        return
    filled = 40 * done // count
    end = "\n" if done == count else ""
    print(f"\r[{'#' * filled}{'.' * (40 - filled)}] {done} of {count}", end=end, file=sys.stderr, flush=True)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add this benchmark's own options."""
    parser.add_argument("--count", type=int, metavar="N", help="certificates in the batch (full: 1000)")


def run(options: argparse.Namespace) -> dict[str, float]:
    """Run all, give the figures."""
    case = Case(_LENGTH_S)
    out = one_figures(case, 5 if options.quick else 15)
    out |= batch_figures(case, options.count or (40 if options.quick else 1000))
    return out
