"""What a person says of a seat, as typed, what a register knows of its instruments, and what is assumed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from firstlift.formats.seat_table import Row


@dataclass(frozen=True, slots=True)
class SeatAsked:
    """What a person knows of a seat: texts with units, as typed; None where nothing was given.

    ``rows`` are readings that were read already (`firstlift.usecases.seat_rows`); ``where`` names what was asked, by
    field, in messages: on the command line its options, in the app its fields.
    """

    inner: str | None = None
    outer: str | None = None
    mean: str | None = None
    area: str | None = None
    u_dimension: str | None = None
    reference: str = ""
    pulls: Sequence[str] = ()
    pairs: Sequence[str] = ()
    table: Path | None = None
    sheets: Sequence[Path] = ()
    u_line: str | None = None
    u_pull: str | None = None
    u_bench: str | None = None
    u_gauge: str | None = None
    u_cell: str | None = None
    u_bench_gauge: str | None = None
    gauge: str = "gauge"
    cell: str = "cell"
    bench_gauge: str = "bench gauge"
    friction: str | None = None
    rows: Sequence[Row] = ()
    where: Mapping[str, str] = field(default_factory=lambda: WHERE)


@dataclass(frozen=True, slots=True)
class KnownInstrument:
    """What a register knows of an instrument: its calibration's uncertainties, what it shares, its certificate."""

    relative_standard_uncertainty: float
    standard_uncertainty: float
    shared_with: str
    calibration: str


NOTHING_KNOWN: Mapping[str, KnownInstrument] = {}

# where nothing better is stated: a reading is good to half a per cent, so is a calibration, a diameter to 0.3 % (field
# error sizes, common practice, no source); always shown as assumed
ASSUMED = {
    "u_line": 0.005,
    "u_pull": 0.005,
    "u_bench": 0.005,
    "u_gauge": 0.005,
    "u_cell": 0.005,
    "u_bench_gauge": 0.005,
    "u_dimension": 0.003,
}
OPTIONS = {
    "u_line": "--line-uncertainty",
    "u_pull": "--pull-uncertainty",
    "u_bench": "--bench-uncertainty",
    "u_gauge": "--gauge-uncertainty",
    "u_cell": "--cell-uncertainty",
    "u_bench_gauge": "--bench-gauge-uncertainty",
    "u_dimension": "--uncertainty",
}

# what messages call each value
WHERE = {
    **OPTIONS,
    **{name: f"--{name}" for name in ("inner", "outer", "mean", "area", "friction", "reference")},
    "pulls": "--at",
    "pairs": "--pair",
}
