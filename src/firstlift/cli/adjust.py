"""``firstlift adjust``: how far to turn the screw, or why not to."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from firstlift.cli.say import finding_lines, with_words, wrapped
from firstlift.cli.show import prints_unicode, show
from firstlift.core.adjust import Advice
from firstlift.core.adjust.advise import FLATS_PER_TURN
from firstlift.core.errors import Problem, UsageError
from firstlift.core.result import to_json
from firstlift.usecases.adjust import AdjustAsked, advise_jobsheet, cold_of_jobsheet
from firstlift.words.numbers import format_exact, format_pressure, format_probability, format_short
from firstlift.words.planning import phrase, sentence

_FLATS = {0.0: "", 0.25: " 1/4", 0.5: " 1/2", 0.75: " 3/4"}


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 turn as said, leave it, or cold pressure given; 1 do not turn.

    Raises
    ------
    FirstliftError
        Job sheet or result cannot be read; UsageError where what was typed makes no sense.
    """
    if arguments.cold or arguments.from_cold:
        return _cold(arguments)
    if arguments.temperature or arguments.multiplier:
        raise UsageError(Problem("ADJ-008", "--temperature and --multiplier go with --cold or --from-cold"))
    advised = advise_jobsheet(_asked(arguments))
    advice, unit = advised.advice, advised.job.valve.set_pressure.unit
    if arguments.json:
        data = with_words(advice, unit)
        if advised.learned_from is not None:
            data["adjustments_learned_from"] = advised.learned_from
        show(json.dumps(data, ensure_ascii=not prints_unicode(), allow_nan=False))
        return 1 if advice.blocked else 0
    for line in _lines(advice, unit):
        show(line)
    if advised.learned_from is not None:
        show(_learned(advised.learned_from))
    if advised.assumed:
        show("assumed standard uncertainty of the reading, since none was stated: 0.5 % (common practice, no source)")
    show("Only who is authorised by the owner and the code turns the screw; the owner's permit and local codes decide.")
    return 1 if advice.blocked else 0


def _asked(arguments: argparse.Namespace) -> AdjustAsked:
    return AdjustAsked(
        sheet=Path(arguments.jobsheet),
        result=Path(arguments.result) if arguments.result else None,
        reading=arguments.reading,
        reading_uncertainty=arguments.reading_uncertainty,
        target=arguments.target,
        line=arguments.line,
        mawp=arguments.mawp,
        place=arguments.place,
        authorised_by=arguments.authorised_by,
        pull_off=arguments.pull_off,
        leaking=arguments.leaking,
        spring_rate=arguments.spring_rate,
        screw_pitch=arguments.screw_pitch,
        turned=tuple(arguments.turned),
        turned_uncertainty=arguments.turned_uncertainty,
        store=arguments.store,
    )


def _learned(count: int) -> str:
    if not count:
        return "the register holds no adjustment of this valve with a set pressure before and after it to learn from"
    return f"learned from {count} earlier adjustment{'s' if count > 1 else ''} of this valve in the register"


def _lines(advice: Advice, unit: str) -> list[str]:
    lines = [f"{advice.tag}  {_headline(advice)}"]
    lines.append(
        f"reading       {format_pressure(advice.reading_pa, unit, advice.u_reading_pa)} (standard uncertainty), target "
        f"{format_exact(advice.target_pa, unit)}"
    )
    if advice.highest_allowed_pa is not None:
        lines.append(f"highest       {format_exact(advice.highest_allowed_pa, unit)} by the code, in its place")
    if advice.effect_pa_per_turn is not None and advice.effect_source is not None:
        effect = format_pressure(advice.effect_pa_per_turn, unit, advice.u_effect_pa_per_turn)
        lines.append(f"one turn      {effect}, {phrase('effect', advice.effect_source)}")
    if advice.expected_pa is not None and advice.direction != "none":
        lines.append(
            f"after it      {format_pressure(advice.expected_pa, unit, advice.u_expected_pa)}, within its limits with "
            f"{format_probability(advice.probability_within)}"
        )
    lines += ["", *finding_lines(advice.findings, unit)]
    if advice.hold_points and advice.direction != "none":
        lines += ["", "In this order:"]
        for code in advice.hold_points:
            lines += wrapped(sentence("hold", code, {}, pressure_unit=unit), "  [ ] ")
    if advice.flats and advice.direction != "none":
        turns = format_short(advice.flats / FLATS_PER_TURN, "1", digits=4)
        reading = format_short(advice.reading_pa, unit, digits=5)
        lines += ["", f'To let the next one learn from it: --turned="{turns} turns: {reading} -> ..."']
    return [*lines, ""]


def _headline(advice: Advice) -> str:
    if advice.flats is None or advice.direction is None or advice.turns is None or advice.u_turns is None:
        return "DO NOT TURN"
    if advice.direction == "none":
        return f"turn {phrase('direction', 'none')}"
    turns = format_short(abs(advice.turns), "1", digits=2)
    return (
        f"turn {flats_in_words(abs(advice.flats))} {phrase('direction', advice.direction)} "
        f"({turns} ± {format_short(advice.u_turns, '1', digits=1)} turns)"
    )


def flats_in_words(flats: float) -> str:
    """Say flats of a hexagon in whole ones and quarters.

    Parameters
    ----------
    flats : float
        A multiple of a quarter, above 0.

    Returns
    -------
    str
    """
    whole, part = int(flats), flats - int(flats)
    count = f"{whole}{_FLATS[part]}" if whole else _FLATS[part].strip()
    return f"{count} flat{'' if flats <= 1.0 else 's'}"


def _cold(arguments: argparse.Namespace) -> int:
    job, found = cold_of_jobsheet(
        Path(arguments.jobsheet),
        temperature=arguments.temperature,
        multiplier=arguments.multiplier,
        cold=arguments.from_cold,
    )
    unit = job.valve.set_pressure.unit
    if arguments.json:
        show(json.dumps(to_json(found), allow_nan=False))
        return 0
    show(f"set pressure in service          {format_short(found.set_pressure_pa, unit, digits=5)}")
    show(f"less back pressure's part        {format_short(found.back_pressure_part_pa, unit, digits=4)}")
    said = "common practice, no source: the maker's goes before it" if found.multiplier_assumed else "the maker's"
    show(f"times temperature multiplier     {found.multiplier:g} ({said})")
    show(f"cold differential test pressure  {format_short(found.cold_pressure_pa, unit, digits=5)}")
    return 0
