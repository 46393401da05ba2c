"""From raw columns to clean signals in SI on one clock, with everything found on the way said."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import ChannelSpec, Form, Job, Measures
from firstlift.core.recording import Floats, RawChannel, Recording
from firstlift.core.signal.clock import ENOUGH, Clock, clock_of, kept, without
from firstlift.core.signal.noise import find_spikes, local_noise, noise_floor, remove_hum
from firstlift.core.signal.ranks import median


@dataclass(frozen=True, slots=True, eq=False)
class Signal:
    """One clean channel: only samples that can be trusted.

    ``time_s`` (n,) rises strictly; ``value`` (n,) in SI (sound in its own unit); ``sigma`` (n,) is each
    sample's noise and ``noise`` its median; ``step_s`` the median sampling step; ``gaps`` (from, to) where samples
    are missing.
    """

    name: str
    measures: Measures
    time_s: Floats
    value: Floats
    sigma: Floats
    step_s: float
    gaps: tuple[tuple[float, float], ...] = ()
    noise: float = field(init=False)
    _running: list[Floats] = field(init=False, default_factory=list, repr=False)

    def __post_init__(self) -> None:
        """Work the typical noise out once: it is asked for again and again."""
        object.__setattr__(self, "noise", _typical(self.sigma))

    def between(self, start_s: float, stop_s: float) -> slice:
        """Give the slice of samples from start to stop, both included, [s]."""
        low = int(self.time_s.searchsorted(start_s))
        return slice(low, int(self.time_s.searchsorted(stop_s, side="right")))

    def part(self, start_s: float, stop_s: float) -> Signal:
        """Give the stretch from start to stop, both included, [s], as a signal of its own."""
        some = self.between(start_s, stop_s)
        return replace(self, time_s=self.time_s[some], value=self.value[some], sigma=self.sigma[some])

    def means(self, index: NDArray[np.intp], size: NDArray[np.intp]) -> Floats:
        """Average the value over stretches of samples, by differences of one running sum that is made once.

        Parameters
        ----------
        index : ndarray (..., e)
            Samples at which stretches begin and end.
        size : ndarray (..., e - 1)
            What their sums are divided by: how many samples each holds, or one where it holds none.

        Returns
        -------
        ndarray (..., e - 1)
            The first sample's value where a stretch holds none.
        """
        sums = self.sums(index)
        means = sums[..., 1:] - sums[..., :-1]
        means /= size
        means += self.value[0]
        return means

    def sums(self, index: NDArray[np.intp]) -> Floats:
        """Sum how far the value lies from its first sample's, over all samples before some.

        Parameters
        ----------
        index : ndarray (...)
            Samples before which is summed.

        Returns
        -------
        ndarray (...)
        """
        if not self._running:
            # distances from the first sample: running sums of large numbers would lose digits
            running = np.empty(self.value.size + 1)
            running[0] = 0.0
            np.subtract(self.value, self.value[0], out=running[1:])
            running[1:].cumsum(out=running[1:])
            self._running.append(running)
        return self._running[0][index]


def _typical(sigma: Floats) -> float:
    if sigma.size == 0:
        return 0.0
    # one value broadcast over all samples takes no memory, and no median
    return float(sigma[0]) if sigma.strides == (0,) else median(sigma[:: max(1, sigma.size // ENOUGH)])


@dataclass(frozen=True, slots=True, eq=False)
class Signals:
    """All clean channels of a test. ``force`` is the sum of the cells, not yet tared."""

    force: Signal | None
    cells: tuple[Signal, ...]
    cell_specs: tuple[ChannelSpec, ...]
    pressure: Signal | None
    lift: Signal | None
    sound: Signal | None
    back_pressure: Signal | None
    saturated_at_n: float | None
    cell_stops_n: tuple[float | None, ...] = ()
    findings: tuple[Finding, ...] = field(default=())


def condition(recording: Recording, job: Job) -> Signals:
    """Turn raw columns into clean signals.

    Parameters
    ----------
    recording : Recording
    job : Job

    Returns
    -------
    Signals
        A channel that holds fewer than ten usable samples, or the same value throughout, is None.
    """
    findings: list[Finding] = list(recording.findings)
    clocks: list[Clock] = []
    clean = [_clean(channel, findings, clocks) for channel in recording.channels]
    pairs = [(raw.spec, signal) for raw, signal in zip(recording.channels, clean, strict=True) if signal is not None]
    cells = [(spec, signal) for spec, signal in pairs if spec.measures is Measures.PULL_FORCE]
    complete = len(cells) == len(job.of(Measures.PULL_FORCE))
    force, stops = _sum_cells(cells, findings) if cells and complete else (None, ())
    return Signals(
        force=force,
        cells=tuple(signal for _, signal in cells),
        cell_specs=tuple(spec for spec, _ in cells),
        pressure=_first(pairs, Measures.LINE_PRESSURE),
        lift=_first(pairs, Measures.SPINDLE_LIFT),
        sound=_first(pairs, Measures.ACOUSTIC),
        back_pressure=_first(pairs, Measures.BACK_PRESSURE),
        saturated_at_n=min((stop for stop in stops if stop is not None), default=None),
        cell_stops_n=stops,
        findings=tuple(findings),
    )


def _first(pairs: list[tuple[ChannelSpec, Signal]], measures: Measures) -> Signal | None:
    return next((signal for spec, signal in pairs if spec.measures is measures), None)


def to_si(spec: ChannelSpec, values: Floats) -> Floats:
    """Turn a column's numbers into SI: polynomial, unit, and for a gauge its height and liquid leg.

    Parameters
    ----------
    spec : ChannelSpec
    values : ndarray (n,)
        In the column's own unit.

    Returns
    -------
    ndarray (n,)
        The input itself where there is nothing to do.
    """
    if spec.polynomial:
        values = np.asarray(np.polynomial.polynomial.polyval(values, np.asarray(spec.polynomial)), dtype=np.float64)
    if spec.factor != 1.0:
        values = values * spec.factor
    offset = spec.offset + (spec.head_correction_pa if spec.measures is Measures.LINE_PRESSURE else 0.0)
    return values + offset if offset else values


def _finite(raw: RawChannel) -> tuple[Floats, Floats]:
    """Give times (delay taken off) and values where there are any; the own arrays where none is missing."""
    values, time_s = raw.values, raw.time_s
    if values.size and not np.isfinite(float(values.min()) + float(values.max())):
        finite = np.isfinite(values)
        time_s, values = time_s[finite], values[finite]
    return (time_s - raw.spec.delay_s if raw.spec.delay_s else time_s), values


def _clean(raw: RawChannel, findings: list[Finding], clocks: list[Clock]) -> Signal | None:
    spec = raw.spec
    time_s, values = _finite(raw)
    if values.size < 10:
        return None
    clock = clock_of(time_s, clocks)
    waveform = spec.measures is Measures.ACOUSTIC and spec.form is Form.WAVEFORM
    values = np.sqrt(values) if waveform else to_si(spec, values)
    step = clock.step_s
    still = values.min() == values.max()
    if spec.measures in _MAY_STAND_STILL and still:
        return _as_signal(spec, Clock(clock.time_s, step, ()), values, 0.0)
    if spec.measures not in _MAY_STAND_STILL:
        dead = find_dead(values, step)
        if dead.any():
            findings.append(_dropout(spec, clock.time_s, dead))
            clock, values = without(clock, dead), values[~dead]
            still = values.size < 10 or values.min() == values.max()
    if still:
        return None
    sigma = noise_floor(values)
    if spec.measures is Measures.ACOUSTIC:
        width = max(15, int(0.03 / step)) if step > 0 else 15
        return _as_signal(spec, clock, values, local_noise(values, width=width, floor=0.5 * sigma))
    return _repaired(spec, clock, values, sigma, findings)


def _repaired(spec: ChannelSpec, clock: Clock, values: Floats, sigma: float, findings: list[Finding]) -> Signal:
    """Take spikes and hum off."""
    spikes = find_spikes(values, sigma)
    if spikes.any():
        at = float(clock.time_s[int(np.argmax(spikes))])
        findings.append(
            Finding(
                "repaired-samples",
                Severity.INFO if spikes.mean() < 1e-3 else Severity.WARNING,
                parameters={"channel": spec.column, "count": int(spikes.sum()), "at_s": at, "cause": "spike"},
            )
        )
        clock, values = without(clock, spikes), values[~spikes]
    signal = _as_signal(spec, clock, values, sigma)
    # a channel at its stop is no longer signal plus hum: subtracting would hide the stop
    if saturation(signal, spec.capacity) is not None:
        return signal
    values, hum = remove_hum(clock.time_s, values, sigma)
    if not hum:
        return signal
    parameters = {"channel": spec.column, "frequency_hz": hum[0].frequency_hz}
    findings.append(Finding("hum-removed", Severity.INFO, parameters=parameters))
    return _as_signal(spec, clock, values, noise_floor(values))


def _as_signal(spec: ChannelSpec, clock: Clock, values: Floats, sigma: Floats | float) -> Signal:
    spread = np.broadcast_to(sigma, values.shape)
    return Signal(spec.column, spec.measures, clock.time_s, kept(values), kept(spread), clock.step_s, clock.gaps)


# a gauge may show one value for a whole test and still be right; a cell, a lift sensor or a microphone may not
_MAY_STAND_STILL = (Measures.LINE_PRESSURE, Measures.BACK_PRESSURE, Measures.TEMPERATURE)


def find_dead(values: Floats, step_s: float) -> NDArray[np.bool_]:
    """Find stretches where a channel holds one exact value while the rest of it lives: a lost plug, a frozen input.

    Parameters
    ----------
    values : ndarray (n,)
    step_s : float, [s]

    Returns
    -------
    ndarray of bool (n,)
        True where dead. A coarse converter repeats values too; only runs twenty times longer than its usual
        ones, and at least a tenth of a second and 25 samples, count. A channel at its largest or smallest
        value is at its stop, which is another matter (`saturation`).
    """
    dead = np.zeros(values.size, dtype=bool)
    # a run as long as that holds neighbours of this coarse row, and they are equal
    far = max(12, int(0.05 / step_s)) if step_s > 0 else 12
    run = far * np.flatnonzero(values[:-far:far] == values[far::far])
    for within in (far // 2, far // 4, 3 * far // 4, 1):
        run = run[values[run + within] == values[run]]
    if run.size == 0:
        return dead
    same = np.concatenate(([False], np.diff(values) == 0.0, [False]))
    edges = np.flatnonzero(np.diff(same.astype(np.int8)))
    starts, stops = edges[::2], edges[1::2] + 1
    if starts.size == 0:
        return dead
    lengths = stops - starts
    short = lengths[lengths < 25]
    usual = float(np.percentile(short, 95.0)) if short.size > 20 else 1.0
    least = max(25.0, 20.0 * usual, 0.1 / step_s if step_s > 0 else 25.0)
    top, bottom = float(values.max()), float(values.min())
    for start, stop in zip(starts[lengths >= least], stops[lengths >= least], strict=True):
        at_stop = values[start] in (top, bottom) and values[start] != 0.0
        if not at_stop or stop - start > 0.3 * values.size:
            dead[start:stop] = True
    return dead


def _dropout(spec: ChannelSpec, time_s: Floats, dead: NDArray[np.bool_]) -> Finding:
    codes = {
        Measures.PULL_FORCE: "force-dropout",
        Measures.SPINDLE_LIFT: "lift-signal-lost",
        Measures.ACOUSTIC: "acoustic-signal-lost",
        Measures.LINE_PRESSURE: "gauge-held",
    }
    code = codes.get(spec.measures, "repaired-samples")
    at = np.flatnonzero(dead)
    parameters = {"channel": spec.column, "start_s": float(time_s[at[0]]), "end_s": float(time_s[at[-1]])}
    return Finding(code, Severity.WARNING, parameters=parameters)


def _sum_cells(
    cells: list[tuple[ChannelSpec, Signal]], findings: list[Finding]
) -> tuple[Signal | None, tuple[float | None, ...]]:
    first = cells[0][1]
    start = max(signal.time_s[0] for _, signal in cells)
    stop = min(signal.time_s[-1] for _, signal in cells)
    time_s = first.time_s[first.between(float(start), float(stop))]
    if time_s.size == first.time_s.size:
        # the same clock stays the same array: whoever asks whether two channels share it need not compare them
        time_s = first.time_s
    if time_s.size < 10:
        return None, ()
    total = np.zeros(time_s.size)
    variance = 0.0
    gaps: list[tuple[float, float]] = []
    stops: list[float | None] = []
    for spec, signal in cells:
        # cells on one clock are added as they are
        same = signal.time_s is first.time_s and time_s.size == first.time_s.size
        total += signal.value if same else np.interp(time_s, signal.time_s, signal.value)
        variance += signal.noise**2
        gaps.extend(signal.gaps)
        stop_at = saturation(signal, spec.capacity)
        stops.append(stop_at)
        if stop_at is not None:
            parameters: dict[str, float | int | str | None] = {"channel": spec.column, "limit_n": stop_at}
            findings.append(Finding("force-saturated", Severity.SEVERE, parameters=parameters))
    merged = tuple(sorted(set(gaps)))
    if merged:
        keep = np.ones(time_s.size, dtype=bool)
        for low, high in merged:
            keep &= (time_s <= low) | (time_s >= high)
        time_s, total = time_s[keep], total[keep]
    spread = np.broadcast_to(np.sqrt(variance), total.shape)
    force = Signal("pull force", Measures.PULL_FORCE, kept(time_s), kept(total), kept(spread), first.step_s, merged)
    return force, tuple(stops)


def saturation(signal: Signal, capacity: float | None) -> float | None:
    """Find whether a channel ran into its stop.

    Either the stated capacity is reached, or the largest value is held exactly, sample after sample, in a
    channel that otherwise has noise.

    Parameters
    ----------
    signal : Signal
    capacity : float or None, same unit as the signal
        Full scale, where the job sheet states it.

    Returns
    -------
    float or None
        The value it stopped at.
    """
    top = float(signal.value.max())
    if capacity is not None and top >= 0.999 * capacity:
        return top
    if signal.noise <= 0:
        return None
    held = np.flatnonzero(signal.value >= top - 1e-9 * abs(top))
    runs = int(np.sum(np.diff(held) == 1)) if held.size > 1 else 0
    # noise repeats one exact value a few times at most; a stop holds it for tens of samples
    return top if runs >= 12 and float(np.ptp(signal.value)) >= 50.0 * signal.noise else None
