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

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Profile, Shape, Window
from firstlift.core.lift.curves import Curves, fit_curves
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
    """One window and shape on the candidate instants (g,), and how far its leftovers are from noise.

    ``chi2`` is infinite for candidates too near the window's ends and where the slope changes the wrong way;
    ``at`` are the candidates in the window's coordinate, ``best`` the one with the least chi-square, and
    ``gain_sigmas`` the change of slope there in units of its own uncertainty.
    """

    window: Window
    shape: Shape
    chi2: Floats
    at: Floats
    lack: float
    spread_s: float
    mean_s: float
    best: int
    gain_sigmas: float
    curves: Curves
    place: tuple[int, int]

    @property
    def accepted(self) -> bool:
        """Whether the leftovers may be noise."""
        return self.lack < _LACK_OF_FIT

    @property
    def profile(self) -> Profile:
        """Values, slopes and coefficients at each candidate, worked out when asked for: few fits are."""
        return replace(self.curves.profile(*self.place), chi2=self.chi2)

    def at_bend(self) -> tuple[Floats, Floats]:
        """Value of the side before at each candidate and its variance, (g,) each; NaN where not fitted."""
        return self.curves.at_bend(*self.place)


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
    time_s = signal.time_s[part]
    early = int(np.searchsorted(time_s, centre_s))
    if early < 8 or time_s.size - early < 8:
        return None
    size = max(1, time_s.size // _BLOCKS)
    used = slice(part.stop - time_s.size // size * size, part.stop)
    value, weight = signal.value[used], 1.0 / np.square(signal.sigma[used])
    # distances from the first sample: running sums of large numbers would lose digits
    start, ground = float(signal.time_s[used.start]), float(value[0])
    t = start + _block_sums(signal.time_s[used] - start, size) / size
    total = _block_sums(weight, size)
    y = ground + _block_sums(weight * (value - ground), size) / total
    middle = centre_s + 0.5 * (after_s - before_s)
    half = 0.5 * (after_s + before_s)
    beside = np.interp(t, companion.time_s, companion.value) if companion is not None else None
    return Window(middle, half, (t - middle) / half, y, 1.0 / np.sqrt(total), beside)


def _block_sums(values: Floats, size: int) -> Floats:
    """Sum runs of ``size`` neighbours, by differences of one running sum."""
    if size == 1:
        return values
    return np.diff(np.cumsum(values)[size - 1 :: size], prepend=0.0)


def fit_windows(windows: list[Window], shapes: tuple[Shape, ...], time_s: Floats, sign: float) -> list[Fit]:
    """Fit every shape over every window.

    Parameters
    ----------
    windows : list of Window
        Of one channel, at least 16 blocks each.
    shapes : tuple of Shape
    time_s : ndarray (g,), [s]
        Candidate instants; those too near a window's ends are left out there (infinite chi-square).
    sign : float
        +1 where the slope must grow at first lift (lift, sound), -1 where it must fall (force), 0 for either.

    Returns
    -------
    list of Fit
        A window with fewer than three candidates inside, and a shape that fits nowhere, give none.
    """
    wide = [window for window in windows if _inside(window, time_s).sum() >= 3]
    if not wide:
        return []
    at = np.array([window.to_tau(time_s) for window in wide])
    inside = np.array([_inside(window, time_s) for window in wide])
    fits: list[Fit] = []
    for curves in fit_curves(tuple(wide), shapes, at, inside):
        fits.extend(_make_fits(tuple(wide), curves, at, time_s, sign))
    return fits


def _inside(window: Window, time_s: Floats) -> NDArray[np.bool_]:
    """Say which candidates have about five blocks on either side of them."""
    at, count = window.to_tau(time_s), window.tau.size
    low, high = window.tau[min(5, count // 4)], window.tau[-min(6, count // 4 + 1)]
    return (at > low) & (at < high)


def _make_fits(windows: tuple[Window, ...], curves: Curves, at: Floats, time_s: Floats, sign: float) -> list[Fit]:
    chi2 = curves.chi2.copy()
    for index, shape in enumerate(curves.shapes):
        if sign and not shape.step:
            chi2[index, curves.theta[shape.gain][index] * sign <= 0] = np.inf
    best = np.argmin(chi2, axis=2)
    least = np.take_along_axis(chi2, best[:, :, None], axis=2)
    fitted = np.isfinite(least[:, :, 0])
    density = np.exp(-0.5 * (chi2 - np.where(np.isfinite(least), least, 0.0)))
    density /= np.maximum(density.sum(axis=2, keepdims=True), 1e-300)
    mean = density @ time_s
    spread = np.sqrt((density * np.square(time_s - mean[:, :, None])).sum(axis=2))
    lack, gain = _lack(curves, best), curves.gain_sigmas(best)
    return [
        Fit(
            window,
            shape,
            chi2[s, w],
            at[w],
            float(lack[s, w]),
            float(spread[s, w]),
            float(mean[s, w]),
            int(best[s, w]),
            float(gain[s, w]),
            curves,
            (s, w),
        )
        for s, shape in enumerate(curves.shapes)
        for w, window in enumerate(windows)
        if fitted[s, w]
    ]


def _lack(curves: Curves, best: NDArray[np.intp]) -> Floats:
    """Say how many standard deviations the leftovers (S, W) are from white noise of the known size."""
    rest = curves.leftovers(best)
    count = curves.stack.size
    freedom = np.maximum(count - curves.shapes[0].parameters - 1, 1)
    size = ((rest * rest).sum(axis=2) - freedom) / np.sqrt(2.0 * freedom)
    neighbours = (rest[:, :, 1:] * rest[:, :, :-1]).sum(axis=2) / np.sqrt(count - 1)
    groups = count // 4
    long = int(groups.max())
    four = rest[:, :, : 4 * long].reshape(*rest.shape[:2], long, 4).sum(axis=3) / 2.0
    # the incomplete group at the end of a shorter window does not count
    four *= np.arange(long) < groups[:, None]
    together = (four[:, :, 1:] * four[:, :, :-1]).sum(axis=2) / np.sqrt(np.maximum(groups - 1, 1))
    return np.maximum(np.maximum(size, neighbours), together)


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
        chi2 = (fit.chi2 - fit.chi2[fit.best]) / inflation
        density = np.exp(-0.5 * chi2)
        total += weight * density / density.sum()
    total /= total.sum()
    mean = float(total @ time_s)
    spread = float(np.sqrt(total @ np.square(time_s - mean)))
    gain = max((fit.gain_sigmas for fit, _ in keep), default=0.0)
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
    freedom = max(fit.window.tau.size - fit.shape.parameters - 1, 1)
    return float(fit.chi2[fit.best]) / freedom


def _weights(fits: list[Fit]) -> Floats:
    """Weigh shapes of one window by Akaike's criterion, windows by how sharply they see the bend."""
    by_window: dict[float, list[int]] = {}
    for index, fit in enumerate(fits):
        by_window.setdefault(fit.window.half_s, []).append(index)
    weights = np.zeros(len(fits))
    sharp: dict[float, float] = {}
    for half, members in by_window.items():
        criterion = np.array([float(fits[i].chi2[fits[i].best]) + 2.0 * fits[i].shape.parameters for i in members])
        share = np.exp(-0.5 * (criterion - criterion.min()))
        share /= share.sum()
        weights[members] = share
        sharp[half] = float(share @ np.array([max(fits[i].spread_s, 1e-9) for i in members]))
    finest = min(sharp.values())
    for half, members in by_window.items():
        # windows near the sharpest stay in; a window twice as vague has a sixteenth of the say
        weights[members] *= (finest / sharp[half]) ** 4
    return weights / weights.sum()
