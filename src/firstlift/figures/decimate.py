"""Fewer points for drawing, with every peak kept."""

from __future__ import annotations

import numpy as np

from firstlift.core.recording import Floats


def min_max(time_s: Floats, values: Floats, buckets: int) -> tuple[Floats, Floats]:
    """Keep the lowest and the highest sample of each stretch, in time order, with first and last sample.

    Parameters
    ----------
    time_s, values : ndarray (n,)
        Finite.
    buckets : int
        Stretches of equal sample count, 1 or more; at most two points come from each.

    Returns
    -------
    time_s, values : ndarray (m,)
        Samples of the input, m <= 2 buckets + 4; the input itself where it is short already.
    """
    size = values.size
    if size <= 2 * buckets:
        return time_s, values
    length = -(-size // buckets)
    whole = size // length * length
    table = values[:whole].reshape(-1, length)
    starts = np.arange(0, whole, length)
    keep = [np.array([0, size - 1]), starts + table.argmin(axis=1), starts + table.argmax(axis=1)]
    if whole < size:
        keep.append(whole + np.array([values[whole:].argmin(), values[whole:].argmax()]))
    index = np.unique(np.concatenate(keep))
    return time_s[index], values[index]


def unbroken(time_s: Floats, values: Floats) -> tuple[tuple[Floats, Floats], ...]:
    """Split a trace where samples are missing, so that no line is drawn across a gap.

    Parameters
    ----------
    time_s, values : ndarray (n,)
        Values may hold NaN. A step above eight usual steps is a gap.

    Returns
    -------
    tuple of (time_s, values)
        Finite runs, in order.
    """
    finite = np.isfinite(time_s) & np.isfinite(values)
    if not finite.any():
        return ()
    seconds, numbers = time_s[finite], values[finite]
    steps = np.diff(seconds)
    # judged on the kept samples: a lone repaired sample leaves a step of two and stays joined
    cuts = np.flatnonzero(steps > 8.0 * np.median(steps)) + 1 if steps.size else np.array([], dtype=int)
    return tuple(zip(np.split(seconds, cuts), np.split(numbers, cuts), strict=True))
