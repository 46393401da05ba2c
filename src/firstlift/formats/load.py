"""From a file and its job sheet to a recording: columns, units, clock; nothing is decided about the valve."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.job import ChannelSpec, Form, Job, RecordingSpec
from firstlift.core.recording import RawChannel, Recording, frozen, reduce_waveform
from firstlift.formats.clock import Clock, read_clock, repaired
from firstlift.formats.columns import check_unit, find_column
from firstlift.formats.seam import Source, SourceChannel, no_numbers
from firstlift.formats.source import open_source
from firstlift.formats.stretches import Stretch, of_clock, of_stamps

BLOCK_S = 0.5e-3
_MOST_BAD_VALUES = 10
_BAD_VALUE_SHARE = 0.005
_RATES_DIFFER = 1e-3
_WILD = 1e100


def read_recording(path: Path, job: Job) -> Recording:
    """Read the channels that a job sheet names from a recording.

    Parameters
    ----------
    path : Path
        The recording.
    job : Job

    Returns
    -------
    Recording
        Channels in the job sheet's order, in the file's own units, on the recording's own clock;
        values that are missing or cannot be read are NaN.

    Raises
    ------
    FirstliftError
        REC-001 to REC-005 the file; REC-006 too many damaged values; REC-007 no numbers; REC-008 no
        samples; REC-010, REC-011 columns; REC-012 units; REC-013, REC-014 the time base.
    """
    with open_source(path) as source:
        loading = _Loading(source, job.recording, path.name)
        loading.choose(job.channels)
        channels = tuple(loading.load(spec, channel) for spec, channel in loading.chosen)
        findings = (*loading.file_findings(channels), *loading.findings)
    return Recording(hash_file(path), channels, findings)


def hash_file(path: Path) -> str:
    """Give the SHA-256 of a file's bytes, read in stretches.

    Parameters
    ----------
    path : Path

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@dataclass
class _Loading:
    """One file being loaded: the shared clock of a table, and what was found on the way."""

    source: Source
    spec: RecordingSpec
    where: str
    chosen: list[tuple[ChannelSpec, SourceChannel]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    shared: Clock | None = None
    shared_length: int = 0
    own: dict[int, Clock] = field(default_factory=dict)

    def choose(self, specs: tuple[ChannelSpec, ...]) -> None:
        """Find every column and the clock; all that does not fit is told at once."""
        problems: list[Problem] = []
        for spec in specs:
            try:
                channel = find_column(self.source.channels, spec.column, self.where)
                check_unit(channel, spec, self.where)
                self._check_usable(channel)
                self.chosen.append((spec, channel))
            except FirstliftError as error:
                problems.extend(map(self._behind_the_tear, error.problems))
        if self.spec.time_column is not None:
            try:
                time = find_column(self.source.channels, self.spec.time_column, self.where)
                if time.why_not or time.length == 0:
                    raise no_numbers(time, self.where)
                self._check_few(time)
                self.shared = read_clock(time, self.where, self.source.line_of)
                self.shared_length = time.length
                self.findings.extend(self.shared.findings)
            except FirstliftError as error:
                problems.extend(map(self._behind_the_tear, error.problems))
        if problems:
            raise FirstliftError(problems)

    def _behind_the_tear(self, problem: Problem) -> Problem:
        """Say of a column that is missing that it may lie behind the tear."""
        if not self.source.torn or problem.code != "REC-010":
            return problem
        return replace(problem, what=f"{problem.what} before the place where the file was cut off")

    def _check_usable(self, channel: SourceChannel) -> None:
        if channel.why_not or channel.is_instant:
            raise (
                no_numbers(channel, self.where)
                if channel.why_not
                else FirstliftError(
                    Problem("REC-007", f"channel '{channel.name}' holds times, not numbers", self.where)
                )
            )
        if channel.length == 0:
            torn = " before the place where the file was cut off" if self.source.torn else ""
            raise FirstliftError(
                Problem("REC-008", f"channel '{channel.name}' has no samples{torn}", self.where, "samples")
            )
        self._check_few(channel)

    def _check_few(self, channel: SourceChannel) -> None:
        if len(channel.bad) <= max(_MOST_BAD_VALUES, int(_BAD_VALUE_SHARE * channel.length)):
            return
        first = channel.bad[0]
        raise FirstliftError(
            Problem(
                "REC-006",
                f"{len(channel.bad)} of {channel.length} values of column '{channel.name}' are no numbers, the first "
                f"is '{first.text}'",
                f"{self.where} line {first.line}",
                "numbers",
                "Export the recording again",
            )
        )

    def load(self, spec: ChannelSpec, channel: SourceChannel) -> RawChannel:
        """Load one channel on its time base."""
        if spec.form is Form.WAVEFORM and self._has_own_stamps(channel):
            return self._reduced_by_stamps(spec, channel)
        clock, step_s, start_s = self._time_base(channel)
        self._tell_bad(channel, clock, step_s, start_s)
        if spec.form is Form.WAVEFORM:
            return self._reduced(spec, channel, clock, step_s, start_s)
        with np.errstate(invalid="ignore"):
            values = np.asarray(channel.read(0, channel.length), dtype=np.float64)
        if clock is not None:
            clock = clock.up_to(channel.length)
            values = values[: clock.time_s.size] if clock.rows is None else values[clock.rows]
            time = clock.time_s
        else:
            time = start_s + np.arange(channel.length) * step_s
        return RawChannel(spec, frozen(time), frozen(np.where(np.isfinite(values), values, np.nan)), channel.length)

    def _time_base(self, channel: SourceChannel) -> tuple[Clock | None, float, float]:
        """Give the shared clock, or the step and start of an even time base."""
        if self.shared is not None:
            # a tear may leave one channel more samples than the next: the shorter one counts
            if channel.length != self.shared_length and not self.source.torn:
                raise self._no_base(channel, f"has {channel.length} samples, the time column {self.shared_length}")
            return self.shared, 0.0, 0.0
        if self.spec.waveform:
            if channel.time is not None and channel.dt_s is None:
                return self._own_clock(channel.time), 0.0, 0.0
            if channel.dt_s is None:
                raise self._no_base(channel, f"has no time base of its own in this {self.source.format} file")
            end_s = channel.t0_s + channel.length * channel.dt_s
            if not end_s > end_s - channel.dt_s:
                raise self._no_base(channel, f"starts at {channel.t0_s:g} s, too late to tell steps of its length")
            return None, channel.dt_s, channel.t0_s
        step = 1.0 / (self.spec.sample_rate_hz or 1.0)
        if channel.dt_s is not None and abs(channel.dt_s - step) > _RATES_DIFFER * step:
            raise self._no_base(channel, f"has {1 / channel.dt_s:g} Hz in the file, the job sheet says {1 / step:g} Hz")
        longest = max(c.length for _, c in self.chosen)
        if channel.length != longest and not self.source.torn:
            raise self._no_base(channel, f"has {channel.length} samples, another {longest}: one rate cannot fit both")
        return None, step, 0.0

    def _has_own_stamps(self, channel: SourceChannel) -> bool:
        return self.shared is None and self.spec.waveform and channel.dt_s is None and channel.time is not None

    def _own_clock(self, time: SourceChannel) -> Clock:
        """Read the stamps of a channel's own clock, once for all channels that share it."""
        if id(time) not in self.own:
            if time.why_not:
                raise no_numbers(time, self.where)
            self.own[id(time)] = read_clock(time, self.where, self.source.line_of)
            self.findings.extend(self.own[id(time)].findings)
        return self.own[id(time)]

    def _no_base(self, channel: SourceChannel, why: str) -> FirstliftError:
        needed = 'a time base that fits: time = a column\'s name, time = "waveform" (in the file), or sample_rate'
        return FirstliftError(
            Problem("REC-014", f"channel '{channel.name}' {why}", self.where, needed, "Correct [recording]")
        )

    def _tell_bad(self, channel: SourceChannel, clock: Clock | None, step_s: float, start_s: float) -> None:
        if channel.bad:
            first = channel.bad[0]
            at_s = _time_at(first.row, clock, step_s, start_s)
            self.findings.append(repaired(channel.name, len(channel.bad), first.line, at_s))

    def file_findings(self, channels: tuple[RawChannel, ...]) -> list[Finding]:
        """Give what was found of the whole file: its tear, and rows that did not fit."""
        found: list[Finding] = []
        if self.source.torn:
            ends = [float(c.time_s[-1]) for c in channels if c.time_s.size]
            at_s = min(ends, default=0.0)
            found.append(
                Finding("torn-file", Severity.WARNING, None, {"at_s": at_s, "line": self.source.torn_line})
            )  # fmt: skip
        if self.source.bad_rows and self.shared is None:
            # with a time column these rows have no stamp and are told by the clock
            first = self.source.bad_rows[0]
            at_s = first.row / (self.spec.sample_rate_hz or 1.0)
            found.append(repaired("", len(self.source.bad_rows), first.line, at_s))
        return found

    def _reduced(
        self, spec: ChannelSpec, channel: SourceChannel, clock: Clock | None, step_s: float, start_s: float
    ) -> RawChannel:
        """Reduce a sound waveform to blocks; where its clock has gaps, stretch by stretch."""
        parts = [Stretch(0, channel.length, start_s, step_s)]
        if clock is not None:
            clock = clock.up_to(channel.length)
            step_s = float(np.median(np.diff(clock.time_s))) if clock.time_s.size > 1 else 1.0
            parts = of_clock(clock, step_s)
        return self._blocks(spec, channel, parts, step_s)

    def _reduced_by_stamps(self, spec: ChannelSpec, channel: SourceChannel) -> RawChannel:
        """Reduce a sound waveform whose stamps are a channel of their own; these are not held whole either."""
        parts, step_s, findings = of_stamps(channel, self.where)
        self.findings.extend(findings)
        self._tell_bad(channel, None, step_s, parts[0].start_s)
        return self._blocks(spec, channel, parts, step_s)

    def _blocks(self, spec: ChannelSpec, channel: SourceChannel, parts: list[Stretch], step_s: float) -> RawChannel:
        size = max(2, round(BLOCK_S / step_s))
        reduced = [
            reduce_waveform(
                lambda start, stop, first=part.first: _plain(channel.read(first + start, first + stop)),
                part.last - part.first,
                dt_s=part.step_s,
                t0_s=part.start_s,
                block_s=size * part.step_s,
            )
            for part in parts
        ]
        time, mean, peak = (frozen(np.concatenate(column)) for column in zip(*reduced, strict=True))
        if not time.size:
            raise FirstliftError(
                Problem("REC-008", f"channel '{channel.name}' is too short for a waveform", self.where, "more samples")
            )
        return RawChannel(spec, time, mean, channel.length, block_s=size * step_s, peak_squared=peak)


def _plain(values: NDArray[Any]) -> NDArray[Any]:
    """Give samples whose square is finite: what is not, or beyond any instrument, is a gap."""
    if values.dtype.kind != "f":
        return values
    with np.errstate(invalid="ignore"):
        plain = np.array(values, dtype=np.float64)
    plain[~(np.abs(plain) < _WILD)] = np.nan
    return plain


def _time_at(row: int, clock: Clock | None, step_s: float, start_s: float) -> float:
    if clock is None:
        return start_s + row * step_s
    kept = row if clock.rows is None else int(np.searchsorted(clock.rows, row))
    return float(clock.time_s[min(kept, clock.time_s.size - 1)])
