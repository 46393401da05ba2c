"""Medians and other quantiles of one row of numbers, without the care that a general routine takes."""

from __future__ import annotations

import math

from firstlift.core.recording import Floats


def median(values: Floats) -> float:
    """Give the median.

    Parameters
    ----------
    values : ndarray (n,)
        At least one number, none of them NaN.

    Returns
    -------
    float
    """
    half = values.size // 2
    ordered = values.copy()
    if values.size % 2:
        ordered.partition(half)
        return float(ordered[half])
    ordered.partition((half - 1, half))
    return 0.5 * (float(ordered[half - 1]) + float(ordered[half]))


def quantiles(values: Floats, *shares: float) -> list[float]:
    """Give quantiles, on straight lines between the ordered numbers (Hyndman and Fan 1996, definition 7).

    Parameters
    ----------
    values : ndarray (n,)
        At least one number, none of them NaN.
    *shares : float
        From 0 to 1.

    Returns
    -------
    list of float
        One for each share.
    """
    last = values.size - 1
    places = [share * last for share in shares]
    below = [math.floor(place) for place in places]
    above = [min(low + 1, last) for low in below]
    ordered = values.copy()
    ordered.partition(sorted({*below, *above}))
    return [
        float(ordered[low]) + (place - low) * float(ordered[high] - ordered[low])
        for place, low, high in zip(places, below, above, strict=True)
    ]
