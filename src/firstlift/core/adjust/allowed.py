"""To what pressure a valve may be set: its place in the group, the spring's range, the change from the stamp.

Limits in our own words; confirm against the licensed edition before relying on them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from firstlift.core.units import UNITS

_PSI_PA = UNITS["psi"].factor
# beyond rounding of a conversion between units, and far below any gauge
_ROUNDING = 1e-9


class Place(StrEnum):
    """What a valve is in the group that protects one system."""

    FIRST = "first"
    FURTHER = "further"
    FIRE = "fire"


@dataclass(frozen=True, slots=True)
class GroupRule:
    """What a code allows in a group, as shares of MAWP; ``further_psi`` adds a pressure below a MAWP instead.

    ``spread_share`` is how far the settings may lie apart, as a share of the highest (None: not limited).
    ``silent``: the code says nothing for further valves; MAWP is taken, and the owner decides.
    """

    code: str
    edition: str
    clause: str
    status: str
    source: str
    further_share: float
    fire_share: float
    further_psi: tuple[float, float] | None = None
    spread_share: float | None = None
    silent: bool = False


_VIII = ("UG-134(a)", "memory", "first valve at MAWP, further ones to 105 %, fire to 110 %")
GROUP_RULES: Mapping[str, GroupRule] = {
    "asme-i": GroupRule(
        "asme-i", "up to 2019 (from 2021: Section XIII)", "PG-67.3", "looked-up",
        "public valve handbook and boiler manual", 1.03, 1.03, spread_share=0.10,
    ),
    "asme-viii-1": GroupRule("asme-viii-1", "up to 2019 (from 2021: Section XIII)", *_VIII, 1.05, 1.10),
    "asme-xiii": GroupRule("asme-xiii", "2021 on", "as UG-134(a) before", *_VIII[1:], 1.05, 1.10),
    "asme-iv-water": GroupRule(
        "asme-iv-water", "as one state's law follows it", "HG-400.2", "looked-up",
        "a state's boiler law: 6 psi up to a MAWP of 60 psi, 10 % above", 1.10, 1.10, further_psi=(60.0, 6.0),
    ),
    "asme-iv-steam": GroupRule(
        "asme-iv-steam", "up to 2019 (from 2021: Section XIII)", "HG-400.1", "memory", "no valve above MAWP", 1.0, 1.0
    ),
    "iso-4126-1": GroupRule(
        "iso-4126-1", "2013 + Amd 1:2016", "none", "common-practice",
        "the product standard sets no rule for groups; the owner's design code does", 1.0, 1.0, silent=True,
    ),
    "owner": GroupRule(
        "owner", "", "owner's rules", "owner", "the owner's design code decides", 1.0, 1.0, silent=True
    ),
}  # fmt: skip


def highest_set_pa(rule: GroupRule, mawp_pa: float, place: Place) -> float:
    """Give the highest set pressure that a code allows a valve in its place.

    Parameters
    ----------
    rule : GroupRule
    mawp_pa : float, [Pa gauge]
        Maximum allowable working pressure of the protected system.
    place : Place

    Returns
    -------
    float, [Pa gauge]

    References
    ----------
    .. [1] The rule's own clause and source.
    """
    if place is Place.FIRST:
        return mawp_pa
    if place is Place.FURTHER and rule.further_psi is not None:
        up_to, added = rule.further_psi
        if mawp_pa <= up_to * _PSI_PA * (1.0 + _ROUNDING):
            return mawp_pa + added * _PSI_PA
    return mawp_pa * (rule.fire_share if place is Place.FIRE else rule.further_share)


@dataclass(frozen=True, slots=True)
class ResetRule:
    """How far a spring may be set away from the stamped pressure where the maker's range is not known."""

    share: float
    status: str
    source: str


# sources disagree: 5 % (engineering notes), the maker's range alone (API RP 576), 10 % up to 250 psi and 5 % above
# (older text, memory); the narrowest is taken, and the maker's range goes before it
RESET = ResetRule(0.05, "looked-up", "5 % of the marked pressure, low confidence: editions differ")


def within_reset(target_pa: float, stamped_pa: float) -> bool:
    """Say whether a target lies within the change that a spring may be given without the maker's range.

    Parameters
    ----------
    target_pa, stamped_pa : float, [Pa gauge]

    Returns
    -------
    bool
    """
    return abs(target_pa - stamped_pa) <= RESET.share * stamped_pa * (1.0 + _ROUNDING)


def exceeds(value_pa: float, limit_pa: float) -> bool:
    """Say whether a pressure is above a limit by more than rounding.

    Parameters
    ----------
    value_pa, limit_pa : float, [Pa gauge]

    Returns
    -------
    bool
    """
    return value_pa > limit_pa * (1.0 + _ROUNDING)
