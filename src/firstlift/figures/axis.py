"""Axes: a range that shows the data, round ticks, and labels that agree in their decimals."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from firstlift.words.place import local


@dataclass(frozen=True, slots=True)
class Axis:
    """A range in data units laid on a stretch of the page (``start`` at ``low``, ``end`` at ``high``)."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Give the place of a value on the page, held inside the stretch."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + min(1.0, max(0.0, share)) * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Say whether a value lies in the range."""
        return self.low <= value <= self.high


def step_for(span: float, count: int) -> float:
    """Give a tick step of 1, 2 or 5 times a power of ten for about ``count`` steps over ``span``.

    Parameters
    ----------
    span : float
        Above 0.
    count : int
        Steps wanted.

    Returns
    -------
    float
    """
    rough = span / max(1, count)
    power = 10.0 ** math.floor(math.log10(rough))
    return next((factor * power for factor in (1.0, 2.0, 5.0) if rough <= factor * power * 1.0000001), 10.0 * power)


def ticks(low: float, high: float, count: int) -> tuple[tuple[float, str], ...]:
    """Give round ticks inside a range with their labels.

    Parameters
    ----------
    low, high : float
        low below high.
    count : int
        Steps wanted, about.

    Returns
    -------
    tuple of (value, label)
        All labels with the same number of decimals.
    """
    step = step_for(high - low, count)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    made: list[tuple[float, str]] = []
    for index in range(first, last + 1):
        text = f"{index * step:.{decimals}f}"
        made.append((index * step, "0" if float(text) == 0.0 else local(text.replace("-", "−"))))
    return tuple(made)


def comfortable(values: Iterable[float]) -> tuple[float, float]:
    """Give a range that shows all values with a little air, takes in zero when near, and is never empty.

    A channel that hardly moves is not blown up until its noise fills the panel: the range is at least 2 %
    of the value's size.

    Parameters
    ----------
    values : iterable of float
        Finite; may be empty.

    Returns
    -------
    low, high : float
    """
    known = list(values)
    if not known:
        return 0.0, 1.0
    low, high = min(known), max(known)
    size = max(abs(low), abs(high))
    # a size that is nothing but the last bit of a float would give an empty range
    least = 0.02 * size if size > 1e-200 else 1.0
    if high - low < least:
        middle = (low + high) / 2.0
        low, high = middle - least / 2.0, middle + least / 2.0
    span = high - low
    if 0.0 < low < 0.3 * span:
        low = 0.0
    if -0.3 * span < high < 0.0:
        high = 0.0
    return low - 0.06 * span, high + 0.10 * span
