"""From a kept test to what its traces show: the recording's own channels, and what each said about first lift."""

from __future__ import annotations

import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import ChannelSpec, Form, Job, Measures
from firstlift.core.recording import RawChannel, Recording
from firstlift.core.register.work import ValveTest
from firstlift.core.result import Pull, Result
from firstlift.core.signal.condition import to_si
from firstlift.figures.trace import Trace, trace_of_si
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.files import write_kept
from firstlift.store.read import Reader
from firstlift.usecases.register.analyse import kept_document
from firstlift.web.trace_points import Track, make_track, span_of

_ORDER = (
    Measures.PULL_FORCE,
    Measures.SPINDLE_LIFT,
    Measures.ACOUSTIC,
    Measures.LINE_PRESSURE,
    Measures.BACK_PRESSURE,
    Measures.TEMPERATURE,
)
_MOST_BYTES = 768_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """All tracks of a test, from when to when, [s], and what is said of them (`about`)."""

    tracks: tuple[Track, ...]
    from_s: float
    to_s: float
    about: dict[str, Any]

    @property
    def nbytes(self) -> int:
        """Memory that it holds; times that channels share count once."""
        shared = {id(track.time_s): track.time_s.nbytes for track in self.tracks}
        return sum(track.nbytes - track.time_s.nbytes for track in self.tracks) + sum(shared.values())


class Shelf:
    """Tests lately looked at, so that a zoom does not read the recording again; the oldest go when it is full."""

    def __init__(self, most_bytes: int = _MOST_BYTES) -> None:
        self._most = most_bytes
        self._held: OrderedDict[UUID, Shown] = OrderedDict()
        self._lock = threading.Lock()
        self._reading: dict[UUID, threading.Lock] = {}

    def shown(self, test_id: UUID, read: Callable[[], Shown]) -> Shown:
        """Give a test's traces, read once however many ask at the same time.

        Parameters
        ----------
        test_id : UUID
        read : callable
            Reads them where they are not held.

        Returns
        -------
        Shown
        """
        with self._lock:
            if test_id in self._held:
                self._held.move_to_end(test_id)
                return self._held[test_id]
            reading = self._reading.setdefault(test_id, threading.Lock())
        try:
            with reading:
                with self._lock:
                    if test_id in self._held:
                        return self._held[test_id]
                shown = read()
                with self._lock:
                    self._hold(test_id, shown)
                return shown
        finally:
            with self._lock:
                self._reading.pop(test_id, None)

    def _hold(self, test_id: UUID, shown: Shown) -> None:
        self._held[test_id] = shown
        while len(self._held) > 1 and sum(each.nbytes for each in self._held.values()) > self._most:
            self._held.popitem(last=False)


def read_shown(reader: Reader, test_id: UUID) -> Shown:
    """Read a kept test's recording, ready to be shown.

    Parameters
    ----------
    reader : Reader
    test_id : UUID

    Returns
    -------
    Shown

    Raises
    ------
    FirstliftError
        REG-010 there is no such test, REG-026 it keeps no recording, STO-010 or STO-011 a file is not whole.
    """
    test = reader.get(ValveTest, test_id)
    job = parse_jobsheet(write_sheet(kept_document(reader, test)).encode(), where=f"job sheet of test {test.id}")
    with tempfile.TemporaryDirectory(prefix="firstlift-") as name:
        file = Path(name) / Path(job.recording.file).name
        write_kept(reader.folder, test.recording_sha256, file)
        recording = read_recording(file, job)
    return shown_of(recording, job, test.result, str(test.id))


def shown_of(recording: Recording, job: Job, result: Result | None, name: str) -> Shown:
    """Make the tracks of a recording, in units that suit the valve.

    Parameters
    ----------
    recording : Recording
    job : Job
    result : Result or None
        What was found in it.
    name : str
        How the test is called.

    Returns
    -------
    Shown
        Channels in the order force, lift, sound, pressures, temperature.

    Raises
    ------
    FirstliftError
        REC-008 no channel has a sample.
    """
    unit = job.valve.set_pressure.unit
    channels = sorted(recording.channels, key=lambda channel: _ORDER.index(channel.spec.measures))
    tracks = tuple(_track(channel, unit) for channel in channels if channel.time_s.size)
    if not tracks:
        raise FirstliftError(Problem("REC-008", "there is nothing to draw", name, "a channel with samples"))
    from_s, to_s = span_of(tracks)
    pulls = () if result is None else result.pulls
    about = {
        "test": name,
        "tag": job.valve.tag,
        "from_s": from_s,
        "to_s": to_s,
        "channels": [_channel(track, pulls, tracks) for track in tracks],
        "pulls": [_pull(pull) for pull in pulls],
    }
    return Shown(tracks, from_s, to_s, about)


def _track(channel: RawChannel, pressure_unit: str) -> Track:
    """Take one channel as it was recorded: nothing is repaired or smoothed; only a stated delay is taken off."""
    spec = channel.spec
    waveform = spec.measures is Measures.ACOUSTIC and spec.form is Form.WAVEFORM
    values = np.sqrt(channel.values) if waveform else to_si(spec, channel.values)
    time_s = channel.time_s - spec.delay_s if spec.delay_s else channel.time_s
    trace = trace_of_si(
        spec.column, str(spec.measures), time_s, values, pressure_unit=pressure_unit, sound_unit=_sound_unit(spec)
    )
    return make_track(spec.column, trace.measures, trace.shown_unit, time_s, trace.values, channel.samples)


def _sound_unit(spec: ChannelSpec) -> str:
    return "counts" if spec.unit == "counts" else "V"


def _channel(track: Track, pulls: tuple[Pull, ...], tracks: tuple[Track, ...]) -> dict[str, Any]:
    named = Trace(track.label, track.measures, track.time_s[:0], track.time_s[:0], track.unit)
    seconds = float(track.time_s[-1] - track.time_s[0])
    return {
        "label": track.label,
        "measures": track.measures,
        "unit": track.unit,
        "samples": track.samples,
        "rate_hz": (track.samples - 1) / seconds if seconds > 0 else None,
        # several cells are read as their sum: what they said, they said together
        "together": sum(other.measures == track.measures for other in tracks) > 1,
        "lifts": [
            {
                "pull": pull.number,
                "at_s": each.first_lift_s,
                "u_s": each.standard_uncertainty_s,
                "weight": each.weight,
            }
            for pull in pulls
            for each in pull.evidence
            if each.first_lift_s is not None and named.answers_to(each.channel)
        ],
    }


def _pull(pull: Pull) -> dict[str, Any]:
    return {
        "number": pull.number,
        "outcome": str(pull.outcome),
        "start_s": pull.start_s,
        "end_s": pull.end_s,
        "first_lift_s": pull.first_lift_s,
        "u_s": pull.first_lift_standard_uncertainty_s,
        "closure_s": pull.closure_s,
        "accepted": pull.accepted,
    }
