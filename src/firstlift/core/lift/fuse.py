"""Several channels: the joint density of first lift, and force and line pressure at the moment.

The channels' noises are independent, so their densities multiply. Each is first mixed with a small flat
part: a channel may be plainly wrong (a false burst, a yielding clamp), and one that is must lose its say
instead of pulling the others along (a contaminated density; Box and Tiao, Biometrika 55 (1968) 119).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.lift.choose import (
    FORCE_SHAPES,
    LIFT_SHAPES,
    SOUND_SHAPES,
    ChannelDensity,
    combine,
    cut,
    fit_window,
)
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals

# one reading in fifty of one channel is allowed to be about something else
_CONTAMINATION = 0.02
_CANDIDATES = 121


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """What all channels say together, over the candidate instants (g,).

    ``probability`` sums to one. ``force_n`` and ``u_force_n`` are the pull force at each candidate, tare not
    yet taken off, given that first lift was then.
    """

    time_s: Floats
    probability: Floats
    channels: tuple[ChannelDensity, ...]
    force_n: Floats
    u_force_n: Floats

    @property
    def mean_s(self) -> float:
        """First lift, [s]."""
        return float(self.probability @ self.time_s)

    @property
    def spread_s(self) -> float:
        """Its standard uncertainty, [s]."""
        return float(np.sqrt(self.probability @ np.square(self.time_s - self.mean_s)))


@dataclass(frozen=True, slots=True)
class Place:
    """Where to look: candidates between ``low_s`` and ``high_s``, within the loading from start to top."""

    low_s: float
    high_s: float
    start_s: float
    top_s: float


def fuse(signals: Signals, place: Place, *, use: tuple[bool, bool, bool] = (True, True, True)) -> Joint | None:
    """Estimate first lift from force, lift and sound together.

    Parameters
    ----------
    signals : Signals
    place : Place
    use : tuple of bool
        Whether force, lift and sound may speak.

    Returns
    -------
    Joint or None
        None where no channel has enough samples around the place.
    """
    low, high = place.low_s, place.high_s
    joint: Joint | None = None
    for _ in range(3):
        grid = np.linspace(low, high, _CANDIDATES)
        step = _joint(signals, place, grid, use)
        if step is None:
            return joint
        joint = step
        mean, spread = joint.mean_s, joint.spread_s
        width = max(7.0 * spread, 6.0 * _step(signals))
        if width > 0.35 * (high - low):
            break
        low, high = max(mean - width, place.low_s), min(mean + width, place.high_s)
    return joint


def _step(signals: Signals) -> float:
    return max(s.step_s for s in (signals.force, signals.lift, signals.sound) if s is not None)


def _joint(signals: Signals, place: Place, grid: Floats, use: tuple[bool, bool, bool]) -> Joint | None:
    force = _channel(signals.force, place, grid, FORCE_SHAPES, -1.0)
    lift = _channel(signals.lift, place, grid, LIFT_SHAPES, 1.0)
    sound = _channel(signals.sound, place, grid, SOUND_SHAPES, 1.0)
    asked = [c for c, used in zip((force, lift, sound), use, strict=True) if c is not None and used]
    if not asked or force is None:
        return None
    flat = _CONTAMINATION / grid.size
    density = sum(np.log((1.0 - _CONTAMINATION) * np.exp(c.log_density) + flat) for c in asked)
    probability = np.exp(density - np.max(density))
    probability /= probability.sum()
    value, u = _force_at(force)
    return Joint(grid, probability, tuple(asked), value, u)


def _channel(signal: Signal | None, place: Place, grid: Floats, shapes: tuple, sign: float) -> ChannelDensity | None:
    if signal is None:
        return None
    centre = float(0.5 * (grid[0] + grid[-1]))
    shortest = max(14.0 * signal.step_s, 0.6 * float(grid[-1] - grid[0]))
    longest = max(centre - place.start_s, 1.5 * shortest)
    fits = []
    half = longest
    while half >= 0.99 * shortest:
        before, after = min(half, centre - place.start_s), min(half, max(place.top_s - centre, shortest))
        window = cut(signal, centre, before, after)
        if window is not None:
            fits.extend(fit_window(window, shapes, grid, sign))
        half /= 1.6
    return combine(signal.name, fits, grid)


def _force_at(channel: ChannelDensity) -> tuple[Floats, Floats]:
    """Force of the side before, at each candidate: fits weighed by what they say for that candidate."""
    total = np.zeros(channel.time_s.size)
    first = np.zeros(channel.time_s.size)
    second = np.zeros(channel.time_s.size)
    best = min(float(np.nanmin(fit.profile.chi2)) for fit in channel.fits)
    del best
    for fit, weight in zip(channel.fits, channel.weights, strict=True):
        chi2 = fit.profile.chi2 - fit.profile.chi2[fit.best]
        good = np.isfinite(fit.profile.value) & np.isfinite(fit.profile.variance)
        # floor: a candidate far from this channel's own best still needs a force, if other channels ask for it
        share = np.where(
            good, weight * np.maximum(np.exp(-0.5 * np.where(good, np.minimum(chi2, 1e3), 1e3)), 1e-12), 0.0
        )
        value = np.where(good, fit.profile.value, 0.0)
        variance = np.where(good, fit.profile.variance, 0.0)
        total += share
        first += share * value
        second += share * (variance + np.square(value))
    good = total > 0
    mean = np.where(good, first / np.where(good, total, 1.0), np.nan)
    spread = np.where(good, second / np.where(good, total, 1.0) - np.square(mean), np.nan)
    if not good.all():
        index = np.arange(mean.size)
        mean = np.interp(index, index[good], mean[good])
        spread = np.interp(index, index[good], spread[good])
    return mean, np.sqrt(np.maximum(spread, 0.0))
