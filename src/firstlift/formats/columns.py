"""Which channel of the file a job sheet's column is, and whether their units agree."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import ChannelSpec
from firstlift.core.units import Kind, find_unit
from firstlift.formats.seam import SourceChannel
from firstlift.formats.sheet_channels import KIND_OF
from firstlift.formats.sheet_table import did_you_mean, shown

_EXACT_KINDS = (Kind.FORCE, Kind.PRESSURE, Kind.LENGTH)


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def find_column(channels: Sequence[SourceChannel], column: str, where: str) -> SourceChannel:
    """Find the channel that a job sheet's column names.

    Its full name goes before the name without unit, and the exact spelling before one that differs in
    case or blanks. Two that fit equally well are refused.

    Parameters
    ----------
    channels : sequence of SourceChannel
    column : str
    where : str
        The file, said in messages.

    Returns
    -------
    SourceChannel

    Raises
    ------
    FirstliftError
        REC-010 no such column, REC-011 two fit.
    """
    tests = (
        lambda channel: channel.name == column,
        lambda channel: column in channel.aliases,
        lambda channel: _plain(channel.name) == _plain(column),
        lambda channel: _plain(column) in map(_plain, channel.aliases),
    )
    for test in tests:
        found = [channel for channel in channels if test(channel)]
        if len(found) == 1:
            return found[0]
        if found:
            raise FirstliftError(
                Problem(
                    "REC-011",
                    f"{len(found)} columns answer to the name '{shown(column)}'",
                    where,
                    "one column of that name",
                    "Write one of: " + ", ".join(f"'{shown(name)}'" for c in found for name in (c.name, *c.aliases)),
                )
            )
    names = [channel.name for channel in channels if channel.name]
    every = [*names, *(alias for channel in channels for alias in channel.aliases)]
    there = ", ".join(f"'{shown(name)}'" for name in names[:20]) + (", ..." if len(names) > 20 else "")
    raise FirstliftError(
        Problem(
            "REC-010", f"column '{shown(column)}' is not in the recording", where, f"one of {there}",
            did_you_mean(column, every) or "Correct the job sheet's column",
        )
    )  # fmt: skip


def check_unit(channel: SourceChannel, spec: ChannelSpec, where: str) -> None:
    """Hold the unit the file states against the job sheet's.

    A polynomial turns raw readings (volts, counts) into the job sheet's unit, so that the file's own is
    then another one by right. A unit nobody knows is let pass for sound and temperature only.

    Parameters
    ----------
    channel : SourceChannel
    spec : ChannelSpec
    where : str

    Raises
    ------
    FirstliftError
        REC-012 the two differ.
    """
    if channel.unit is None or spec.polynomial:
        return
    kind = KIND_OF[spec.measures]
    try:
        unit = find_unit(channel.unit, kind).symbol
    except FirstliftError as error:
        if error.problems[0].code == "UNI-001" and kind not in _EXACT_KINDS:
            return
        unit = ""
    if unit == spec.unit:
        return
    raise FirstliftError(
        Problem(
            "REC-012",
            f"the recording says '{shown(channel.unit)}' for column '{shown(channel.name)}', the job sheet says "
            f"'{spec.unit}'",
            where,
            "one unit in both",
            "Correct the job sheet's unit if the file is right",
        )
    )
