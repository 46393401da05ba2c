"""Findings about one pull: slack, zero, line, leak, load sharing, friction, gaps."""

from __future__ import annotations

import math

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.lift.closure import cell_load
from firstlift.core.lift.find import PullFind
from firstlift.core.lift.onset import block_means
from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow

# a good gauge's own uncertainty (common practice, no source)
_UNSTEADY = 0.003
# below this share of set pressure the pull carries most of the load and the spindle may rise without the disc
_SPRING_ONLY = 0.25
_FRICTION_SHARE = 0.035
# two cells that carry their load off the axis: largest over mean share beyond this is a slanted pull
_ECCENTRIC = 1.3


def of_pull(signals: Signals, find: PullFind) -> list[Finding]:
    """Give findings about one pull: slack, zero, line, leak, load sharing, friction, gaps.

    Parameters
    ----------
    signals : Signals
    find : PullFind

    Returns
    -------
    list of Finding
    """
    window = find.window
    number = window.number
    findings: list[Finding] = []
    if not window.slack_proven:
        findings.append(Finding("slack-not-proven", Severity.WARNING, number))
    findings.extend(_zero_shift(signals, window))
    findings.extend(_unsteady(signals, window))
    if find.joint is None:
        return findings
    at = find.joint.mean_s
    findings.extend(_slow_sampling(signals, find))
    findings.extend(_leak(signals, find))
    findings.extend(_eccentric(signals, window, at))
    findings.extend(_friction(find))
    findings.extend(_gap_near(signals, at, find.joint.spread_s, number))
    return findings


def _slow_sampling(signals: Signals, find: PullFind) -> list[Finding]:
    """Fewer than twenty-five samples from slack to first lift: no fit has much to go by."""
    force, joint = signals.force, find.joint
    if force is None or joint is None or (joint.mean_s - find.window.start_s) > 25.0 * force.step_s:
        return []
    parameters = {"channel": force.name, "rate_hz": 1.0 / force.step_s}
    return [Finding("rate-too-low", Severity.WARNING, find.window.number, parameters)]


def _zero_shift(signals: Signals, window: PullWindow) -> list[Finding]:
    """The slack reading moved: more than six of its own scatter and more than a hundredth of the pull."""
    shift, force = window.zero_shift_n, signals.force
    if shift is None or force is None or not abs(shift) > 6.0 * math.sqrt(2.0) * window.u_tare_n:
        return []
    part = force.value[force.between(window.start_s, window.end_s)]
    largest = float(np.percentile(part, 99.0)) - window.tare_n if part.size else 0.0
    if abs(shift) > 0.01 * largest:
        return [Finding("zero-shift", Severity.WARNING, window.number, {"shift_n": shift})]
    return []


def _unsteady(signals: Signals, window: PullWindow) -> list[Finding]:
    """Standard deviation of tenth-second means over the loading, beyond three thousandths of the pressure."""
    pressure = signals.pressure
    if pressure is None:
        return []
    start, stop = window.slack_from_s, max(window.peak_s, window.start_s)
    edges = np.linspace(start, stop, int(np.clip((stop - start) / 0.1, 5, 2000)))
    mean, _ = block_means(pressure.part(start, stop), edges)
    mean = mean[np.isfinite(mean)]
    if mean.size < 5:
        return []
    spread = float(np.std(mean))
    level = abs(float(np.mean(mean)))
    if level > 0 and spread > _UNSTEADY * level:
        return [Finding("line-unsteady", Severity.WARNING, window.number, {"spread_pa": spread})]
    return []


