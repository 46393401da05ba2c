"""What a changed signature names, before anyone opens the valve.

A spring of another rate is another spring, or one that has lost section or temper; a spring that has set opens early
at the same rate. Friction that has grown is a galled guide; friction that has grown while the closed valve gives more
than it did, or while play has grown, is a spindle that bends. Every name is a place to look, with what it rests on.
"""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.core.errors import Finding, Severity
from firstlift.core.signature.compare import FALSE_ALARM_RATE, Change, compare
from firstlift.core.signature.features import Feature, Visit

# a spring that has tired has lost a part of its rate; one that has lost more than this is another spring
_TIRED_AT_MOST = 0.12


def diagnose(
    now: Visit,
    earlier: Sequence[Visit],
    *,
    spring_rate_n_per_m: float | None = None,
    false_alarm_rate: float = FALSE_ALARM_RATE,
) -> tuple[tuple[Finding, ...], tuple[Change, ...]]:
    """Name what a visit's signature shows over the earlier ones.

    Parameters
    ----------
    now : Visit
    earlier : sequence of Visit
        In order of date.
    spring_rate_n_per_m : float or None, [N/m]
        As stated; see `compare`.
    false_alarm_rate : float
        Chance that a healthy valve is given any name at all.

    Returns
    -------
    findings : tuple of Finding
        Codes "signature-wrong-spring", "signature-tired-spring", "signature-galled-guide", "signature-bent-spindle",
        "signature-changed" for an alarm that fits no name, "signature-first" where there is nothing to compare.
    changes : tuple of Change
        What they rest on.
    """
    changes = compare(now, earlier, spring_rate_n_per_m=spring_rate_n_per_m, false_alarm_rate=false_alarm_rate)
    if not changes:
        return (Finding("signature-first", Severity.INFO, None, {"visits": len(earlier)}),), ()
    alarms = {change.feature: change for change in changes if change.alarm}
    found: list[Finding] = []
    used: set[Feature] = set()
    for name in (_spring, _friction):
        finding, features = name(alarms, {change.feature: change for change in changes}, false_alarm_rate)
        if finding is not None:
            found.append(finding)
            used |= features
    for feature, change in alarms.items():
        if feature not in used:
            found.append(_finding("signature-changed", Severity.INFO, change, false_alarm_rate))
    return tuple(found), changes


_Named = tuple[Finding | None, set[Feature]]


def _spring(alarms: dict[Feature, Change], changes: dict[Feature, Change], rate: float) -> _Named:
    spring, pressure = alarms.get(Feature.SPRING_RATE), alarms.get(Feature.SET_PRESSURE)
    if spring is not None:
        slow = changes[Feature.SPRING_RATE].slope_sure
        tired = spring.change < 0.0 and (spring.change > -_TIRED_AT_MOST or slow)
        code = "signature-tired-spring" if tired else "signature-wrong-spring"
        used = {Feature.SPRING_RATE} | ({Feature.SET_PRESSURE} if pressure is not None else set[Feature]())
        return _finding(code, Severity.WARNING, spring, rate), used
    if pressure is not None and pressure.change < 0.0:
        # the spring pushes less at the same rate: it has set
        return _finding("signature-tired-spring", Severity.WARNING, pressure, rate), {Feature.SET_PRESSURE}
    return None, set()


def _friction(alarms: dict[Feature, Change], changes: dict[Feature, Change], rate: float) -> _Named:
    friction = alarms.get(Feature.FRICTION)
    if friction is None or friction.change < 0.0:
        return None, set()
    stiff, play = alarms.get(Feature.STIFF_SLOPE), alarms.get(Feature.PLAY)
    softer = stiff is not None and stiff.change < 0.0
    looser = play is not None and play.change > 0.0
    if softer or looser:
        used = {Feature.FRICTION} | ({Feature.STIFF_SLOPE} if softer else set[Feature]())
        used |= {Feature.PLAY} if looser else set[Feature]()
        return _finding("signature-bent-spindle", Severity.WARNING, friction, rate), used
    return _finding("signature-galled-guide", Severity.WARNING, friction, rate), {Feature.FRICTION}


def _finding(code: str, severity: Severity, change: Change, rate: float) -> Finding:
    return Finding(
        code,
        severity,
        None,
        {
            "feature": str(change.feature),
            "change_relative": change.change,
            "low_relative": change.low,
            "high_relative": change.high,
            "visits": change.visits,
            "false_alarm_probability": rate,
        },
    )
