"""The way of one pull: where to look, the joint estimate, lifted or not, closure, what is worth saying."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.lift.closure import find_closure, signature
from firstlift.core.lift.decide import Signs, lifted, read_signs
from firstlift.core.lift.explain import evidence, fitted_lines
from firstlift.core.lift.fuse import Joint, Place, fuse
from firstlift.core.lift.onset import Loading, departure, load
from firstlift.core.lift.settle import find_frame_steps
from firstlift.core.result import Evidence, FittedLine, PullOutcome, Signature
from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow

# departure from the stiff line or the sound's ground, in block noises (see decide)
_AWAY = 6.0


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
    findings = list(find_frame_steps(signals, window))
    if open_before or _starts_open(signals, window):
        findings.append(Finding("already-open", Severity.SEVERE, window.number))
        return _without(window, PullOutcome.ALREADY_OPEN, findings)
    loading = load(signals, window)
    place = find_place(loading, signals)
    joint = (
        fuse(signals, place, use=(True, loading.lift_left is not None, loading.sound_left is not None))
        if place
        else None
    )
    if joint is None:
        return _without(window, PullOutcome.NOT_LIFTED, findings)
    signs = read_signs(loading, joint)
    opened, code = lifted(signs)
    findings.extend(_channel_findings(code, signs, window))
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
        fitted_lines(joint, loading, window),
        signature(signals, window, loading, joint, closure_s),
        tuple(findings),
    )


def _without(window: PullWindow, outcome: PullOutcome, findings: list[Finding]) -> PullFind:
    return PullFind(window, outcome, None, None, False, (), (), Signature(), tuple(findings))


def find_place(loading: Loading, signals: Signals) -> Place | None:
    """Bracket the candidates: around where lift and sound leave their ground for good.

    Both are late rather than early (they must first rise out of the noise), so the bracket reaches further
    back than forward. Where neither leaves its ground, nothing has lifted that could be seen, except where
    both are missing a departure because one is lost: the force's own peak is then the place.

    Parameters
    ----------
    loading : Loading
    signals : Signals

    Returns
    -------
    Place or None
    """
    at: list[float] = []
    for left in (loading.lift_left, loading.sound_left):
        index = departure(left, _AWAY) if left is not None else None
        if index is not None:
            at.append(float(loading.time_s[index]))
    if not at:
        return None
    block = (loading.top_s - loading.start_s) / loading.time_s.size
    apart = max(at) - min(at)
    low = max(min(at) - 6.0 * block - 0.5 * apart, loading.start_s + 5.0 * block)
    high = min(max(at) + 3.0 * block, loading.top_s)
    if high - low < 2.0 * block:
        low, high = high - 4.0 * block, high
    return Place(low, high, loading.start_s, loading.top_s) if signals.force is not None else None


def _starts_open(signals: Signals, window: PullWindow) -> bool:
    """Say whether sound and lift before the pull lie far above what they come down to later: open from the start."""
    sound = signals.sound
    if sound is None or not window.slack_proven:
        return False
    before = sound.value[sound.between(window.slack_from_s, window.start_s)]
    if before.size < 8:
        return False
    ground = float(np.percentile(sound.value, 1.0))
    loudest = float(np.percentile(sound.value, 99.5))
    level = float(np.median(before))
    # a flowing valve roars at a good part of the loudest the record holds; noise and leaks do not
    return level - ground > 0.3 * (loudest - ground) and level - ground > 20.0 * sound.noise


def _channel_findings(code: str | None, signs: Signs, window: PullWindow) -> list[Finding]:
    if code is None:
        return []
    severity = Severity.WARNING
    names = {"lift-signal-lost": "lift", "acoustic-signal-lost": "sound"}
    parameters = {"channel": names[code]} if code in names else {}
    del signs
    return [Finding(code, severity, window.number, parameters)]


def _disagreement(joint: Joint, window: PullWindow) -> list[Finding]:
    """Say so where two channels exclude each other: apart by more than five of their joint uncertainty."""
    for index, first in enumerate(joint.channels):
        for second in joint.channels[index + 1 :]:
            apart = abs(first.mean_s - second.mean_s)
            if apart > 5.0 * float(np.hypot(first.spread_s, second.spread_s)) and apart > 4.0 * joint.spread_s:
                return [
                    Finding(
                        "channels-disagree",
                        Severity.WARNING,
                        window.number,
                        {"spread_s": apart, "channel": f"{first.name}, {second.name}"},
                    )
                ]
    return []
