"""Line pressure at an instant: a local line whose window the data choose, never an average around the moment.

A line that sags as soon as the valve opens must not be averaged over the opening: the local line may bend at
the instant asked for. The window is the longest whose estimate agrees with every shorter one (intersection
of confidence intervals: Katkovnik, IEEE Trans. Signal Processing 47 (1999) 2567).
"""

from __future__ import annotations

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal
from firstlift.core.signal.straight import fit_straight

# a force that rises by strokes bends upwards to its end: windows are cut sooner there
_STRICT = 1.0


def level_at(
    signal: Signal, time_s: Floats, *, shortest_s: float, longest_s: float, agree: float = 2.0
) -> tuple[Floats, Floats]:
    """Estimate a channel's value at given instants, with its standard uncertainty from noise and choice.

    Parameters
    ----------
    signal : Signal
    time_s : ndarray (g,), [s]
        Instants asked for; the window is chosen once, for their middle.
    shortest_s, longest_s : float, [s]
        Half widths between which the window is chosen.
    agree : float
        How many standard uncertainties on either side of each estimate the longer windows' estimates must lie within.

    Returns
    -------
    value, standard_uncertainty : ndarray (g,), unit of the signal
    """
    middle = float(np.median(time_s))
    shortest = max(shortest_s, 4.0 * signal.step_s)
    count = int(np.log(max(longest_s / shortest, 1.0) * 1.001) / np.log(1.5)) + 1
    halves = np.asarray(shortest * 1.5 ** np.arange(count), dtype=np.float64)
    value, u = _lines(signal, np.full(halves.size, middle), halves)
    half: float | None = None
    low, high = -np.inf, np.inf
    for index in np.flatnonzero(np.isfinite(value)).tolist():
        low, high = max(low, value[index] - agree * u[index]), min(high, value[index] + agree * u[index])
        if low > high:
            break
        half = float(halves[index])
    if half is None:
        return _nearest(signal, time_s)
    # about fifteen of the instants, the last one always among them, are read; between them lies a straight line
    at = np.append(time_s[: -1 : max(1, time_s.size // 15)], time_s[-1])
    value, u = _lines(signal, at, np.full(at.size, half))
    # an instant within a gap has too few samples around it: it lies on the line between those that have enough
    read = np.isfinite(value)
    if not read.any():
        return _nearest(signal, time_s)
    return np.interp(time_s, at[read], value[read]), np.interp(time_s, at[read], u[read])


def _nearest(signal: Signal, time_s: Floats) -> tuple[Floats, Floats]:
    """Give the sample next to the middle of the instants, and its noise."""
    near = int(np.clip(np.searchsorted(signal.time_s, float(np.median(time_s))), 0, signal.value.size - 1))
    return np.full(time_s.size, signal.value[near]), np.full(time_s.size, max(signal.noise, 1e-12))


def level_before(signal: Signal, time_s: Floats, last_s: float, *, longest_s: float) -> tuple[Floats, Floats]:
    """Estimate a channel's value at given instants from what came before a moment only.

    Parameters
    ----------
    signal : Signal
    time_s : ndarray (g,), [s]
        Instants around the moment.
    last_s : float, [s]
        The moment: nothing after it is looked at.
    longest_s : float, [s]
        Longest stretch before it that may be looked at.

    Returns
    -------
    value, standard_uncertainty : ndarray (g,), unit of the signal
    """
    before = signal.part(last_s - 2.0 * longest_s, last_s)
    reach = {"shortest_s": 10.0 * signal.step_s, "longest_s": longest_s}
    value, u = level_at(before, np.array([last_s]), **reach, agree=_STRICT)
    # how far the level depends on that choice counts as well (rectangular)
    wider, _ = level_at(before, np.array([last_s]), **reach)
    u = np.hypot(u, np.abs(wider - value) / np.sqrt(3.0))
    near = before.between(last_s - max(0.2 * longest_s, 8.0 * signal.step_s), last_s)
    rate = fit_straight(before.time_s[near], before.value[near])[0] if near.stop - near.start > 3 else 0.0
    return value[0] + rate * (time_s - last_s), np.full(time_s.size, float(u[0]))


def _lines(signal: Signal, at: Floats, half: Floats) -> tuple[Floats, Floats]:
    """Fit a line that may bend at its middle around each instant: value there and its uncertainty, (g,) each.

    Parameters
    ----------
    signal : Signal
    at, half : ndarray (g,), [s]
        Instants and half widths of their windows.

    Returns
    -------
    value, standard_uncertainty : ndarray (g,)
        NaN where a window holds fewer than five samples.
    """
    start, stop = float((at - half).min()), float((at + half).max())
    part = signal.between(start, stop)
    if part.stop - part.start < 5:
        return np.full(at.size, np.nan), np.full(at.size, np.nan)
    # running sums measured from one origin near all instants, in units of the widest window: no digits are lost
    origin, unit, ground = 0.5 * (start + stop), 0.5 * (stop - start), float(signal.value[part.start])
    t, y = (signal.time_s[part] - origin) / unit, signal.value[part] - ground
    running = np.zeros((6, t.size + 1))
    np.cumsum(np.stack((np.ones_like(t), t, t * t, y, t * y, y * y)), axis=1, out=running[:, 1:])
    where = np.searchsorted(signal.time_s[part], np.stack((at - half, at, at + half * (1.0 + 1e-12))))
    sides = running[:, where[1:]] - running[:, where[:-1]]
    (n, s1, s2, y0, y1, yy) = _moved(sides, (at - origin) / unit, unit / half)
    after = np.where((n > 4).all(axis=0), 1.0, 0.0)
    # columns: one, distance, distance after the instant (where both sides hold enough samples)
    whole1, whole2, bend1, bend2 = s1.sum(axis=0), s2.sum(axis=0), s1[1] * after, s2[1] * after
    normal = np.array(
        [[n.sum(axis=0), whole1, bend1], [whole1, whole2, bend2], [bend1, bend2, bend2 + (1.0 - after)]]
    ).transpose(2, 0, 1)
    right = np.array([y0.sum(axis=0), y1.sum(axis=0), y1[1] * after]).T
    good = n.sum(axis=0) >= 5
    normal[~good] = np.eye(3)
    inverse = np.linalg.inv(normal)
    solution = np.einsum("gij,gj->gi", inverse, right)
    rest = np.maximum(yy.sum(axis=0) - np.einsum("gi,gi->g", solution, right), 0.0)
    sigma = np.maximum(np.sqrt(rest / np.maximum(n.sum(axis=0) - 2.0 - after, 1.0)), signal.noise)
    u = sigma * np.sqrt(np.maximum(inverse[:, 0, 0], 0.0))
    return np.where(good, solution[:, 0] + ground, np.nan), np.where(good, u, np.nan)


def _moved(sums: Floats, at: Floats, scale: Floats) -> tuple[Floats, ...]:
    """Measure the distances of sums (6, sides, g) from the instants, in units of each half width."""
    n, s1, s2, y0, y1, yy = sums
    return (
        n,
        (s1 - at * n) * scale,
        (s2 - 2.0 * at * s1 + at * at * n) * scale**2,
        y0,
        (y1 - at * y0) * scale,
        yy,
    )
