"""The value of a channel just before first lift, given that first lift was at one candidate or another."""

from __future__ import annotations

import numpy as np

from firstlift.core.lift.choose import ChannelDensity
from firstlift.core.recording import Floats

# keeps the exponential of a hopeless candidate a number
_LARGEST_CHI2 = 1e3


def force_at(channel: ChannelDensity) -> tuple[Floats, Floats]:
    """Force of the side before, at each candidate: fits weighed by what they say for that candidate.

    Parameters
    ----------
    channel : ChannelDensity

    Returns
    -------
    force, standard_uncertainty : ndarray (g,)
    """
    total, first, second = np.zeros((3, channel.time_s.size))
    trials = channel.trials
    above = trials.chi2[channel.shape, channel.window] - trials.least[channel.shape, channel.window][:, None]
    for curves, within, part in trials.by_batch(channel.shape):
        value, variance = curves.at_bend(within, channel.window[part])
        fitted, weights = np.isfinite(value), channel.weight[part]
        chi2 = np.where(fitted, np.minimum(above[part], _LARGEST_CHI2), _LARGEST_CHI2)
        # floor: a candidate far from this channel's own best still needs a force, if other channels ask for it
        share = np.where(fitted, weights[:, None] * np.maximum(np.exp(-0.5 * chi2), 1e-12), 0.0)
        value, variance = np.where(fitted, value, 0.0), np.where(fitted, variance * channel.inflation, 0.0)
        total += share.sum(axis=0)
        first += (share * value).sum(axis=0)
        second += (share * (variance + np.square(value))).sum(axis=0)
    good = total > 0
    mean = np.where(good, first / np.where(good, total, 1.0), np.nan)
    spread = np.where(good, second / np.where(good, total, 1.0) - np.square(mean), np.nan)
    if not good.all():
        index = np.arange(mean.size)
        mean = np.interp(index, index[good], mean[good])
        spread = np.interp(index, index[good], spread[good])
    return mean, np.sqrt(np.maximum(spread, 0.0))