def _leak(signals: Signals, find: PullFind) -> list[Finding]:
    """Sound well before first lift at a sizeable share of what flows after it: the seat leaked.

    Every seat hisses as its contact load fades, over the last few hundredths of the pull. A seat that is heard
    all through the stretch from three fifths to four fifths of the way to first lift, at more than an
    eightieth of its loudest, and no less at the end of it than at its beginning, leaks: a burst dies away. So does one
    that is heard far less but plainly more and more, as the contact load fades: a disc held by a bond hisses evenly.
    """
    sound, joint, window = signals.sound, find.joint, find.window
    if sound is None or joint is None:
        return []
    rise = joint.mean_s - window.start_s
    early = sound.value[sound.between(joint.mean_s - 0.4 * rise, joint.mean_s - 0.2 * rise)]
    slack = sound.value[sound.between(window.slack_from_s, window.start_s)]
    flowing = sound.value[sound.between(joint.mean_s, window.end_s)]
    if early.size < 40 or min(slack.size, flowing.size) < 8:
        return []
    ground = float(np.median(slack))
    pieces = np.array([piece.mean() for piece in np.array_split(early, 20)])
    risen = float(np.percentile(pieces, 10.0)) - ground
    # medians: a burst lies in a few of the pieces
    first, last = float(np.median(pieces[:5])), float(np.median(pieces[-5:]))
    scatter = max(float(np.std(slack)), sound.noise) / math.sqrt(early.size / 20.0)
    loudest = float(np.percentile(flowing, 95.0)) - ground
    near = sound.value[sound.between(joint.mean_s - 0.07 * rise, joint.mean_s - 0.02 * rise - 3.0 * joint.spread_s)]
    faint, fading = first - ground, last - ground
    heard = float(np.median(near)) - ground if near.size > 8 else fading
    plain = fading >= 0.9 * faint and heard >= 0.8 * fading and risen > 5.0 * scatter and risen > 0.0125 * loudest
    grows = (
        last - first > max(5.0 * scatter * math.sqrt(2.0 / 5.0), 0.2 * faint)
        # as an exponential does: no less steeply from here to first lift; what set in all at once stays as it is
        and heard > fading * max(1.4, math.sqrt(max(fading, 0.0) / max(faint, scatter)))
    )
    if plain or (grows and fading > max(3.0 * scatter, 0.003 * loudest)):
        return [Finding("leaking-before-lift", Severity.WARNING, window.number, {"lead_s": 0.2 * rise})]
    return []


def _eccentric(signals: Signals, window: PullWindow, at: float) -> list[Finding]:
    if len(signals.cells) < 2:
        return []
    loads = [cell_load(cell, window, at) for cell in signals.cells]
    total = sum(loads)
    if total <= 0:
        return []
    share = max(loads) / total * len(loads)
    if share > _ECCENTRIC:
        return [Finding("eccentric-pull", Severity.WARNING, window.number, {"share_share": max(loads) / total})]
    return []


def _friction(find: PullFind) -> list[Finding]:
    """Friction of more than 3.5 % of the opening pull, as when guide or packing drags.

    Without any, simulated pulls read up to 2.4 % (damping); only a slanted pull reads up to 4.3 %, whose side load
    drags as well, and one in forty of those whose disc jumps a part of its way 3.7 %.
    """
    opening, friction = find.signature.opening_force_n, find.signature.friction_n
    if opening is None or friction is None or opening <= 0:
        return []
    if friction > _FRICTION_SHARE * opening and friction > 4.0 * find.window.u_tare_n:
        return [Finding("friction", Severity.INFO, find.window.number, {"friction_n": friction})]
    return []


def _gap_near(signals: Signals, at: float, spread: float, number: int) -> list[Finding]:
    """Say which of the channels that tell of the moment have a gap there, and how far the widest reaches."""
    names: list[str] = []
    widest = (0.0, 0.0)
    for signal in (signals.force, signals.lift, signals.sound, signals.pressure):
        if signal is None:
            continue
        for low, high in signal.gaps:
            if low - 3.0 * spread <= at <= high + 3.0 * spread:
                names.append(signal.name)
                widest = max(widest, (low, high), key=lambda gap: gap[1] - gap[0])
    if not names:
        return []
    parameters = {"channel": ", ".join(names), "from_s": widest[0], "to_s": widest[1]}
    return [Finding("gap-at-first-lift", Severity.WARNING, number, parameters)]
