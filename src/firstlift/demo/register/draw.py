"""Chance from one seed: same seed, same register, identifier by identifier."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TypeVar
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np

T = TypeVar("T")


class Draw:
    """Draws numbers, choices, days and identifiers."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def new_id(self) -> UUID:
        """Give a new identifier."""
        return UUID(bytes=self.rng.bytes(16), version=4)

    def chance(self, share: float) -> bool:
        """Say yes in a share of all cases."""
        return bool(self.rng.random() < share)

    def one_of(self, things: Sequence[T]) -> T:
        """Give one of some things, each as likely."""
        return things[int(self.rng.integers(len(things)))]

    def normal(self, spread: float) -> float:
        """Give a normal number around 0."""
        return float(spread * self.rng.standard_normal())

    def between(self, low: float, high: float) -> float:
        """Give a number between two."""
        return float(self.rng.uniform(low, high))

    def whole(self, low: int, high: int) -> int:
        """Give a whole number between two, both included."""
        return int(self.rng.integers(low, high + 1))

    def day(self, start: dt.date, days: int) -> dt.date:
        """Give a day some days at most after another."""
        return start + dt.timedelta(days=self.whole(0, days))


def at_work(day: dt.date, zone: str, hour: float = 9.0) -> dt.datetime:
    """Give an instant of a working day at a site.

    Parameters
    ----------
    day : date
    zone : str
    hour : float, [h]
        Local time.

    Returns
    -------
    datetime
    """
    return dt.datetime.combine(day, dt.time(), tzinfo=ZoneInfo(zone)) + dt.timedelta(minutes=round(60 * hour))
