"""Times of channels, shared where channels share them, and read-only arrays without copies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats

# enough samples for a median that is known to one per cent
ENOUGH = 20000


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Times of a channel, with their median step and their gaps; channels that share it share the arrays."""

    time_s: Floats
    step_s: float
    gaps: tuple[tuple[float, float], ...]


def clock_of(time_s: Floats, known: list[Clock]) -> Clock:
    """Give the clock of a channel: one that is known already, if its times are the same.

    Parameters
    ----------
    time_s : ndarray (n,), [s]
        At least two.
    known : list of Clock
        A new clock is added.

    Returns
    -------
    Clock
    """
    for clock in known:
        same = clock.time_s is time_s or (clock.time_s.size == time_s.size and clock.time_s[-1] == time_s[-1])
        if same and (clock.time_s is time_s or np.array_equal(clock.time_s, time_s)):
            return clock
    apart = np.diff(time_s)
    step = float(np.median(apart[:: max(1, apart.size // ENOUGH)]))
    # three steps: one lost sample is no gap that a window of tens of samples would notice
    long = np.flatnonzero(apart > 3.5 * step)[:1000]
    known.append(Clock(kept(time_s), step, tuple((float(time_s[i]), float(time_s[i + 1])) for i in long)))
    return known[-1]


def without(clock: Clock, bad: NDArray[np.bool_]) -> Clock:
    """Leave samples out; the step stays what it was.

    Parameters
    ----------
    clock : Clock
    bad : ndarray of bool (n,)

    Returns
    -------
    Clock
    """
    time_s = clock.time_s[~bad]
    long = np.flatnonzero(np.diff(time_s) > 3.5 * clock.step_s)[:1000]
    return Clock(kept(time_s), clock.step_s, tuple((float(time_s[i]), float(time_s[i + 1])) for i in long))


def kept(values: Floats) -> Floats:
    """Give a read-only view: nothing is copied that nobody writes to.

    Parameters
    ----------
    values : ndarray

    Returns
    -------
    ndarray
        The same array where it is read-only already.
    """
    if not values.flags.writeable:
        return values
    view = values.view()
    view.flags.writeable = False
    return view
