"""Valves that protect one system, judged together; and the siblings of a valve that failed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.adjust.allowed import GROUP_RULES, Place, exceeds, highest_set_pa
from firstlift.core.errors import Finding, FirstliftError, Problem, Severity


@dataclass(frozen=True, slots=True)
class Member:
    """A valve of a protected system; ``opens_pa`` is what it was last found or left at, None where not tested."""

    tag: str
    stamped_pa: float
    opens_pa: float | None = None
    fire: bool = False


@dataclass(frozen=True, slots=True)
class SystemJudged:
    """The system's valves together: ``sound`` where nothing severe was found.

    ``first`` is the tag of the lowest-set valve, ``spread_share`` how far the settings lie apart, as a share of
    the highest.
    """

    sound: bool
    first: str
    spread_share: float
    findings: tuple[Finding, ...]


def judge_system(members: Sequence[Member], mawp_pa: float, code: str) -> SystemJudged:
    """Judge the valves of one protected system together.

    Parameters
    ----------
    members : sequence of Member
        One or more.
    mawp_pa : float, [Pa gauge]
        Maximum allowable working pressure of the system.
    code : str
        Rule set; one without a rule for groups takes MAWP for all, and says so.

    Returns
    -------
    SystemJudged

    Raises
    ------
    FirstliftError
        PLN-006 no valve, a pressure that makes no sense, or a tag twice.

    References
    ----------
    .. [1] ASME I, PG-67.3: one valve at or below MAWP, others to 103 %, spread up to 10 % of the highest (looked
       up); UG-134(a): to 105 %, fire 110 % (memory); the others by their rows in `core.adjust.allowed`.
    """
    _check(members, mawp_pa)
    rule = GROUP_RULES.get(code, GROUP_RULES["owner"])
    first = min(members, key=lambda member: member.stamped_pa)
    findings = [*_first(members, mawp_pa), *_others(members, first, mawp_pa, code)]
    highest = max(member.stamped_pa for member in members)
    spread = (highest - first.stamped_pa) / highest
    if rule.spread_share is not None and spread > rule.spread_share * (1.0 + 1e-9):
        parameters = {"spread_share": spread, "allowed_share": rule.spread_share, "clause": rule.clause}
        findings.append(Finding("system-spread", Severity.SEVERE, None, parameters))
    if len(members) > 1 and len({round(member.stamped_pa) for member in members}) == 1:
        findings.append(Finding("system-not-staggered", Severity.WARNING, None, {"count": len(members)}))
    if rule.silent and len(members) > 1:
        findings.append(Finding("system-code-silent", Severity.WARNING, None, {"rule_set": code}))
    untested = [member.tag for member in members if member.opens_pa is None]
    if untested:
        findings.append(Finding("system-untested", Severity.INFO, None, {"tags": ", ".join(untested)}))
    sound = all(finding.severity is not Severity.SEVERE for finding in findings)
    return SystemJudged(sound, first.tag, spread, tuple(findings))


def _check(members: Sequence[Member], mawp_pa: float) -> None:
    numbers = [mawp_pa, *(m.stamped_pa for m in members), *(m.opens_pa for m in members if m.opens_pa is not None)]
    tags = [member.tag for member in members]
    if members and all(math.isfinite(n) and n > 0.0 for n in numbers) and len(set(tags)) == len(tags):
        return
    raise FirstliftError(
        Problem(
            "PLN-006",
            "a protected system that cannot be judged",
            "system",
            "one valve or more, each with its own tag, pressures above 0",
        )
    )


def _first(members: Sequence[Member], mawp_pa: float) -> list[Finding]:
    findings: list[Finding] = []
    if all(exceeds(member.stamped_pa, mawp_pa) for member in members):
        findings.append(Finding("system-none-at-mawp", Severity.SEVERE, None, {"mawp_pa": mawp_pa}))
    known = [member.opens_pa for member in members if member.opens_pa is not None]
    # only where every valve was tested can it be said that none opens in time
    if len(known) == len(members) and all(exceeds(opens, mawp_pa) for opens in known):
        parameters = {"mawp_pa": mawp_pa, "lowest_opening_pa": min(known)}
        findings.append(Finding("system-none-opens-at-mawp", Severity.SEVERE, None, parameters))
    return findings


def _others(members: Sequence[Member], first: Member, mawp_pa: float, code: str) -> list[Finding]:
    rule = GROUP_RULES.get(code, GROUP_RULES["owner"])
    findings: list[Finding] = []
    for member in members:
        place = Place.FIRST if member is first else Place.FIRE if member.fire else Place.FURTHER
        highest = highest_set_pa(rule, mawp_pa, place)
        if member is not first and exceeds(member.stamped_pa, highest):
            parameters = {
                "tag": member.tag, "set_pressure_pa": member.stamped_pa, "highest_pa": highest, "clause": rule.clause,
            }  # fmt: skip
            findings.append(Finding("system-above-code", Severity.SEVERE, None, parameters))
    return findings


@dataclass(frozen=True, slots=True)
class FleetValve:
    """What is known of a valve of the fleet; ``group`` is the owner's own grouping, empty where there is none."""

    tag: str
    group: str = ""
    maker: str = ""
    model: str = ""
    service: str = ""


@dataclass(frozen=True, slots=True)
class Sibling:
    """A sibling of a failed valve and what it shares: "group", "model", "maker", "service"."""

    tag: str
    shares: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SamplingRule:
    """How many siblings are tested for each valve that failed (0: all).

    Two for each failure of the same group until none fails is ASME OM, appendix I's way (memory, to be
    confirmed by the owner's copy); the owner's own rule goes before it.
    """

    each: int = 2
    status: str = "memory"


def siblings_of(
    failed: FleetValve, fleet: Sequence[FleetValve], rule: SamplingRule | None = None
) -> tuple[tuple[Sibling, ...], int]:
    """Name the siblings of a failed valve, the nearest first, and how many of them the rule asks for.

    Parameters
    ----------
    failed : FleetValve
    fleet : sequence of FleetValve
        May hold the failed valve itself.
    rule : SamplingRule or None

    Returns
    -------
    siblings : tuple of Sibling
        Valves that share the group, or maker and model, or maker and service.
    wanted : int
        How many are to be tested, at most all.

    References
    ----------
    .. [1] ASME OM, appendix I: more valves are tested after a failure (memory).
    """
    asked = rule or SamplingRule()
    found: list[Sibling] = []
    for valve in fleet:
        shares = _shared(failed, valve)
        near = "group" in shares or ("maker" in shares and ("model" in shares or "service" in shares))
        if valve.tag != failed.tag and near:
            found.append(Sibling(valve.tag, shares))
    found.sort(key=lambda sibling: (-len(sibling.shares), "group" not in sibling.shares, sibling.tag))
    return tuple(found), len(found) if asked.each == 0 else min(asked.each, len(found))


def _shared(one: FleetValve, other: FleetValve) -> tuple[str, ...]:
    names = ("group", "model", "maker", "service")
    # what nobody stated is not shared
    return tuple(name for name in names if getattr(one, name) and getattr(one, name) == getattr(other, name))
