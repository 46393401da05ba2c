"""One channel: which windows and orders the data allow, and the density of first lift they give.

A window too long bends for other reasons than first lift; one too short knows little. Every window of a
geometric row is fitted with every shape the channel may have; a fit whose leftovers are not noise is put
aside (chi-square and neighbouring residuals); among the rest the widest knowledge wins, and its
neighbours stay in the mixture, so that the choice itself is part of the uncertainty (Akaike weights within
a window: Burnham and Anderson, Model Selection and Multimodel Inference, 2nd edition, 2002, section 2.9; the
milder penalty is chosen because a curve taken for a line biases the bend, a line taken for a curve only
widens it).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.lift.bend import Profile, Shape, Window, profile, residuals
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal

GROWTHS = (0.03, 0.08, 0.2)
FORCE_SHAPES = (
    Shape(1, 1),
    Shape(2, 1),
    Shape(1, 2),
    Shape(2, 2),
    Shape(1, 1, step=True),
    Shape(1, 2, step=True),
    *(Shape(1, 1, grow=grow) for grow in GROWTHS),
)
LIFT_SHAPES = FORCE_SHAPES
SOUND_LEAKS = (0.04, 0.12, 0.35)
SOUND_SHAPES = (
    Shape(1, 1),
    Shape(1, 2),
    *(Shape(1, order, leak=leak) for leak in SOUND_LEAKS for order in (1, 2)),
    Shape(1, 1, step=True),
    Shape(1, 2, step=True),
    *(Shape(1, 1, grow=grow) for grow in GROWTHS),
)
# blocks per window: the join is resolved far better than a block, and fits stay cheap
_BLOCKS = 160
# a leftover this many of its own standard deviations from noise is not noise (one fit in 700 by chance)
_LACK_OF_FIT = 3.2


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One window and shape with its profile on the candidate instants, and how far its leftovers are from noise."""

    window: Window
    profile: Profile
    at: Floats
    lack: float
    spread_s: float
    mean_s: float
    best: int

    @property
    def accepted(self) -> bool:
        """Whether the leftovers may be noise."""
        return self.lack < _LACK_OF_FIT


@dataclass(frozen=True, slots=True, eq=False)
class ChannelDensity:
    """What one channel says: log density (g,) over the candidate instants, and the fits behind it."""

    name: str
    time_s: Floats
    log_density: Floats
    fits: tuple[Fit, ...]
    weights: tuple[float, ...]
    mean_s: float
    spread_s: float
    gain_sigmas: float


