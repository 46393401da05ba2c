"""The adjustment advisor: may this valve be turned, which way, how far, and what is to be expected after."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.adjust.allowed import GROUP_RULES, Place, exceeds, highest_set_pa, within_reset
from firstlift.core.adjust.screw import Effect, Turned, combine_effects, effect_of_spring, learn_effect
from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.tolerance.judge import probability_within
from firstlift.core.tolerance.limits import Limits
from firstlift.core.valve import Seat, Valve

FORMAT = "firstlift-adjust-1"
# a hexagon's flats, and what a hand can set of one (common practice, no source)
FLATS_PER_TURN = 6
_HAND_FLATS = 0.25
# line pressure at which the screw may be turned, as a share of the lower of set pressure now and target (common
# practice, no source; API RP 576 and makers ask for "well below")
_SAFE_LINE_SHARE = 0.9
_STAYS_SHUT = ("stayed-open", "already-open")
_LEAKING = ("leaking-before-lift",)
# findings after which a reading does not say what the spring is set to
_DOUBTFUL = (
    "channels-disagree", "eccentric-pull", "frame-slip", "force-saturated", "force-dropout", "slack-not-proven",
    "spring-setting-only", "stuck-first-pull", "torn-file", "trend", "openings-disagree", "gauge-lag",
    "line-unsteady", "lower-bound-high", "not-lifted",
)  # fmt: skip
_HOLDS = (
    "adjust-hold-pull-off", "adjust-hold-line-lowered", "adjust-hold-seal-cut", "adjust-hold-rings",
    "adjust-hold-height", "adjust-hold-spindle", "adjust-hold-turn", "adjust-hold-locknut", "adjust-hold-actuate",
    "adjust-hold-seal",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class AdjustInputs:
    """Everything the advice looks at: SI, gauge; None where nobody knows.

    ``reading_pa`` with its standard uncertainty is the set pressure as it is; ``reading_codes`` are the codes
    of the findings of its test. ``authorised_by`` names who allowed this person to change a setting (empty: no
    one). ``line_pressure_pa`` is the line's now, ``pull_off`` whether the gear is slack.
    """

    valve: Valve
    seat: Seat
    limits: Limits
    reading_pa: float
    u_reading_pa: float
    target_pa: float
    authorised_by: str = ""
    reading_codes: tuple[str, ...] = ()
    line_pressure_pa: float | None = None
    pull_off: bool = False
    mawp_pa: float | None = None
    place: Place = Place.FIRST
    turned: tuple[Turned, ...] = ()
    relative_u_rate: float | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """How far to turn, with what to expect; no turns where ``blocked``: the findings say why.

    ``turns`` right (clockwise from above) is positive; ``flats`` is the same on a hexagon, rounded to what a
    hand can set. ``expected_pa`` is the set pressure after the rounded turn.
    """

    format: str
    tag: str
    blocked: bool
    reading_pa: float
    u_reading_pa: float
    target_pa: float
    highest_allowed_pa: float | None
    change_pa: float
    effect_pa_per_turn: float | None
    u_effect_pa_per_turn: float | None
    effect_source: str | None
    turns: float | None
    u_turns: float | None
    flats: float | None
    direction: str | None
    expected_pa: float | None
    u_expected_pa: float | None
    probability_within: float | None
    findings: tuple[Finding, ...]
    hold_points: tuple[str, ...]


def advise(inputs: AdjustInputs) -> Advice:
    """Say how far to turn the adjusting screw, or why not to.

    Parameters
    ----------
    inputs : AdjustInputs

    Returns
    -------
    Advice

    Raises
    ------
    FirstliftError
        ADJ-001 spring rate or pitch of 0 or less; ADJ-002 past adjustments that teach nothing; ADJ-005 a
        reading or a target that makes no sense.

    References
    ----------
    .. [1] API RP 576, 4th edition 2017, 6.2.9.8: actuate after an adjustment, within the maker's spring range
       (looked up as a public copy).
    .. [2] A reading taken while the seat leaks is low, and chasing it sets the valve high (regulator's study
       of drift, looked up).
    """
    _check(inputs)
    effect = _effect(inputs)
    findings = [*_person(inputs), *_doubts(inputs.reading_codes), *_state(inputs), *_pressures(inputs)]
    if effect is None:
        findings.append(_severe("adjust-no-spring-data"))
    elif effect.disagrees:
        findings.append(Finding("adjust-effect-disagrees", Severity.WARNING))
    change = inputs.target_pa - inputs.reading_pa
    blocked = any(finding.severity is Severity.SEVERE for finding in findings)
    if blocked or effect is None:
        return _advice(inputs, findings, effect, change)
    flats = round(change / effect.pa_per_turn * FLATS_PER_TURN / _HAND_FLATS) * _HAND_FLATS
    findings.extend(_steps(inputs, effect, flats))
    return _advice(inputs, findings, effect, change, flats)


def _advice(
    inputs: AdjustInputs, findings: Sequence[Finding], effect: Effect | None, change: float, flats: float | None = None
) -> Advice:
    turns = u_turns = expected = u_expected = within = None
    direction: str | None = None
    if flats is not None and effect is not None:
        turns = change / effect.pa_per_turn
        u_turns = math.hypot(inputs.u_reading_pa, turns * effect.u_pa_per_turn) / effect.pa_per_turn
        made = flats / FLATS_PER_TURN
        expected = inputs.reading_pa + made * effect.pa_per_turn
        u_expected = math.hypot(inputs.u_reading_pa, made * effect.u_pa_per_turn)
        within = probability_within(expected, u_expected, inputs.limits, inputs.limits.pop_distance_pa)
        direction = "right" if flats > 0.0 else "left" if flats < 0.0 else "none"
    rule = GROUP_RULES[inputs.limits.code] if inputs.limits.code in GROUP_RULES else GROUP_RULES["owner"]
    return Advice(
        format=FORMAT,
        tag=inputs.valve.tag,
        blocked=flats is None,
        reading_pa=inputs.reading_pa,
        u_reading_pa=inputs.u_reading_pa,
        target_pa=inputs.target_pa,
        highest_allowed_pa=highest_set_pa(rule, inputs.mawp_pa, inputs.place) if inputs.mawp_pa else None,
        change_pa=change,
        effect_pa_per_turn=effect.pa_per_turn if effect else None,
        u_effect_pa_per_turn=effect.u_pa_per_turn if effect else None,
        effect_source=effect.source if effect else None,
        turns=turns,
        u_turns=u_turns,
        flats=flats,
        direction=direction,
        expected_pa=expected,
        u_expected_pa=u_expected,
        probability_within=within,
        findings=tuple(findings),
        hold_points=() if flats is None else _HOLDS,
    )


def _check(inputs: AdjustInputs) -> None:
    rows = (
        ("reading", inputs.reading_pa, 0.0),
        ("target", inputs.target_pa, 0.0),
        ("uncertainty of the reading", inputs.u_reading_pa, 0.0),
        ("MAWP", 1.0 if inputs.mawp_pa is None else inputs.mawp_pa, 0.0),
        ("line pressure", 1.0 if inputs.line_pressure_pa is None else inputs.line_pressure_pa + 1.0, 0.0),
    )
    problems = [
        Problem("ADJ-005", f"a {name} of {value:g} Pa makes no sense", name, "a pressure above 0")
        for name, value, least in rows
        if not (math.isfinite(value) and value > least)
    ]
    if not problems and abs(inputs.target_pa - inputs.reading_pa) > 0.5 * inputs.reading_pa:
        problems.append(
            Problem(
                "ADJ-005",
                f"target {inputs.target_pa / 1e5:.4g} bar and reading {inputs.reading_pa / 1e5:.4g} bar are too far "
                "apart for a turn of the screw",
                "target",
                "a target within half of the reading",
                "Correct the entry, or send the valve to the workshop",
            )
        )
    if problems:
        raise FirstliftError(problems)


def _effect(inputs: AdjustInputs) -> Effect | None:
    valve = inputs.valve
    spring = None
    if valve.spring_rate_n_m is not None and valve.screw_pitch_m is not None:
        spring = effect_of_spring(
            valve.spring_rate_n_m, valve.screw_pitch_m, inputs.seat, relative_u_rate=inputs.relative_u_rate
        )
    return combine_effects(spring, learn_effect(inputs.turned))


def _person(inputs: AdjustInputs) -> list[Finding]:
    return [] if inputs.authorised_by.strip() else [_severe("adjust-not-authorised")]


def _doubts(codes: tuple[str, ...]) -> list[Finding]:
    findings: list[Finding] = []
    if any(code in _STAYS_SHUT for code in codes):
        findings.append(_severe("adjust-stayed-open"))
    if any(code in _LEAKING for code in codes):
        findings.append(_severe("adjust-leaking"))
    doubtful = [code for code in codes if code in _DOUBTFUL]
    if doubtful:
        findings.append(Finding("adjust-doubtful", Severity.SEVERE, None, {"reason": ", ".join(doubtful)}))
    return findings


def _state(inputs: AdjustInputs) -> list[Finding]:
    findings: list[Finding] = []
    if not inputs.pull_off:
        findings.append(_severe("adjust-pull-on"))
    safe = _SAFE_LINE_SHARE * min(inputs.reading_pa, inputs.target_pa)
    if inputs.line_pressure_pa is None:
        findings.append(Finding("adjust-line-unknown", Severity.SEVERE, None, {"safe_pa": safe}))
    elif exceeds(inputs.line_pressure_pa, safe):
        parameters = {"line_pressure_pa": inputs.line_pressure_pa, "safe_pa": safe}
        findings.append(Finding("adjust-line-too-high", Severity.SEVERE, None, parameters))
    return findings


def _pressures(inputs: AdjustInputs) -> list[Finding]:
    valve, target = inputs.valve, inputs.target_pa
    stamped = inputs.limits.set_pressure_pa
    findings: list[Finding] = []
    low, high = valve.spring_range_low_pa, valve.spring_range_high_pa
    if (low is not None and exceeds(low, target)) or (high is not None and exceeds(target, high)):
        parameters = {"target_pa": target, "range_low_pa": low, "range_high_pa": high}
        findings.append(Finding("adjust-spring-range", Severity.SEVERE, None, parameters))
    elif (low is None or high is None) and not within_reset(target, stamped):
        parameters = {"target_pa": target, "stamped_pa": stamped}
        findings.append(Finding("adjust-beyond-change", Severity.SEVERE, None, parameters))
    if low is None or high is None:
        findings.append(Finding("adjust-range-unknown", Severity.WARNING))
    findings.extend(_group(inputs))
    return findings


def _group(inputs: AdjustInputs) -> list[Finding]:
    rule = GROUP_RULES.get(inputs.limits.code, GROUP_RULES["owner"])
    if inputs.mawp_pa is None:
        return [Finding("adjust-mawp-unknown", Severity.WARNING)]
    highest = highest_set_pa(rule, inputs.mawp_pa, inputs.place)
    findings: list[Finding] = []
    if exceeds(inputs.target_pa, highest):
        parameters = {
            "target_pa": inputs.target_pa, "highest_pa": highest, "mawp_pa": inputs.mawp_pa,
            "place": str(inputs.place), "rule_set": rule.code, "clause": rule.clause,
        }  # fmt: skip
        findings.append(Finding("adjust-above-code", Severity.SEVERE, None, parameters))
    if rule.silent and inputs.place is not Place.FIRST:
        findings.append(Finding("adjust-group-silent", Severity.WARNING, None, {"rule_set": rule.code}))
    return findings


def _steps(inputs: AdjustInputs, effect: Effect, flats: float) -> list[Finding]:
    findings: list[Finding] = []
    limits = inputs.limits
    if flats == 0.0:
        findings.append(Finding("adjust-nothing-to-do", Severity.INFO))
    elif probability_within(inputs.reading_pa, inputs.u_reading_pa, limits, limits.pop_distance_pa) >= 0.95:
        findings.append(Finding("adjust-within-already", Severity.INFO))
    spread = abs(flats) / FLATS_PER_TURN * effect.u_pa_per_turn
    if 2.0 * spread > 0.5 * (limits.upper_pa - limits.lower_pa) / 2.0:
        findings.append(Finding("adjust-in-steps", Severity.WARNING, None, {"uncertainty_pa": 2.0 * spread}))
    if effect.source == "spring":
        findings.append(Finding("adjust-not-learned", Severity.INFO))
    return findings


def _severe(code: str) -> Finding:
    return Finding(code, Severity.SEVERE)
