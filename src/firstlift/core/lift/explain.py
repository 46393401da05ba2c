"""Why this instant: what each channel says alone, its weight, and the fitted lines ready to draw."""

from __future__ import annotations

import numpy as np

from firstlift.core.lift.bend import design
from firstlift.core.lift.choose import ChannelDensity, Fit
from firstlift.core.lift.fuse import Joint
from firstlift.core.result import Evidence, FittedLine
from firstlift.core.signal.pulls import PullWindow

_POINTS = 12


def evidence(joint: Joint) -> tuple[Evidence, ...]:
    """Give each channel's own estimate and its share of the joint knowledge (inverse variances).

    Parameters
    ----------
    joint : Joint

    Returns
    -------
    tuple of Evidence
    """
    floor = 0.05 * float(joint.time_s[1] - joint.time_s[0])
    known = [1.0 / max(c.spread_s, floor) ** 2 for c in joint.channels]
    total = sum(known)
    return tuple(
        Evidence(channel.name, channel.mean_s, max(channel.spread_s, floor), weight / total)
        for channel, weight in zip(joint.channels, known, strict=True)
    )


def fitted_lines(joint: Joint, window: PullWindow) -> tuple[FittedLine, ...]:
    """Draw the best fit of each channel before and after first lift.

    Parameters
    ----------
    joint : Joint
    window : PullWindow

    Returns
    -------
    tuple of FittedLine
        Values in SI; the force is tared.
    """
    lines: list[FittedLine] = []
    for channel in joint.channels:
        offset = window.tare_n if channel.name == "pull force" else 0.0
        lines.extend(_sides(channel, channel.best, joint.mean_s, offset))
    return tuple(lines)


def _sides(channel: ChannelDensity, fit: Fit, at_s: float, offset: float) -> list[FittedLine]:
    finite = np.flatnonzero(np.isfinite(fit.chi2))
    index = int(finite[int(np.abs(channel.time_s[finite] - at_s).argmin())])
    at = float(fit.at[index])
    ends = ((float(fit.window.tau[0]), at), (at + 1e-9, float(fit.window.tau[-1])))
    tau = np.concatenate([np.linspace(low, high, _POINTS) for low, high in ends])
    value = design(fit.shape, tau, np.array([at]))[0] @ fit.coefficients(index) - offset
    time_s = fit.window.centre_s + fit.window.half_s * tau
    return [
        FittedLine(channel.name, side, tuple(time_s[part].tolist()), tuple(value[part].tolist()))
        for side, part in (("before", slice(0, _POINTS)), ("after", slice(_POINTS, None)))
    ]
