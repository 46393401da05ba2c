"""The value of a channel just before first lift, given that first lift was at one candidate or another."""

from __future__ import annotations

import numpy as np

from firstlift.core.lift.choose import ChannelDensity
from firstlift.core.lift.lag import LONGEST_LAG_S
from firstlift.core.lift.place import Record
from firstlift.core.recording import Floats

# keeps the exponential of a hopeless candidate a number
_LARGEST_CHI2 = 1e3


def force_at(channel: ChannelDensity, record: Record | None = None) -> tuple[Floats, Floats]:
    """Force of the side before, at each candidate: fits weighed by what they say for that candidate.

    Parameters
    ----------
    channel : ChannelDensity
    record : Record or None
        What the force had reached by then: a curve that runs above it before first lift is not to be believed.

    Returns
    -------
    force, standard_uncertainty : ndarray (g,)
    """
    trials = channel.trials
    above = trials.chi2[channel.shape, channel.window] - trials.least[channel.shape, channel.window][:, None]
    value, variance = trials.curves.at_bend(channel.shape, channel.window)
    fitted = np.isfinite(value)
    # floor: a candidate far from this channel's own best still needs a force, if other channels ask for it
    share = channel.weight[:, None] * np.maximum(np.exp(np.minimum(above, _LARGEST_CHI2) * -0.5), 1e-12)
    variance = _widened(channel, variance)
    if not fitted.all():
        share, value, variance = (np.where(fitted, part, 0.0) for part in (share, value, variance))
    total, first = share.sum(axis=0), (share * value).sum(axis=0)
    second = (share * (variance + value * value)).sum(axis=0)
    good = total > 0
    mean = np.where(good, first / np.where(good, total, 1.0), np.nan)
    spread = np.where(good, second / np.where(good, total, 1.0) - np.square(mean), np.nan)
    if not good.all():
        index = np.arange(mean.size)
        mean = np.interp(index, index[good], mean[good])
        spread = np.interp(index, index[good], spread[good])
    if record is not None:
        mean = np.minimum(mean, record.highest(channel.time_s))
    return mean, np.sqrt(np.maximum(spread, 0.0))


def _widened(channel: ChannelDensity, variance: Floats) -> Floats:
    """Widen the variances (k, g) where no curve fits: as the density is, but by no more than the curve misses."""
    if channel.fitted:
        return variance
    trials, places = channel.trials, (channel.shape, channel.window)
    noise = {row: float(np.median(trials.windows.window(row).sigma)) for row in set(channel.window.tolist())}
    squared = np.array([noise[row] ** 2 for row in channel.window.tolist()])
    missed = trials.least[places] / trials.freedom[places] * squared
    return np.minimum(variance * channel.inflation, np.maximum(variance, missed[:, None]))


def rate_before(channel: ChannelDensity) -> float:
    """Give how fast a channel changes before first lift by its best fit, in its unit per second.

    Parameters
    ----------
    channel : ChannelDensity

    Returns
    -------
    float
    """
    fit = channel.best
    return float(fit.coefficients(fit.best)[1]) / fit.window.half_s


def gives_way(force: ChannelDensity) -> bool:
    """Say whether the force falls at once, and faster than it rose, by its best fit.

    Then what held the disc let go of it with a force left over (a bond that broke, static friction): it moves within
    a fraction of the time that a disc needs on which the force grows from nothing.

    Parameters
    ----------
    force : ChannelDensity

    Returns
    -------
    bool
    """
    fit = force.best
    if fit.shape.soft:
        return False
    coefficients: list[float] = fit.coefficients(fit.best).tolist()
    jump = coefficients[2 + fit.shape.jump] if fit.shape.step else 0.0
    rises = coefficients[1]
    falls = -(rises + coefficients[2 + fit.shape.gain])
    return rises > 0.0 and (falls > rises or jump < -rises * LONGEST_LAG_S / fit.window.half_s)
