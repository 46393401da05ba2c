"""Line pressure at an instant: a local line whose window the data choose, never an average around the moment.

A line that sags as soon as the valve opens must not be averaged over the opening: the local line may bend at
the instant asked for. The window is the longest whose estimate agrees with every shorter one (intersection
of confidence intervals: Katkovnik, IEEE Trans. Signal Processing 47 (1999) 2567).
"""

from __future__ import annotations

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal


def level_at(signal: Signal, time_s: Floats, *, shortest_s: float, longest_s: float) -> tuple[Floats, Floats]:
    """Estimate a channel's value at given instants, with its standard uncertainty from noise and choice.

    Parameters
    ----------
    signal : Signal
    time_s : ndarray (g,), [s]
        Instants asked for; the window is chosen once, for their middle.
    shortest_s, longest_s : float, [s]
        Half widths between which the window is chosen.

    Returns
    -------
    value, standard_uncertainty : ndarray (g,), unit of the signal
    """
    middle = float(np.median(time_s))
    shortest = max(shortest_s, 4.0 * signal.step_s)
    best: tuple[float, int] | None = None
    low, high = -np.inf, np.inf
    half = shortest
    while half <= max(longest_s, shortest) * 1.001:
        for order in (1, 2):
            value, u = _local(signal, middle, half, order)
            if not np.isfinite(value):
                continue
            if best is not None and order == 1:
                new_low, new_high = max(low, value - 2.0 * u), min(high, value + 2.0 * u)
                if new_low > new_high:
                    return _many(signal, time_s, *best)
                low, high = new_low, new_high
            elif order == 1:
                low, high = value - 2.0 * u, value + 2.0 * u
            if order == 1:
                best = (half, 1)
        half *= 1.5
    if best is None:
        near = int(np.clip(np.searchsorted(signal.time_s, middle), 0, signal.value.size - 1))
        return np.full(time_s.size, signal.value[near]), np.full(time_s.size, max(signal.noise, 1e-12))
    return _many(signal, time_s, *best)


def _many(signal: Signal, time_s: Floats, half: float, order: int) -> tuple[Floats, Floats]:
    # about fifteen of the instants, the last one always among them, are read; between them lies a straight line
    at = np.append(time_s[: -1 : max(1, time_s.size // 15)], time_s[-1])
    pairs = [_local(signal, float(t), half, order) for t in at]
    value = np.interp(time_s, at, [v for v, _ in pairs])
    return value, np.interp(time_s, at, [u for _, u in pairs])


def _local(signal: Signal, at: float, half: float, order: int) -> tuple[float, float]:
    part = signal.between(at - half, at + half)
    t = signal.time_s[part] - at
    if t.size < order + 4:
        return np.nan, np.nan
    columns = [np.ones_like(t), *(t**power for power in range(1, order + 1))]
    if (t > 0).sum() > 4 and (t < 0).sum() > 4:
        columns.append(np.maximum(t, 0.0))  # free to bend at the instant
    matrix = np.stack(columns, axis=1) / np.array([1.0, *([half] * (len(columns) - 1))]) ** 1
    solution, *_ = np.linalg.lstsq(matrix, signal.value[part], rcond=None)
    rest = signal.value[part] - matrix @ solution
    sigma = max(float(np.sqrt(rest @ rest / max(t.size - matrix.shape[1], 1))), signal.noise)
    covariance = np.linalg.pinv(matrix.T @ matrix)
    return float(solution[0]), sigma * float(np.sqrt(max(covariance[0, 0], 0.0)))
