"""One channel: which windows and orders the data allow, and the density of first lift they give.

A window too long bends for other reasons than first lift; one too short knows little. Every window of a
geometric row is fitted with every shape the channel may have; a fit whose leftovers are not noise is put
aside (chi-square and neighbouring residuals); among the rest the longest windows have the most say, and the
shorter stay in the mixture, so that the choice itself is part of the uncertainty (Akaike weights within
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

GROWTHS = (0.03, 0.08, 0.2)
RELAXATIONS = (0.02, 0.06)
_LONGEST_LAG_S = 0.02
FADINGS = (0.12, 0.35)
# force and lift bend alike: both follow the disc
MOTION_SHAPES = (
    Shape(1, 1),
    Shape(2, 1),
    Shape(1, 2),
    Shape(2, 2),
    Shape(1, 1, step=True),
    Shape(1, 2, step=True),
    *(Shape(1, 1, grow=grow) for grow in GROWTHS),
    *(Shape(1, order, relax=relax) for relax in RELAXATIONS for order in (1, 2)),
    # a tilted seat gives way as its contact load fades, before the disc is free
    *(Shape(1, order, leak=leak) for leak in FADINGS for order in (1, 2)),
)
SOUND_LEAKS = (0.04, 0.12, 0.35)
SOUND_SHAPES = (
    Shape(1, 1),
    Shape(1, 2),
    *(Shape(1, order, leak=leak) for leak in SOUND_LEAKS for order in (1, 2)),
    Shape(1, 1, step=True),
    Shape(1, 2, step=True),
    *(Shape(1, 1, grow=grow) for grow in GROWTHS),
    *(Shape(1, 1, relax=relax) for relax in RELAXATIONS),
)
# a leftover this many of its own standard deviations from noise is not noise (one fit in 700 by chance)
LACK_OF_FIT = 3.2


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
    least: float

    @property
    def accepted(self) -> bool:
        """Whether the leftovers may be noise."""
        return self.lack < LACK_OF_FIT

    @property
    def profile(self) -> Profile:
        """Values, slopes and coefficients at each candidate, worked out when asked for: few fits are."""
        return replace(self.curves.profile(*self.place), chi2=self.chi2)

    def at_bend(self) -> tuple[Floats, Floats]:
        """Value of the side before at each candidate and its variance, (g,) each; NaN where not fitted."""
        return self.curves.at_bend(*self.place)


@dataclass(frozen=True, slots=True, eq=False)
class ChannelDensity:
    """What one channel says: log density (g,) over the candidate instants, and the fits behind it.

    ``fitted`` is false where no fit left only noise: then the density is widened, and says little.
    """

    name: str
    time_s: Floats
    log_density: Floats
    fits: tuple[Fit, ...]
    weights: tuple[float, ...]
    mean_s: float
    spread_s: float
    gain_sigmas: float
    fitted: bool = True


def fit_windows(
    windows: list[Window],
    shapes: tuple[Shape, ...],
    time_s: Floats,
    signs: list[float],
    may: list[NDArray[np.bool_]] | None = None,
) -> list[list[Fit]]:
    """Fit every shape over every window.

    Parameters
    ----------
    windows : list of Window
        Of one channel or several, at least 16 blocks each.
    shapes : tuple of Shape
    time_s : ndarray (g,), [s]
        Candidate instants; those too near a window's ends are left out there (infinite chi-square).
    signs : list of float
        For each window +1 where the slope must grow at first lift (lift, sound), -1 where it must fall
        (force), 0 for either.
    may : list of ndarray of bool (S,), or None
        For each window which of the shapes it may have; all where None.

    Returns
    -------
    list of lists of Fit
        Those of each window. A window with fewer than three candidates inside, and a shape that fits nowhere,
        give none.
    """
    inside = np.array([_inside(window, time_s) for window in windows]).reshape(-1, time_s.size)
    wide = [index for index, count in enumerate(inside.sum(axis=1).tolist()) if count >= 3]
    fits: list[list[Fit]] = [[] for _ in windows]
    if not wide:
        return fits
    chosen = tuple(windows[index] for index in wide)
    at = np.array([window.to_tau(time_s) for window in chosen])
    sign = np.array(signs)[wide][:, None]
    for curves in fit_curves(chosen, shapes, at, inside[wide]):
        if may is not None:
            # batches hold the very shapes that were handed in
            where = {id(shape): number for number, shape in enumerate(shapes)}
            column = [where[id(shape)] for shape in curves.shapes]
            curves.chi2[~np.array([may[index][column] for index in wide]).T] = np.inf
        for fit in _make_fits(chosen, curves, at, time_s, sign):
            fits[wide[fit.place[1]]].append(fit)
    return fits


def _inside(window: Window, time_s: Floats) -> NDArray[np.bool_]:
    """Say which candidates have about five blocks on either side of them."""
    at, count = window.to_tau(time_s), window.tau.size
    low, high = window.tau[min(5, count // 4)], window.tau[-min(6, count // 4 + 1)]
    return (at > low) & (at < high)


def _make_fits(windows: tuple[Window, ...], curves: Curves, at: Floats, time_s: Floats, sign: Floats) -> list[Fit]:
    chi2 = curves.chi2.copy()
    for index, shape in enumerate(curves.shapes):
        # where the value may jump it must jump the right way, else the slope must change the right way: at once, or
        # (relaxing) after the motion has overcome its damping
        telling = [shape.jump] if shape.step else [shape.gain] if shape.relax is None else [shape.gain, shape.gain + 1]
        chi2[index, np.all([curves.theta[t][index] * sign < 0 for t in telling], axis=0)] = np.inf
        if shape.relax is not None:
            # a disc that reaches its pace late does so within some hundredths of a second, or it is no lag
            slow = shape.relax * np.array([w.half_s for w in windows])[:, None] > _LONGEST_LAG_S
            chi2[index, (curves.theta[shape.gain][index] * sign < 0) & slow] = np.inf
    best = np.argmin(chi2, axis=2)
    least = chi2.min(axis=2)
    fitted = np.isfinite(least)
    density = np.exp(-0.5 * (chi2 - np.where(fitted, least, 0.0)[:, :, None]))
    density /= np.maximum(density.sum(axis=2, keepdims=True), 1e-300)
    middle = density @ time_s
    spread: list[list[float]] = np.sqrt(_product(density, np.square(time_s - middle[:, :, None]))).tolist()
    mean: list[list[float]] = middle.tolist()
    lack: list[list[float]] = _lack(curves, best).tolist()
    gain: list[list[float]] = curves.gain_sigmas(best).tolist()
    least_at: list[list[int]] = best.tolist()
    lowest: list[list[float]] = least.tolist()
    return [
        Fit(
            window,
            shape,
            chi2[s, w],
            at[w],
            lack[s][w],
            spread[s][w],
            mean[s][w],
            least_at[s][w],
            gain[s][w],
            curves,
            (s, w),
            lowest[s][w],
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
    size = (_product(rest, rest) - freedom) / np.sqrt(2.0 * freedom)
    neighbours = _product(rest[:, :, 1:], rest[:, :, :-1]) / np.sqrt(count - 1)
    groups = count // 4
    long = int(groups.max())
    four = rest[:, :, : 4 * long].reshape(*rest.shape[:2], long, 4).sum(axis=3) / 2.0
    # the incomplete group at the end of a shorter window does not count
    four *= np.arange(long) < groups[:, None]
    together = _product(four[:, :, 1:], four[:, :, :-1]) / np.sqrt(np.maximum(groups - 1, 1))
    return np.maximum(np.maximum(size, neighbours), together)


def _product(first: Floats, second: Floats) -> Floats:
    return np.einsum("swn,swn->sw", first, second)


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
        # leftovers that hang together count for far fewer samples than there are: widen by as much as they do
        inflation = max(min(_reduced(fit) for fit in accepted), 1.0) * max(least, 1.0) ** 2
    weights = _weights(accepted)
    keep = [(fit, w) for fit, w in zip(accepted, weights.tolist(), strict=True) if w > 1e-3]
    chi2 = np.stack([fit.chi2 for fit, _ in keep]) - np.array([fit.least for fit, _ in keep])[:, None]
    density = np.exp(chi2 * (-0.5 / inflation))
    total = (np.array([w for _, w in keep]) / density.sum(axis=1)) @ density
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
        inflation == 1.0,
    )


def _reduced(fit: Fit) -> float:
    freedom = max(fit.window.tau.size - fit.shape.parameters - 1, 1)
    return fit.least / freedom


def _weights(fits: list[Fit]) -> Floats:
    """Weigh shapes of one window by Akaike's criterion, windows by the square of their length.

    Not by how sharply they claim to see the bend: a short window with a supple curve claims most and knows least.
    """
    number: dict[int, int] = {}
    window = np.array([number.setdefault(id(fit.window), len(number)) for fit in fits])
    cost = {id(shape): shape.cost for shape in {id(fit.shape): fit.shape for fit in fits}.values()}
    criterion = np.array([fit.least + cost[id(fit.shape)] for fit in fits])
    lowest = np.full(len(number), np.inf)
    np.minimum.at(lowest, window, criterion)
    share = np.exp(-0.5 * (criterion - lowest[window]))
    weights = share / np.bincount(window, share)[window] * np.square([fit.window.half_s for fit in fits])
    return weights / weights.sum()
