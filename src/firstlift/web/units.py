"""The units a person looks at: pressures, forces, lengths. What is typed may be in any; it is then shown in these."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError
from firstlift.core.units import Kind, find_unit, parse_quantity
from firstlift.words.numbers import format_force, format_length, format_short, format_value

# "" lets each nameplate keep its own, and forces and lengths go by their size
OFFERED: Mapping[Kind, tuple[str, ...]] = {
    Kind.PRESSURE: ("", "bar", "kPa", "MPa", "psi"),
    Kind.FORCE: ("", "N", "kN", "lbf", "kgf"),
    Kind.LENGTH: ("", "mm", "in", "mil"),
}
# under what a choice is kept for a person
LIKED = {Kind.PRESSURE: "unit", Kind.FORCE: "force", Kind.LENGTH: "length"}
_USUAL = {Kind.PRESSURE: "bar", Kind.FORCE: "N", Kind.LENGTH: "mm"}


@dataclass(frozen=True, slots=True)
class Units:
    """What a person chose, "" where nothing."""

    pressure: str = ""
    force: str = ""
    length: str = ""

    @classmethod
    def of(cls, likes: Mapping[str, str]) -> Units:
        """Give what is kept for a person."""
        return cls(*(likes.get(LIKED[kind], "") for kind in (Kind.PRESSURE, Kind.FORCE, Kind.LENGTH)))

    def chosen(self, kind: Kind) -> str:
        """Give the unit of a kind, "" where none was chosen."""
        return {Kind.PRESSURE: self.pressure, Kind.FORCE: self.force, Kind.LENGTH: self.length}.get(kind, "")

    def meant(self, kind: Kind) -> str:
        """Give the unit that a bare number is taken in."""
        return self.chosen(kind) or _USUAL.get(kind, "")

    def show_force(self, n: float | None) -> str:
        """Show a force, [N]."""
        return format_force(n) if n is None or not self.force else format_short(n, self.force, digits=4)

    def show_length(self, m: float | None) -> str:
        """Show a small length, [m]."""
        return format_length(m) if m is None or not self.length else format_short(m, self.length)


def check_unit(text: str, kind: Kind) -> str:
    """Give the symbol of a unit that is to be kept.

    Parameters
    ----------
    text : str
        Empty for none.
    kind : Kind

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        UNI-001, UNI-002 there is no such unit of that kind.
    """
    return find_unit(text, kind, where="Unit").symbol if text.strip() else ""


def converted(text: str, kind: str, unit: str) -> str:
    """Say a typed value in another unit.

    Parameters
    ----------
    text : str
        As it was typed, "174 psi".
    kind : str
        One of `firstlift.core.units.Kind`.
    unit : str
        To say it in.

    Returns
    -------
    str
        "= 12.00 bar"; empty where it was typed in that unit already, or cannot be read.
    """
    try:
        quantity = parse_quantity(text, Kind(kind))
    except FirstliftError:
        return ""
    return "" if quantity.unit == unit else f"= {format_value(quantity.si, unit)}"
