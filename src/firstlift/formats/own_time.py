"""Channels whose stamps stand beside them: "time" in the same group, as long as they are."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.formats.seam import SourceChannel, split_unit

_TIME_NAMES = {"time", "times", "t", "timestamp", "timestamps", "time_s", "time_ms", "time_us", "t_s", "t_ms", "t_us"}


@dataclass(frozen=True, slots=True)
class Found:
    """A channel and the group of the file it stands in."""

    group: str
    channel: SourceChannel


def with_own_time(found: Sequence[Found]) -> tuple[SourceChannel, ...]:
    """Give every channel without even steps the one time channel of its group that is as long as it is.

    Where a group holds two such, none is taken: which one it is, is not the reader's to guess.

    Parameters
    ----------
    found : sequence of Found

    Returns
    -------
    tuple of SourceChannel
        In the same order.
    """
    times: dict[tuple[str, int], list[SourceChannel]] = {}
    for entry in found:
        if _is_time(entry.channel):
            times.setdefault((entry.group, entry.channel.length), []).append(entry.channel)
    channels: list[SourceChannel] = []
    for entry in found:
        channel = entry.channel
        beside = times.get((entry.group, channel.length), [])
        if channel.dt_s is None and channel.time is None and len(beside) == 1 and beside[0] is not channel:
            channel = dataclasses.replace(channel, time=beside[0])
        channels.append(channel)
    return tuple(channels)


def _is_time(channel: SourceChannel) -> bool:
    names = (channel.name, *channel.aliases)
    return not channel.why_not and any(split_unit(name)[0].strip().lower() in _TIME_NAMES for name in names)
