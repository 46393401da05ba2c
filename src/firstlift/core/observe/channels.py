"""Whether the channels could have shown anything, and why not."""

from __future__ import annotations

from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow


def could_see_lift(signals: Signals) -> bool:
    """Say whether enough channels work to have seen a lift: lift or sound beside the force.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    bool
    """
    return signals.lift is not None or signals.sound is not None


def saturated_by(signals: Signals, window: PullWindow, until_s: float) -> bool:
    """Say whether a cell ran into its stop within a pull, up to an instant.

    Parameters
    ----------
    signals : Signals
    window : PullWindow
    until_s : float, [s]

    Returns
    -------
    bool
    """
    if signals.saturated_at_n is None:
        return False
    for cell, stop in zip(signals.cells, signals.cell_stops_n, strict=True):
        part = cell.value[cell.between(window.start_s, until_s)]
        if stop is not None and part.size and float(part.max()) >= stop - 1e-9 * abs(stop):
            return True
    return False


def why_no_pull(signals: Signals) -> str:
    """Give the reason why no pull could be looked at.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    str
        A finding's code.
    """
    if signals.force is None:
        return "no-usable-force"
    if not could_see_lift(signals):
        return "lift-signal-lost"
    return "no-pull-found"


def why_unusable(signals: Signals) -> str:
    """Give the reason why pulls were found but none is usable.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    str
        A finding's code.
    """
    if signals.saturated_at_n is not None:
        return "force-saturated"
    return "no-line-pressure" if signals.pressure is None else "channels-disagree"
