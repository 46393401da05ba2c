"""From a file and its job sheet to a recording: columns, units, clock; nothing is decided about the valve."""

from __future__ import annotations

import hashlib
import itertools
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.job import ChannelSpec, Form, Job, RecordingSpec
from firstlift.core.recording import RawChannel, Recording, frozen, reduce_waveform
from firstlift.formats.clock import Clock, read_clock, repaired
from firstlift.formats.columns import check_unit, find_column
from firstlift.formats.seam import Source, SourceChannel, no_numbers
from firstlift.formats.source import open_source

BLOCK_S = 0.5e-3
_MOST_BAD_VALUES = 10
_BAD_VALUE_SHARE = 0.005
_RATES_DIFFER = 1e-3
_STEP_SLACK = 1.5


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
                problems.extend(error.problems)
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
                problems.extend(error.problems)
        if problems:
            raise FirstliftError(problems)

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
        clock, step_s, start_s = self._time_base(channel)
        self._tell_bad(channel, clock, step_s, start_s)
        if spec.form is Form.WAVEFORM:
            return self._reduced(spec, channel, clock, step_s, start_s)
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
            if channel.dt_s is None:
                raise self._no_base(channel, f"has no time base of its own in this {self.source.format} file")
            return None, channel.dt_s, channel.t0_s
        step = 1.0 / (self.spec.sample_rate_hz or 1.0)
        if channel.dt_s is not None and abs(channel.dt_s - step) > _RATES_DIFFER * step:
            raise self._no_base(channel, f"has {1 / channel.dt_s:g} Hz in the file, the job sheet says {1 / step:g} Hz")
        longest = max(c.length for _, c in self.chosen)
        if channel.length != longest and not self.source.torn:
            raise self._no_base(channel, f"has {channel.length} samples, another {longest}: one rate cannot fit both")
        return None, step, 0.0

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
        stretches = [(0, channel.length, start_s)]
        if clock is not None:
            clock = clock.up_to(channel.length)
            step_s = float(np.median(np.diff(clock.time_s))) if clock.time_s.size > 1 else 1.0
            stretches = _stretches(clock, step_s)
        parts: list[tuple[NDArray[np.float64], ...]] = []
        for first, last, at_s in stretches:
            parts.append(
                reduce_waveform(
                    lambda start, stop, first=first: channel.read(first + start, first + stop),
                    last - first,
                    dt_s=step_s,
                    t0_s=at_s,
                    block_s=BLOCK_S,
                )
            )
        time, mean, peak = (frozen(np.concatenate(column)) for column in zip(*parts, strict=True))
        if not time.size:
            raise FirstliftError(
                Problem("REC-008", f"channel '{channel.name}' is too short for a waveform", self.where, "more samples")
            )
        size = max(2, round(BLOCK_S / step_s))
        return RawChannel(spec, time, mean, channel.length, block_s=size * step_s, peak_squared=peak)


def _stretches(clock: Clock, step_s: float) -> list[tuple[int, int, float]]:
    """Part a table into stretches of even steps: first row, row after the last, time of the first."""
    rows = np.arange(clock.time_s.size) if clock.rows is None else clock.rows
    breaks = np.flatnonzero((np.diff(clock.time_s) > _STEP_SLACK * step_s) | (np.diff(rows) > 1)) + 1
    bounds = [0, *breaks.tolist(), rows.size]
    return [(int(rows[a]), int(rows[b - 1]) + 1, float(clock.time_s[a])) for a, b in itertools.pairwise(bounds)]


def _time_at(row: int, clock: Clock | None, step_s: float, start_s: float) -> float:
    if clock is None:
        return start_s + row * step_s
    kept = row if clock.rows is None else int(np.searchsorted(clock.rows, row))
    return float(clock.time_s[min(kept, clock.time_s.size - 1)])
