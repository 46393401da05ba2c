"""The way of one pull: where to look, the joint estimate, lifted or not, closure, what is worth saying."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.lift.closure import find_closure, signature
from firstlift.core.lift.decide import AWAY, lifted, read_signs
from firstlift.core.lift.explain import evidence, fitted_lines
from firstlift.core.lift.fuse import Joint, fuse
from firstlift.core.lift.onset import Loading, departure, load
from firstlift.core.lift.place import Place, Record
from firstlift.core.lift.settle import find_frame_steps, without_steps
from firstlift.core.lift.slips import first_slips
from firstlift.core.recording import Floats
from firstlift.core.result import Evidence, FittedLine, PullOutcome, Signature
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.pulls import PullWindow

# share of the pull that the force may fall short of what it has reached before, beside noise
RECORD_TOLERANCE = 0.003
# a peak is believed where means of so few samples lie so many standard deviations above: by chance in none of 10^4
_PEAK_SAMPLES = (4, 16)
_PEAK_SIGMAS = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class PullFind:
    """What one pull shows, before any pressure is computed."""

    window: PullWindow
    outcome: PullOutcome
    joint: Joint | None
    closure_s: float | None
    stayed_open: bool
    evidence: tuple[Evidence, ...]
    fit: tuple[FittedLine, ...]
    signature: Signature
    findings: tuple[Finding, ...]


def find_first_lift(signals: Signals, window: PullWindow, *, until_s: float, open_before: bool) -> PullFind:
    """Find first lift in one pull, or say why there is none.

    Parameters
    ----------
    signals : Signals
    window : PullWindow
    until_s : float, [s]
        Start of the next pull or end of the record: as far as closure may be looked for.
    open_before : bool
        The valve stayed open after an earlier pull.

    Returns
    -------
    PullFind
    """
    signals, findings = _trusted(signals, window)
    steps = find_frame_steps(signals, window)
    findings.extend(steps)
    signals = without_steps(signals, steps)
    if open_before or _starts_open(signals, window):
        findings.append(Finding("already-open", Severity.SEVERE, window.number))
        return _without(window, PullOutcome.ALREADY_OPEN, findings)
    loading = load(signals, window, until_s)
    if loading.lift_left is not None and not loading.lift_answers:
        # noise about one value, whatever the force: this sensor has lost the spindle and may not say "no lift"
        findings.append(Finding("lift-signal-lost", Severity.WARNING, window.number, {"channel": "lift"}))
        signals = replace(signals, lift=None)
        loading = load(signals, window, until_s)
    freed = without_stretch(signals, loading, (window.slack_from_s, until_s))
    place = find_place(loading, freed)
    joint = (
        fuse(freed, place, use=(True, loading.lift_left is not None, loading.sound_left is not None)) if place else None
    )
    if joint is None:
        return _without(window, PullOutcome.NOT_LIFTED, findings)
    signs = read_signs(loading, joint)
    opened, code = lifted(signs)
    findings.extend(_channel_findings(code, window))
    if not opened:
        return _without(window, PullOutcome.NOT_LIFTED, findings)
    findings.extend(_disagreement(joint, window))
    closure_s, known = find_closure(signals, window, loading, joint.mean_s, until_s)
    stayed = known and closure_s is None
    if stayed:
        findings.append(Finding("stayed-open", Severity.SEVERE, window.number))
    return PullFind(
        window,
        PullOutcome.MEASURED,
        joint,
        closure_s,
        stayed,
        evidence(joint),
        fitted_lines(joint, window),
        signature(signals, window, loading, joint, closure_s),
        tuple(findings),
    )


def without_stretch(signals: Signals, loading: Loading, span_s: tuple[float, float]) -> Signals:
    """Take off the lift reading what goes with the force: spindle and frame stretch, the seat is unloaded.

    What is left stands still until the disc leaves its seat, however unevenly the force rises (strokes of a hand
    pump, a gear that sticks).

    Parameters
    ----------
    signals : Signals
    loading : Loading
    span_s : (start, stop), [s]
        What is kept of the lift reading.

    Returns
    -------
    Signals
    """
    lift, force, stiff = signals.lift, signals.force, loading.stiff_m_per_n
    if lift is None or force is None or stiff <= 0.0:
        return signals
    part, same = lift.between(*span_s), force.between(*span_s)
    time_s = lift.time_s[part]
    shared = lift.time_s is force.time_s or np.array_equal(time_s, force.time_s[same])
    pulled = force.value[same] if shared else np.interp(time_s, force.time_s, force.value)
    # the force's noise comes in with it
    sigma = np.broadcast_to(np.hypot(lift.noise, stiff * force.noise), time_s.shape)
    return replace(signals, lift=replace(lift, time_s=time_s, value=lift.value[part] - stiff * pulled, sigma=sigma))


def _trusted(signals: Signals, window: PullWindow) -> tuple[Signals, list[Finding]]:
    """Leave out lift or sound where most of its samples are missing within this pull."""
    findings: list[Finding] = []
    kept = signals
    for field, code in (("lift", "lift-signal-lost"), ("sound", "acoustic-signal-lost")):
        signal = getattr(signals, field)
        if signal is None:
            continue
        part = signal.between(window.start_s, window.end_s)
        expected = (window.end_s - window.start_s) / signal.step_s
        if part.stop - part.start < 0.7 * expected:
            findings.append(Finding(code, Severity.WARNING, window.number, {"channel": signal.name}))
            kept = replace(kept, **{field: None})
    return kept, findings


def _without(window: PullWindow, outcome: PullOutcome, findings: list[Finding]) -> PullFind:
    return PullFind(window, outcome, None, None, False, (), (), Signature(), tuple(findings))


def find_place(loading: Loading, signals: Signals) -> Place | None:
    """Bracket the candidates around where lift and sound leave their ground for good.

    The lift is late where the seat is even: it must first grow out of its noise, so the search may go back by
    more than what its own growth there explains. It is early where the seat is tilted, and so is the sound: a
    fading contact gives way and hisses before the disc is free. So the search may go on forward until the
    channel has risen to a twelfth of its largest: no seat gives that much while the disc still touches it.
    Where neither leaves its ground, nothing has lifted that could be seen.

    Parameters
    ----------
    loading : Loading
    signals : Signals

    Returns
    -------
    Place or None
    """
    lift, sound = (_leaves(left, loading) for left in (loading.lift_left, loading.sound_left))
    found = [channel for channel in (lift, sound) if channel is not None]
    if signals.force is None or not found:
        return None
    block = (loading.top_s - loading.start_s) / loading.time_s.size
    first, last = min(at for at, _ in found), max(at for at, _ in found)
    earliest = loading.start_s + 5.0 * block
    low = max(first - 6.0 * block - 0.5 * (last - first), earliest)
    high = min(last + 3.0 * block, loading.top_s)
    if high - low < 2.0 * block:
        low, high = high - 4.0 * block, high
    floor = max(min(low, *(at - back - 6.0 * block for at, back in found)), earliest)
    rises = _rises(loading.lift_left if lift is not None else loading.sound_left, loading)
    limit = min(max(rises + 3.0 * block, high), loading.top_s)
    place = Place(low, high, min(floor, low), limit, loading.start_s, loading.top_s, _record(loading, signals.force))
    return _before_second_slip(place, signals)


def _before_second_slip(place: Place, signals: Signals) -> Place:
    """End the fits before the second slip of a disc that moves by fits and starts, and look about the first."""
    slips = first_slips(signals.lift, place.floor_s, place.top_s) if signals.lift is not None else None
    if slips is None:
        return place
    first, second = slips
    stick = second - first
    # a first slip far from where the channels leave their ground is none
    if not place.low_s - stick < first < place.high_s + stick:
        return place
    top = min(second - 0.15 * stick, place.top_s)
    return replace(
        place,
        low_s=first - 0.3 * stick,
        high_s=first + 0.15 * stick,
        floor_s=min(place.floor_s, first - 0.9 * stick),
        limit_s=min(first + 0.5 * stick, top),
        top_s=top,
        sticks=True,
    )


def _record(loading: Loading, force: Signal) -> Record:
    """The largest force so far, from means of three blocks, with a share of the pull as tolerance beside noise.

    A peak that three blocks blunt is seen by means of fewer samples, as far as their noise cannot have made it.
    """
    smooth = np.convolve(loading.force, np.ones(3) / 3.0, mode="same")[1:-1]
    at, peak = loading.time_s[1:-1], smooth
    some = force.part(loading.start_s, loading.top_s)
    total = np.concatenate(([0.0], np.cumsum(some.value - loading.tare_n)))
    first = np.searchsorted(some.time_s, at - 0.5 * float(at[1] - at[0]))
    for count in _PEAK_SAMPLES:
        if some.value.size > 2 * count:
            means = (total[count:] - total[:-count]) / count - _PEAK_SIGMAS * force.noise / np.sqrt(count)
            blocks = np.clip(first - count // 2, 0, means.size - 1)
            peak = np.maximum(peak, np.maximum.reduceat(means, blocks))
    tolerance = float(np.hypot(loading.force_noise / np.sqrt(3.0), RECORD_TOLERANCE * float(loading.force.max())))
    so_far, peak = (np.maximum.accumulate(each) + loading.tare_n for each in (smooth, peak))
    return Record(at, so_far, peak, smooth + loading.tare_n, tolerance)


def _rises(left: Floats | None, loading: Loading) -> float:
    """Time from which a channel stays above a twelfth of its largest."""
    if left is None:
        return loading.top_s
    index = departure(left, max(AWAY, float(left.max()) / 12.0))
    return float(loading.time_s[index]) if index is not None else loading.top_s


def _leaves(left: Floats | None, loading: Loading) -> tuple[float, float] | None:
    """Time at which a channel leaves its ground, and how long before that its growth may have begun, [s]."""
    index = departure(left, AWAY) if left is not None else None
    if left is None or index is None:
        return None
    at = loading.time_s
    # growth from here to where it has doubled: at this pace it began one such time before
    doubled = np.flatnonzero(left[index:] > 2.0 * left[index])
    later = index + int(doubled[0]) if doubled.size else at.size - 1
    return float(at[index]), 2.0 * float(at[later] - at[index])


def _starts_open(signals: Signals, window: PullWindow) -> bool:
    """Say whether sound and lift before the pull lie far above what they come down to later: open from the start."""
    sound = signals.sound
    if sound is None or not window.slack_proven:
        return False
    before = sound.value[sound.between(window.slack_from_s, window.start_s)]
    if before.size < 8:
        return False
    # some twenty thousand samples tell the record's range
    some = sound.value[:: max(1, sound.value.size // 20000)]
    level = float(np.median(before))
    if level - float(some.min()) <= 20.0 * sound.noise:
        return False
    ground, loudest = np.percentile(some, (1.0, 99.5)).tolist()
    # a flowing valve roars at a good part of the loudest the record holds; noise and leaks do not
    return level - ground > 0.3 * (loudest - ground) and level - ground > 20.0 * sound.noise


def _channel_findings(code: str | None, window: PullWindow) -> list[Finding]:
    if code is None:
        return []
    parameters = {"channel": "sound"} if code == "acoustic-signal-lost" else {}
    return [Finding(code, Severity.WARNING, window.number, parameters)]


def _disagreement(joint: Joint, window: PullWindow) -> list[Finding]:
    """Say so where two channels exclude each other and it matters.

    Apart by more than six of their joint uncertainty, and by more than a thirtieth of the rise from slack to
    first lift: with line pressure at four fifths of set, less than that moves the set pressure by well under
    one per cent.
    """
    matters = (joint.mean_s - window.start_s) / 30.0
    fitted = [channel for channel in joint.channels if channel.fitted]
    for index, first in enumerate(fitted):
        for second in fitted[index + 1 :]:
            apart = abs(first.mean_s - second.mean_s)
            if apart > max(6.0 * float(np.hypot(first.spread_s, second.spread_s)), matters):
                parameters = {"spread_s": apart, "channel": f"{first.name}, {second.name}"}
                return [Finding("channels-disagree", Severity.WARNING, window.number, parameters)]
    return []
