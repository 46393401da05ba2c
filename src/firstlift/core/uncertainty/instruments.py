"""Budget lines of the instruments, and what they have in common with each other and with the seat area.

An area found from pulls holds the errors of the cells and the gauge that found it. Used again with the same
instruments under the same calibration, those errors come twice and partly cancel: a cell that reads 1 % high
finds an area 1 % large, and pull over area is right again. The budget keeps that by lines with the same tag.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from firstlift.core.job import ChannelSpec, Job, Measures
from firstlift.core.uncertainty.budget import Input
from firstlift.core.valve import Seat, SeatShare


def gauge_lines(job: Job, line_pa: float) -> list[Input]:
    """Give the budget lines of the line pressure.

    Parameters
    ----------
    job : Job
    line_pa : float, [Pa gauge]

    Returns
    -------
    list of Input
        One; two (in proportion to the reading, and not) where the seat's area shares the gauge's errors.
    """
    gauges = job.of(Measures.LINE_PRESSURE)
    if not gauges:
        u = job.visit.u_line_pressure_pa or 0.0
        return [Input("line pressure, entered by hand", line_pa, "Pa", u, "normal", math.inf, 1.0, "gauge:by hand")]
    name = f"line pressure, gauge '{gauges[0].column}'"
    return _lines(name, "Pa", line_pa, gauges[0], tag(gauges[0]), 1.0, job.seat)


def cell_lines(spec: ChannelSpec, load_n: float, per_force: float, seat: Seat) -> list[Input]:
    """Give the budget lines of one cell.

    Parameters
    ----------
    spec : ChannelSpec
    load_n : float, [N]
        What this cell carries.
    per_force : float, [Pa/N]
        One over the seat area.
    seat : Seat

    Returns
    -------
    list of Input
        One; two where the seat's area shares the cell's errors.
    """
    return _lines(f"pull force, cell '{spec.column}'", "N", load_n, spec, tag(spec), per_force, seat)


def tag(spec: ChannelSpec) -> str:
    """Give the tag under which an instrument's calibration is shared.

    Parameters
    ----------
    spec : ChannelSpec
        Of a cell or a gauge.

    Returns
    -------
    str
        "cell:<group>" or "gauge:<group>": what it was calibrated with, else its serial, else its column.
    """
    kind = "cell" if spec.measures is Measures.PULL_FORCE else "gauge"
    return f"{kind}:{spec.calibrated_with or spec.serial or spec.column}"


def seat_share_lines(seat: Seat, slope_pa_per_m2: float) -> list[Input]:
    """Give the lines by which the instruments' errors come in through the area they found.

    Parameters
    ----------
    seat : Seat
    slope_pa_per_m2 : float, [Pa/m2]
        Change of set pressure with the area.

    Returns
    -------
    list of Input
        Signed by their sensitivities.
    """
    return [
        Input(
            f"seat area, by {_named(share)}",
            seat.area_m2,
            "m2",
            abs(share.u_area_m2),
            "normal",
            math.inf,
            math.copysign(1.0, share.u_area_m2) * slope_pa_per_m2,
            _part_tag(share.instrument, share.part),
        )
        for share in seat.shares
    ]


def shared_correlations(lines: Sequence[Input]) -> dict[tuple[int, int], float]:
    """Give the correlations of lines that hold one instrument's error: their errors are one error.

    Parameters
    ----------
    lines : sequence of Input

    Returns
    -------
    dict of (i, j) to 1.0
    """
    groups: dict[str, list[int]] = {}
    for index, line in enumerate(lines):
        if line.common_to.startswith(("cell:", "gauge:")):
            groups.setdefault(line.common_to, []).append(index)
    return {(a, b): 1.0 for members in groups.values() for a in members for b in members if a < b}


def _lines(
    name: str, unit: str, value: float, spec: ChannelSpec, shared: str, sensitivity: float, seat: Seat
) -> list[Input]:
    scale, offset = abs(spec.relative_standard_uncertainty * value), spec.standard_uncertainty
    if all(share.instrument != shared for share in seat.shares):
        return [Input(name, value, unit, math.hypot(scale, offset), "normal", math.inf, sensitivity, shared)]
    signed = math.copysign(sensitivity, value)
    return [
        Input(f"{name}, scale", value, unit, scale, "normal", math.inf, signed, _part_tag(shared, "scale")),
        Input(f"{name}, offset", value, unit, offset, "normal", math.inf, sensitivity, _part_tag(shared, "offset")),
    ]


def _part_tag(instrument: str, part: str) -> str:
    # the scale error keeps the instrument's own tag; an offset is another error of the same instrument
    return instrument if part == "scale" else f"{instrument} {part}"


def _named(share: SeatShare) -> str:
    kind, _, name = share.instrument.partition(":")
    return f"{share.part} of {kind} '{name}'"
