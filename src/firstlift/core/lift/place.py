"""Where first lift is looked for, and what the pull's own record says about a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """The largest force so far, (n,) each: what first lift cannot lie far below, and short peaks it may lie on.

    ``seen_n`` is the force itself, smoothed alike.

    Up to first lift the disc holds, so the force only rises as the pull does. An instant whose force lies
    plainly below what the pull has already reached comes after the opening, not at it.
    """

    time_s: Floats
    force_n: Floats
    peak_n: Floats
    seen_n: Floats
    tolerance_n: float

    def log_weight(self, time_s: Floats, force_n: Floats) -> Floats:
        """Weigh candidates: nothing lost within three tolerances below the record, then as a normal tail.

        Parameters
        ----------
        time_s, force_n : ndarray (g,)
            Candidates and the force there.

        Returns
        -------
        ndarray (g,)
        """
        short = (np.interp(time_s, self.time_s, self.force_n) - force_n) / self.tolerance_n
        return np.maximum(-0.5 * np.square(np.maximum(short - 3.0, 0.0)), -50.0)

    def highest(self, time_s: Floats) -> Floats:
        """Give the force that cannot have been passed by each candidate, (g,): five tolerances above the record.

        The record soon after it, for a force that rises fast is higher than the means around it.
        """
        step = float(self.time_s[1] - self.time_s[0]) if self.time_s.size > 1 else 0.0
        return np.interp(time_s + 3.0 * step, self.time_s, self.peak_n) + 5.0 * self.tolerance_n


@dataclass(frozen=True, slots=True)
class Place:
    """Where to look: candidates between ``low_s`` and ``high_s``, within the loading from start to top.

    Where the evidence leans against an end the search goes on, at most to ``floor_s`` and ``limit_s``.
    ``sticks``: the disc moves by fits and starts, and lets go at once.
    """

    low_s: float
    high_s: float
    floor_s: float
    limit_s: float
    start_s: float
    top_s: float
    record: Record | None = None
    sticks: bool = False
