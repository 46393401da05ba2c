"""Where a valve that is full open shuts again, and how likely it stays open at the line pressure of the test.

The model: once full open, a valve stays open until the pressure before it falls to its closing pressure, which
lies below set by the blowdown. Nothing of this is measured by a pull. The blowdown is taken to lie anywhere
between the least and the greatest that the code or, where it says nothing, ISO 4126-1 allows, every value
equally likely. The same criterion says whether the disc snaps: above its closing pressure the flow pushes a
fully open disc with more than the spring's force, so that a gas or steam valve, once lifted far enough, runs
open by itself. Whether a pull lifts it that far depends on the valve and on the stiffness of the gear, which
nobody measured beforehand; the chance given here is that it stays open if it does. A liquid valve opens in
proportion.
"""

from __future__ import annotations

from dataclasses import dataclass

from firstlift.core.units import UNITS
from firstlift.core.valve import Medium

_PSI_PA = UNITS["psi"].factor
_BAR_PA = 1e5
_LIKELY = 0.5


@dataclass(frozen=True, slots=True)
class BlowdownRange:
    """Least and greatest blowdown, [Pa], with where they come from."""

    least_pa: float
    greatest_pa: float
    clause: str
    status: str


@dataclass(frozen=True, slots=True)
class StaysOpen:
    """How a valve that is full open behaves at a line pressure: ``chance`` that it stays open, 0 to 1.

    ``likelihood`` is "unlikely" (chance 0), "possible" or "likely". Pressures gauge: it shuts between the two,
    and should have shut below ``closes_low_pa`` whatever its blowdown.
    """

    chance: float
    likelihood: str
    closes_high_pa: float
    closes_low_pa: float
    clause: str
    status: str


def blowdown_range(code: str, medium: Medium, set_pa: float) -> BlowdownRange:
    """Give the blowdown that a code allows.

    Parameters
    ----------
    code : str
    medium : Medium
    set_pa : float, [Pa gauge]

    Returns
    -------
    BlowdownRange, [Pa]

    References
    ----------
    .. [1] ASME I, PG-72.1: 2 % or 2 psi to 4 % or 4 psi, whichever is greater (looked up in a valve handbook;
       another source gives 2 psi as the greatest: the edition decides).
    .. [2] ISO 4126-1:2013 with Amd 1:2016: gas and steam 2 % to 15 % or 0.3 bar, liquid 2.5 % to 20 % or 0.6 bar,
       whichever is greater (looked up). Other codes have no general limit; ISO's is taken as common practice.
    """
    if code == "asme-i":
        least, greatest = max(0.02 * set_pa, 2.0 * _PSI_PA), max(0.04 * set_pa, 4.0 * _PSI_PA)
        return BlowdownRange(least, greatest, "ASME I, PG-72.1", "looked-up")
    status = "looked-up" if code == "iso-4126-1" else "common-practice"
    clause = "ISO 4126-1"
    if medium is Medium.LIQUID:
        return BlowdownRange(0.025 * set_pa, max(0.20 * set_pa, 0.6 * _BAR_PA), clause, status)
    return BlowdownRange(0.02 * set_pa, max(0.15 * set_pa, 0.3 * _BAR_PA), clause, status)


def stays_open(code: str, medium: Medium, set_pa: float, line_pa: float) -> StaysOpen:
    """Say how likely a valve that gets to full lift stays open when the pull is let go.

    Parameters
    ----------
    code : str
    medium : Medium
    set_pa, line_pa : float, [Pa gauge]

    Returns
    -------
    StaysOpen

    References
    ----------
    .. [1] The module's model: closing pressure uniform between set less the greatest and set less the least
       blowdown (computed from the code's limits; the evenness is an assumption).
    """
    blowdown = blowdown_range(code, medium, set_pa)
    high = max(0.0, set_pa - blowdown.least_pa)
    low = max(0.0, set_pa - blowdown.greatest_pa)
    chance = min(1.0, max(0.0, (line_pa - low) / (high - low)))
    likelihood = "unlikely" if chance == 0.0 else "likely" if chance >= _LIKELY else "possible"
    return StaysOpen(chance, likelihood, high, low, blowdown.clause, blowdown.status)