def cut(
    signal: Signal, centre_s: float, before_s: float, after_s: float, companion: Signal | None = None
) -> Window | None:
    """Cut a window around a place and average it to blocks.

    Parameters
    ----------
    signal : Signal
    centre_s, before_s, after_s : float, [s]
    companion : Signal or None
        Sampled at the blocks where given.

    Returns
    -------
    Window or None
        None where fewer than eight samples lie on either side.
    """
    part = signal.between(centre_s - before_s, centre_s + after_s)
    time_s, value, sigma = signal.time_s[part], signal.value[part], signal.sigma[part]
    early = int(np.searchsorted(time_s, centre_s))
    if early < 8 or time_s.size - early < 8:
        return None
    size = max(1, time_s.size // _BLOCKS)
    count = time_s.size // size
    used = slice(time_s.size - count * size, None)
    fold = (count, size)
    t = time_s[used].reshape(fold).mean(axis=1)
    weight = 1.0 / np.square(sigma[used]).reshape(fold)
    total = weight.sum(axis=1)
    y = (value[used].reshape(fold) * weight).sum(axis=1) / total
    middle = centre_s + 0.5 * (after_s - before_s)
    half = 0.5 * (after_s + before_s)
    beside = np.interp(t, companion.time_s, companion.value) if companion is not None else None
    return Window(middle, half, (t - middle) / half, y, 1.0 / np.sqrt(total), beside)


def _leftover(window: Window, fitted: Profile, index: int, at: float) -> float:
    """Say how many standard deviations the leftovers are from white noise of the known size."""
    rest = residuals(window, fitted, index, at)
    freedom = max(rest.size - fitted.shape.parameters - 1, 1)
    size = (float(rest @ rest) - freedom) / np.sqrt(2.0 * freedom)
    neighbours = float(rest[1:] @ rest[:-1]) / np.sqrt(rest.size - 1)
    four = rest[: rest.size // 4 * 4].reshape(-1, 4).sum(axis=1) / 2.0
    groups = float(four[1:] @ four[:-1]) / np.sqrt(max(four.size - 1, 1))
    return max(size, neighbours, groups)


def fit_window(window: Window, shapes: tuple[Shape, ...], time_s: Floats, sign: float) -> list[Fit]:
    """Fit every shape over one window.

    Parameters
    ----------
    window : Window
    shapes : tuple of Shape
    time_s : ndarray (g,), [s]
        Candidate instants; those too near the window's ends are left out of the profile (infinite chi-square).
    sign : float
        +1 where the slope must grow at first lift (lift, sound), -1 where it must fall (force), 0 for either.

    Returns
    -------
    list of Fit
    """
    at = window.to_tau(time_s)
    low, high = window.tau[min(5, window.tau.size // 4)], window.tau[-min(6, window.tau.size // 4 + 1)]
    inside = (at > low) & (at < high)
    if inside.sum() < 3:
        return []
    fits: list[Fit] = []
    for shape in shapes:
        if window.tau.size < shape.parameters + 8:
            continue
        inner = profile(window, shape, at[inside])
        chi2 = np.full(at.size, np.inf)
        chi2[inside] = inner.chi2
        if sign and not shape.step:
            wrong = inner.slope_gain * sign <= 0
            chi2[np.flatnonzero(inside)[wrong]] = np.inf
        if not np.isfinite(chi2).any():
            continue
        fits.append(_make_fit(window, _widen(inner, inside, chi2), at, time_s))
    return fits


def _widen(inner: Profile, inside: np.ndarray, chi2: Floats) -> Profile:
    """Lay a profile over the candidates inside the window out over all of them."""

    def spread(values: Floats) -> Floats:
        full = np.full((inside.size, *values.shape[1:]), np.nan)
        full[inside] = values
        return full

    return Profile(
        inner.shape,
        inner.samples,
        chi2,
        spread(inner.value),
        spread(inner.variance),
        spread(inner.slope_before),
        spread(inner.slope_gain),
        spread(inner.gain_variance),
        spread(inner.coefficients),
    )


def _make_fit(window: Window, fitted: Profile, at: Floats, time_s: Floats) -> Fit:
    best = int(np.argmin(fitted.chi2))
    density = np.exp(-0.5 * (fitted.chi2 - fitted.chi2[best]))
    density /= density.sum()
    mean = float(density @ time_s)
    spread = float(np.sqrt(max(density @ np.square(time_s - mean), 0.0)))
    return Fit(window, fitted, at, _leftover(window, fitted, best, float(at[best])), spread, mean, best)


def combine(name: str, fits: list[Fit], time_s: Floats) -> ChannelDensity | None:
    """Mix the fits that the data allow into one density.

    Parameters
    ----------
    name : str
    fits : list of Fit
        All windows and shapes.
    time_s : ndarray (g,), [s]

    Returns
    -------
    ChannelDensity or None
        None where there is no fit.
    """
    if not fits:
        return None
    accepted = [fit for fit in fits if fit.accepted]
    inflation = 1.0
    if not accepted:
        least = min(fit.lack for fit in fits)
        accepted = [fit for fit in fits if fit.lack <= least + 1.0]
        inflation = max(min(_reduced(fit) for fit in accepted), 1.0) * 2.0
    weights = _weights(accepted)
    keep = [(fit, w) for fit, w in zip(accepted, weights, strict=True) if w > 1e-3]
    total = np.zeros(time_s.size)
    for fit, weight in keep:
        chi2 = (fit.profile.chi2 - fit.profile.chi2[fit.best]) / inflation
        density = np.exp(-0.5 * chi2)
        total += weight * density / density.sum()
    total /= total.sum()
    mean = float(total @ time_s)
    spread = float(np.sqrt(total @ np.square(time_s - mean)))
    gain = max(
        (abs(float(f.profile.slope_gain[f.best])) / np.sqrt(float(f.profile.gain_variance[f.best])) for f, _ in keep),
        default=0.0,
    )
    return ChannelDensity(
        name,
        time_s,
        np.log(np.maximum(total, 1e-300)),
        tuple(fit for fit, _ in keep),
        tuple(w for _, w in keep),
        mean,
        spread,
        gain,
    )


def _reduced(fit: Fit) -> float:
    freedom = max(fit.profile.samples - fit.profile.shape.parameters - 1, 1)
    return float(fit.profile.chi2[fit.best]) / freedom


def _weights(fits: list[Fit]) -> Floats:
    """Weigh shapes of one window by Akaike's criterion, windows by how sharply they see the bend."""
    by_window: dict[float, list[int]] = {}
    for index, fit in enumerate(fits):
        by_window.setdefault(fit.window.half_s, []).append(index)
    weights = np.zeros(len(fits))
    sharp: dict[float, float] = {}
    for half, members in by_window.items():
        criterion = np.array(
            [float(fits[i].profile.chi2[fits[i].best]) + 2.0 * fits[i].profile.shape.parameters for i in members]
        )
        share = np.exp(-0.5 * (criterion - criterion.min()))
        share /= share.sum()
        weights[members] = share
        sharp[half] = float(share @ np.array([max(fits[i].spread_s, 1e-9) for i in members]))
    finest = min(sharp.values())
    for half, members in by_window.items():
        # windows near the sharpest stay in; a window twice as vague has a sixteenth of the say
        weights[members] *= (finest / sharp[half]) ** 4
    return weights / weights.sum()
