"""The demo from end to end: make an invented recording, analyse it, draw it, write its certificate."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from firstlift.certificate.sign import sign_certificate
from firstlift.demo.case import RECORDING, make_demo_case
from firstlift.usecases.analyse import Analysed, analyse_jobsheet
from firstlift.usecases.certify import make_certificate, write_whole
from firstlift.usecases.draw import draw_analysis
from firstlift.usecases.keys import passing_key


@dataclass(frozen=True, slots=True, eq=False)
class DemoRun:
    """What the demo made."""

    analysed: Analysed
    recording: Path
    plot: Path
    certificate: Path


def run_demo(folder: Path, *, seed: int = 3) -> DemoRun:
    """Run the demo in a folder.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    seed : int
        Same seed, same test.

    Returns
    -------
    DemoRun

    Raises
    ------
    FirstliftError
        The folder cannot be written to.
    """
    sheet = make_demo_case(folder, seed)
    analysed = analyse_jobsheet(sheet)
    certificate, plot = folder / "demo-certificate.pdf", folder / "demo-pull.svg"
    drawn = draw_analysis(analysed.analysis, pressure_unit=analysed.job.valve.set_pressure.unit)
    typeset = sign_certificate(make_certificate(analysed).pdf, passing_key(at=dt.datetime.now(dt.UTC)))
    write_whole(plot, drawn.encode())
    write_whole(certificate, typeset)
    return DemoRun(analysed, folder / RECORDING, plot, certificate)
