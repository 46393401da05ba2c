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

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Shape, Window, Windows
from firstlift.core.lift.curves import Curves, fit_curves
from firstlift.core.recording import Floats

GROWTHS = (0.03, 0.08, 0.2)
RELAXATIONS = (0.02, 0.06)
_LONGEST_LAG_S = 0.02
_LONGEST_SOFT_S = 0.1
FADINGS = (0.12, 0.35)
# a damped disc gathers pace: no corner, a parabola's foot
SOFT = (Shape(1, 2, soft=True), Shape(1, 3, soft=True), Shape(2, 2, soft=True))
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
    *SOFT,
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
    *SOFT[:2],
)
# enough to find the place by: every way of bending that moves the bend by much
SEEKING_SHAPES = (
    Shape(1, 1),
    Shape(2, 1),
    Shape(1, 2),
    Shape(1, 1, step=True),
    Shape(1, 1, grow=0.08),
    Shape(1, 1, leak=0.12),
    Shape(1, 2, leak=0.12),
)
# a leftover this many of its own standard deviations from noise is not noise (one fit in 700 by chance)
LACK_OF_FIT = 3.2


# beside the best of its window a shape that is this much less likely has no say
_NO_SAY = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One window and shape on the candidate instants (g,).

    ``at`` are the candidates in the window's coordinate, ``best`` the one with the least chi-square ``chi2``.
    """

    window: Window
    shape: Shape
    chi2: Floats
    at: Floats
    best: int
    curves: Curves
    place: tuple[int, int]

    def coefficients(self, candidate: int) -> Floats:
        """Give the coefficients at one candidate, in the order of `bend.design`, worked out when asked for."""
        return self.curves.coefficients(*self.place, candidate)


@dataclass(frozen=True, slots=True, eq=False)
class _Terms:
    """What is asked of shapes: ``cost`` (S, 1) in chi-square, ``parameters`` (S, 1), and what limits their times.

    ``relaxing`` and ``soft`` say which shapes relax, and which begin softly; ``relax`` (R, 1, 1) are the times.
    """

    parameters: NDArray[np.intp]
    cost: Floats
    relaxing: NDArray[np.intp]
    relax: Floats
    soft: NDArray[np.intp]


@lru_cache(maxsize=8)
def _terms(shapes: tuple[Shape, ...]) -> _Terms:
    relaxing = [(index, shape.relax) for index, shape in enumerate(shapes) if shape.relax is not None]
    return _Terms(
        np.array([shape.parameters for shape in shapes])[:, None],
        np.array([shape.cost for shape in shapes])[:, None],
        np.array([index for index, _ in relaxing], dtype=np.intp),
        np.array([relax for _, relax in relaxing])[:, None, None],
        np.array([index for index, shape in enumerate(shapes) if shape.soft], dtype=np.intp),
    )


class Trials:
    """Fits of every shape S over every window W, with candidates g; a window too short for any is not among them.

    ``chi2`` (S, W, g) is infinite where a candidate is too near an end and where the slope changes the wrong way,
    ``least`` and ``best`` (S, W) are its least value and where that is. ``lack`` says how far the leftovers are from
    noise; it costs a pass over the samples, so only fits that may have a say are examined (infinite for the others).
    """

    def __init__(self, windows: Windows, numbers: NDArray[np.intp], at: Floats, curves: Curves) -> None:
        self.windows = windows
        self.numbers = numbers
        self.at = at
        self.curves = curves
        self.shapes = curves.shapes
        self.chi2 = curves.chi2
        self.size, self.half_s = windows.size, windows.half_s
        self.best = self.chi2.argmin(axis=2)
        self.least = np.take_along_axis(self.chi2, self.best[:, :, None], axis=2)[:, :, 0]
        terms = _terms(self.shapes)
        self.cost = terms.cost
        self.freedom = np.maximum(self.size - terms.parameters - 1, 1)
        # beyond noise by size alone: no need to look at the order of the leftovers
        self._over = (self.least - self.freedom) / np.sqrt(2.0 * self.freedom)
        self.lack = np.full(self.least.shape, np.inf)
        self._unexamined = np.isfinite(self.least)
        self._examine_likely()

    def _examine_likely(self) -> None:
        """Examine the fits of each window that have a say; where all of them fail, the others as well."""
        criterion = self.least + self.cost
        size_is_noise = self._over < LACK_OF_FIT
        self.examine(size_is_noise & (criterion < criterion.min(axis=0) - 2.0 * np.log(_NO_SAY)))
        self.examine(size_is_noise & ~(self.lack < LACK_OF_FIT).any(axis=0))

    def examine(self, which: NDArray[np.bool_]) -> None:
        """Work out how far leftovers are from noise.

        Parameters
        ----------
        which : ndarray of bool (S, W)
            Those not fitted at all, and those examined before, are passed over.
        """
        which = which & self._unexamined
        shape, window = which.nonzero()
        if shape.size == 0:
            return
        self._unexamined &= ~which
        rest = self.curves.leftovers(shape, window, self.best[which])
        self.lack[which] = np.maximum(self._over[which], _hanging_together(rest, self.size[window]))

    def fit(self, shape: int, window: int) -> Fit:
        """Lay out one fit.

        Parameters
        ----------
        shape, window : int
            Which.

        Returns
        -------
        Fit
        """
        return Fit(
            self.windows.window(window),
            self.shapes[shape],
            self.chi2[shape, window],
            self.at[window],
            int(self.best[shape, window]),
            self.curves,
            (shape, window),
        )


@dataclass(frozen=True, slots=True, eq=False)
class ChannelDensity:
    """What one channel says: log density (g,) over the candidate instants, and the fits behind it.

    ``shape``, ``window`` and ``weight`` (k,) say which of the trials have a say, and how much. ``fitted`` is false
    where no fit left only noise: then the density is widened, and says little, and the variances of what was
    fitted are to be multiplied by ``inflation``.
    """

    name: str
    time_s: Floats
    log_density: Floats
    trials: Trials
    shape: NDArray[np.intp]
    window: NDArray[np.intp]
    weight: Floats
    mean_s: float
    spread_s: float
    fitted: bool = True
    inflation: float = 1.0

    @property
    def best(self) -> Fit:
        """The fit with the most say."""
        most = int(self.weight.argmax())
        return self.trials.fit(int(self.shape[most]), int(self.window[most]))

    @property
    def gain_sigmas(self) -> float:
        """The most plainly seen change of slope, in units of its standard uncertainty."""
        best = self.trials.best[self.shape, self.window]
        return float(self.trials.curves.gain_sigmas(self.shape, self.window, best).max())

    @property
    def longest_s(self) -> float:
        """Half width of the longest window that has a say, [s]."""
        return float(self.trials.half_s[self.window].max())


def fit_windows(
    windows: Windows | None,
    shapes: tuple[Shape, ...],
    time_s: Floats,
    signs: Floats,
    may: NDArray[np.bool_] | None = None,
) -> Trials | None:
    """Fit every shape over every window.

    Parameters
    ----------
    windows : Windows or None
        Of one channel or several, at least 16 blocks each.
    shapes : tuple of Shape
    time_s : ndarray (g,), [s]
        Candidate instants; those too near a window's ends are left out there (infinite chi-square).
    signs : ndarray (W,)
        For each window +1 where the slope must grow at first lift (lift, sound), -1 where it must fall
        (force), 0 for either.
    may : ndarray of bool (S, W), or None
        For each window which of the shapes it may have; all where None.

    Returns
    -------
    Trials or None
        A window with fewer than three candidates inside is not among them; None where none has more.
    """
    if windows is None:
        return None
    at = (time_s - windows.centre_s[:, None]) / windows.half_s[:, None]
    inside = _inside(windows, at)
    wide = (inside.sum(axis=1) >= 3).nonzero()[0]
    if wide.size == 0:
        return None
    if wide.size < at.shape[0]:
        windows, at, inside, signs = windows.some(wide), at[wide], inside[wide], signs[wide]
        may = None if may is None else may[:, wide]
    curves = fit_curves(windows, shapes, at, inside)
    wrong = _wrong_way(curves, signs[:, None], windows.half_s[:, None])
    if may is not None:
        wrong |= ~may[curves.number][:, :, None]
    np.putmask(curves.chi2, wrong, np.inf)
    return Trials(windows, wide, at, curves)


def _inside(windows: Windows, at: Floats) -> NDArray[np.bool_]:
    """Say which candidates (W, g) have about five blocks on either side of them."""
    row, size = np.arange(windows.size.size), windows.size
    low = windows.tau[row, np.minimum(5, size // 4)]
    high = windows.tau[row, size - np.minimum(6, size // 4 + 1)]
    return (at > low[:, None]) & (at < high[:, None])


def _wrong_way(curves: Curves, sign: Floats, half_s: Floats) -> NDArray[np.bool_]:
    """Say where the change at the bend goes the wrong way, (S, W, g)."""
    # where the value may jump it must jump the right way, else the slope must change the right way: at once, or
    # (relaxing) after the motion has overcome its damping
    terms, (at_once, later) = _terms(curves.shapes), curves.changes()
    at_once *= sign
    wrong = at_once < 0.0
    if terms.relaxing.size:
        # a disc that reaches its pace late does so within some hundredths of a second, or it is no lag
        slow = terms.relax * half_s > _LONGEST_LAG_S
        wrong[terms.relaxing] &= (later * sign < 0.0) | slow
    if terms.soft.size:
        # it gathers pace for some hundredths of a second: over longer stretches no parabola begins at first lift
        wrong[terms.soft] |= (curves.stack.u[:, -1:] - curves.stack.at) * half_s > _LONGEST_SOFT_S
    return wrong


def _hanging_together(rest: Floats, size: NDArray[np.intp]) -> Floats:
    """Say how many standard deviations neighbouring leftovers (k, n) are from independent ones, one by one or by four.

    ``size`` (k,) is the number of blocks of each; beyond them the leftovers are zero.
    """
    neighbours = np.einsum("kn,kn->k", rest[:, 1:], rest[:, :-1]) / np.sqrt(size - 1)
    groups = size // 4
    long = 4 * int(groups.max())
    four: Floats = (rest[:, 0:long:4] + rest[:, 1:long:4]) + (rest[:, 2:long:4] + rest[:, 3:long:4])
    # the incomplete group at the end of a shorter window does not count
    four = four * (0.5 * (np.arange(long // 4) < groups[:, None]))
    together = np.einsum("kn,kn->k", four[:, 1:], four[:, :-1]) / np.sqrt(np.maximum(groups - 1, 1))
    return np.maximum(neighbours, together)


def combine(
    name: str, trials: Trials | None, own: NDArray[np.bool_], time_s: Floats, doubt: float = 1.0
) -> ChannelDensity | None:
    """Mix the fits that the data allow into one density.

    Parameters
    ----------
    name : str
    trials : Trials or None
    own : ndarray of bool (windows,)
        Which of the windows handed to `fit_windows` are this channel's.
    time_s : ndarray (g,), [s]
    doubt : float
        How many times more than its noise says the channel may be off (variance): by what chi-square is divided.

    Returns
    -------
    ChannelDensity or None
        None where there is no fit.
    """
    rows = own[trials.numbers].nonzero()[0] if trials is not None else np.empty(0, dtype=np.intp)
    if trials is None or rows.size == 0:
        return None
    # the windows of one channel follow each other
    part = slice(int(rows[0]), int(rows[-1]) + 1)
    least = trials.least[:, part]
    accepted = trials.lack[:, part] < LACK_OF_FIT
    fitted = bool(accepted.any())
    inflation = 1.0
    if not fitted:
        mine = np.isfinite(least)
        if not mine.any():
            return None
        trials.examine(np.isfinite(trials.least) & own[trials.numbers])
        lack = trials.lack[:, part]
        nearest = float(lack[mine].min())
        accepted = mine & (lack <= nearest + 1.0)
        # leftovers that hang together count for far fewer samples than there are: widen by as much as they do
        reduced = float((least[accepted] / trials.freedom[:, part][accepted]).min())
        inflation = max(reduced, 1.0) * max(nearest, 1.0) ** 2
    weights = _weights(least + trials.cost, trials.half_s[part], accepted)
    shape, window = (weights > _NO_SAY).nonzero()
    chosen = weights[shape, window]
    window += part.start
    density = trials.chi2[shape, window]
    density -= trials.least[shape, window][:, None]
    density *= -0.5 / (inflation * doubt)
    np.exp(density, out=density)
    total = (chosen / density.sum(axis=1)) @ density
    total /= total.sum()
    mean = float(total @ time_s)
    spread = math.sqrt(float(total @ np.square(time_s - mean)))
    return ChannelDensity(
        name,
        time_s,
        np.log(np.maximum(total, 1e-300)),
        trials,
        shape,
        window,
        chosen,
        mean,
        spread,
        fitted,
        inflation,
    )


def _weights(criterion: Floats, half_s: Floats, accepted: NDArray[np.bool_]) -> Floats:
    """Weigh shapes of one window by Akaike's criterion, windows by the square of their length, (S, W).

    Not by how sharply they claim to see the bend: a short window with a supple curve claims most and knows least.
    """
    allowed = np.where(accepted, criterion, np.inf)
    lowest = allowed.min(axis=0)
    some = lowest < np.inf
    allowed -= np.where(some, lowest, 0.0)
    allowed *= -0.5
    share = np.exp(allowed, out=allowed)
    together = share.sum(axis=0)
    share *= half_s * half_s / np.where(some, together, 1.0)
    share /= share.sum()
    return share
