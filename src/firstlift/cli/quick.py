"""``firstlift quick``: the pocket calculation."""

from __future__ import annotations

import argparse
import json

from firstlift import words
from firstlift.cli.analyse import passed
from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import FirstliftError, UsageError
from firstlift.core.result import to_json
from firstlift.core.units import Kind, parse_quantity
from firstlift.usecases.quick import ByHand, assumed, calculate
from firstlift.words.numbers import format_exact, format_pressure, format_probability, format_share


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 within and fit, 1 any other result.

    Raises
    ------
    UsageError
        A value or the code makes no sense.
    """
    hand = ByHand(
        line=arguments.line,
        pull=arguments.pull,
        set_pressure=arguments.set,
        code=arguments.code,
        seat_diameter=arguments.seat_diameter,
        seat_area=arguments.seat_area,
        u_line=arguments.line_uncertainty,
        u_pull=arguments.pull_uncertainty,
        u_seat=arguments.seat_uncertainty,
        medium=arguments.medium,
        decision=arguments.decision,
        probability=arguments.probability,
    )
    try:
        result = calculate(hand)
    except FirstliftError as error:
        # all there is to read here was typed on the command line
        raise UsageError(error.problems) from error
    if arguments.json:
        show(json.dumps(to_json(result), ensure_ascii=not prints_unicode(), allow_nan=False))
        return 0 if passed(result) else 1
    unit = parse_quantity(arguments.set, Kind.PRESSURE).unit
    found, verdict = result.as_found, result.verdict
    if found is not None and verdict is not None:
        value = format_pressure(found.set_pressure_pa, unit, found.expanded_uncertainty_pa)
        show(f"set pressure  {value}  (k = {found.coverage_factor:.2f}, 95 %)")
        limits = f"{format_exact(verdict.lower_pa, unit)} to {format_exact(verdict.upper_pa, unit)}"
        show(f"verdict       {words.verdict(str(verdict.outcome))}: {limits}, {verdict.code}, {verdict.clause}")
        show(f"              probability within {format_probability(verdict.probability_within)}")
    for line in result.budget:
        show(f"  {line.quantity:<14} adds {format_pressure(line.contribution_pa, unit)}, {format_share(line.share)}")
    taken = assumed(hand)
    if taken:
        said = ", ".join(f"{name} {format_share(share)}" for name, share in taken.items())
        show(f"assumed standard uncertainties, since none was stated: {said} (common practice, no source)")
    show("Read off by hand: no recording stands behind these numbers. Local codes and the owner's permit decide.")
    return 0 if passed(result) else 1
