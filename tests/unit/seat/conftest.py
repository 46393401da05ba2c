"""A valve of known area and set pressure, the instruments that read it, and its pulls without error."""

from types import SimpleNamespace

import pytest

from firstlift.core.seat.bench import BenchPair
from firstlift.core.seat.fit import Instrument, Role
from firstlift.core.seat.pressures import LinePull

AREA, SET = 7e-4, 1e6
CELLS = (
    Instrument(Role.CELL, "cell:C1", "C1", 0.003, 0.2, "K-1", load_share=0.6),
    Instrument(Role.CELL, "cell:C2", "C2", 0.004, 0.3, "K-2", load_share=0.4),
)
GAUGE = Instrument(Role.GAUGE, "gauge:G1", "G1", 0.002, 500.0, "K-3")
BENCH = Instrument(Role.BENCH_GAUGE, "gauge:B1", "B1", 0.001, 300.0)


def pulls(levels=(4e5, 6e5, 8e5), u_pull=1.0, u_line=300.0, off=None, **conditions):
    off = off or [0.0] * len(levels)
    return [
        LinePull(level, u_line, AREA * (SET - level) + extra, u_pull, **conditions)
        for level, extra in zip(levels, off, strict=True)
    ]


def pairs(levels=(6e5, 8e5), settings=(SET, 1.05 * SET), u_pull=1.0, u_line=300.0, u_bench=1500.0):
    return [
        BenchPair(level, u_line, AREA * (opening - level), u_pull, opening, u_bench)
        for level, opening in zip(levels, settings, strict=True)
    ]


@pytest.fixture
def known():
    return SimpleNamespace(area=AREA, set=SET, cells=CELLS, gauge=GAUGE, bench=BENCH, pulls=pulls, pairs=pairs)
