"""What the pulling gear and the line do, whatever the valve does: functions of time alone."""

from __future__ import annotations

import numpy as np

from firstlift.sim.model import Floats, LineModel, Pull


def rise_s(pull: Pull) -> float:
    """Time from the start of a pull until the drive stands at its top, [s].

    Parameters
    ----------
    pull : Pull

    Returns
    -------
    float, [s]
    """
    return _moving_s(pull.top_m, pull) if pull.strokes_s <= 0.0 else _stroked(_moving_s(pull.top_m, pull), pull)


def end_s(pull: Pull) -> float:
    """Time at which the drive is back at its rest, [s].

    Parameters
    ----------
    pull : Pull

    Returns
    -------
    float, [s]
    """
    return pull.start_s + rise_s(pull) + pull.hold_s + pull.top_m / pull.release_m_s


def _moving_s(way_m: float, pull: Pull) -> float:
    """Time for a way with the speed growing evenly over the soft start, then constant."""
    soft = pull.soft_start_s
    soft_way = pull.speed_m_s * soft / 2.0
    if way_m <= soft_way:
        return float(np.sqrt(2.0 * soft * way_m / pull.speed_m_s))
    return soft / 2.0 + way_m / pull.speed_m_s


def _stroked(moving_s: float, pull: Pull) -> float:
    """Clock time at which strokes have given a moving time (the inverse of `_stroke_clock`)."""
    whole, rest = divmod(moving_s, pull.strokes_s)
    if rest <= 0.0:
        return whole * pull.strokes_s
    # smoothstep y = 3u^2 - 2u^3 solved for u in closed form
    part = 0.5 - np.sin(np.arcsin(1.0 - 2.0 * rest / pull.strokes_s) / 3.0)
    return float((whole + part * pull.stroke_share) * pull.strokes_s)


def _stroke_clock(tau_s: Floats, pull: Pull) -> Floats:
    """Moving time of hand strokes: each moves smoothly for its share of the period and rests after it."""
    whole = np.floor(tau_s / pull.strokes_s)
    part = np.clip((tau_s / pull.strokes_s - whole) / pull.stroke_share, 0.0, 1.0)
    return (whole + part * part * (3.0 - 2.0 * part)) * pull.strokes_s


def drive_m(time_s: Floats, pulls: tuple[Pull, ...]) -> Floats:
    """Way of the drive, [m].

    Parameters
    ----------
    time_s : ndarray (n,), [s]
    pulls : tuple of Pull
        One after another, not overlapping.

    Returns
    -------
    ndarray (n,), [m]
    """
    way = np.zeros_like(time_s)
    for pull in pulls:
        tau = np.maximum(time_s - pull.start_s, 0.0)
        if pull.strokes_s > 0.0:
            tau = _stroke_clock(tau, pull)
        soft = max(pull.soft_start_s, 1e-9)
        up = pull.speed_m_s * np.where(tau < soft, tau * tau / (2.0 * soft), tau - soft / 2.0)
        back = (time_s - pull.start_s - rise_s(pull) - pull.hold_s) * pull.release_m_s
        way += np.maximum(0.0, np.minimum(up, pull.top_m) - np.maximum(0.0, back)) * (time_s < end_s(pull))
    return way


def line_pa(time_s: Floats, line: LineModel) -> Floats:
    """Line pressure as the line alone would have it, before the open valve makes it sag, [Pa gauge].

    Parameters
    ----------
    time_s : ndarray (n,), [s]
    line : LineModel

    Returns
    -------
    ndarray (n,), [Pa gauge]
    """
    share = 1.0 + line.drift_per_s * time_s
    for amplitude, frequency_hz, phase in line.waves:
        share = share + amplitude * np.sin(2.0 * np.pi * frequency_hz * time_s + phase)
    return line.pressure_pa * share
