"""Narrow a bracket down to first lift: pass by pass, moving on where the evidence leans against an end."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from firstlift.core.lift.choose import MOTION_SHAPES, SEEKING_SHAPES, SOUND_SHAPES
from firstlift.core.lift.heard import Heard, coarsest_step, listen
from firstlift.core.lift.place import Place
from firstlift.core.signal.condition import Signals

CANDIDATES = 33
_MOST_CANDIDATES = 129
_PASSES = 3
_MOVES = 6
# the candidates lie close enough where seven standard uncertainties are this share of their whole stretch
_FINE = 0.35
# a bracket that no curve fits is looked at in so many parts: in the corpus it holds one or two strokes of a pump, or
# periods of a ripple
_PARTS = 5
# a part that knows the place to no better than this share of itself knows none
_KNOWN = 0.15
# standard deviations of the lift's own change of slope in such a part: where a stroke ends it has shown up to six
_MOVES_TOO = 8.0
# what force, lift and sound may do, all in one row; few of it while the place is still being sought
_SHAPES = tuple(dict.fromkeys(MOTION_SHAPES + SOUND_SHAPES))
_FEW_SHAPES = tuple(shape for shape in _SHAPES if shape in SEEKING_SHAPES)
_SEEKING_CANDIDATES = 45


def search(signals: Signals, place: Place, bracket: tuple[float, float], use: tuple[bool, bool, bool]) -> Heard | None:
    """Narrow a bracket down around the evidence, moving it where the evidence leans against an end.

    Parameters
    ----------
    signals : Signals
    place : Place
        The search does not go beyond its floor and its limit.
    bracket : (low, high), [s]
    use : tuple of bool
        Whether force, lift and sound may speak.

    Returns
    -------
    Heard or None
        The last pass; None where no channel has enough samples around the bracket.
    """
    low, high = bracket
    heard: Heard | None = None
    narrowed = moved = 0
    while narrowed < _PASSES:
        seeking = narrowed == 0
        grid = np.linspace(low, high, _SEEKING_CANDIDATES if seeking else _candidates(high - low, heard))
        step = listen(signals, place, grid, use, heard, _FEW_SHAPES if seeking else _SHAPES)
        if step is None or (heard is not None and step.lost and not heard.vague):
            break
        heard = step
        lean = heard.lean()
        if lean and moved < _MOVES and (low > place.floor_s if lean < 0 else high < place.limit_s):
            moved += 1
            width = high - low
            low, high = (
                (max(low - width, place.floor_s), high - 0.5 * width)
                if lean < 0
                else (low + 0.5 * width, min(high + width, place.limit_s))
            )
            continue
        narrowed += 1
        # a density narrower than the distance of the candidates is seen by one of them only: its width is not known
        spread = math.hypot(heard.spread_s, 0.15 * (high - low) / grid.size)
        width = max(7.0 * spread, 6.0 * coarsest_step(signals))
        if width > _FINE * (high - low):
            if not seeking:
                break
            continue
        low, high = max(heard.mean_s - width, place.floor_s), min(heard.mean_s + width, place.limit_s)
    return heard


def in_parts(signals: Signals, place: Place, use: tuple[bool, bool, bool]) -> Heard | None:
    """Look at a bracket in parts where no curve fits the whole of it: the first part in which the disc plainly leaves.

    Strokes of a pump and a line that ripples bend force and lift again soon after first lift. The windows of the whole
    bracket hold several such bends, those of a part of it hold one.

    Parameters
    ----------
    signals : Signals
    place : Place
    use : tuple of bool
        Whether force, lift and sound may speak.

    Returns
    -------
    Heard or None
        None where the disc plainly leaves in none of them.
    """
    step = (place.high_s - place.low_s) / _PARTS
    for part in range(_PARTS):
        low = place.low_s + part * step
        within = replace(
            place,
            low_s=low,
            high_s=low + step,
            floor_s=max(low - step, place.floor_s),
            limit_s=min(low + 2.0 * step, place.limit_s),
        )
        heard = search(signals, within, (within.low_s, within.high_s), use)
        if heard is None or heard.unfitted > 0 or heard.spread_s > _KNOWN * step or heard.weak(place.start_s):
            continue
        if _moves(signals, heard, step):
            return heard
    return None


def _moves(signals: Signals, heard: Heard, part_s: float) -> bool:
    """Say whether the lift, too, bends plainly there, and sharply: as all channels together nearly, or for the part.

    The force alone bends wherever a stroke of the pump ends, and a contact that fades hisses.
    """
    lift = next((c for c in heard.channels if signals.lift is not None and c.name == signals.lift.name), None)
    if lift is None or lift.gain_sigmas < _MOVES_TOO:
        return False
    return (
        lift.spread_s < max(3.0 * heard.spread_s, 0.1 * part_s)
        and abs(lift.mean_s - heard.mean_s) < 2.5 * lift.spread_s
    )


def _candidates(stretch_s: float, heard: Heard | None) -> int:
    """Say how many candidates a stretch needs: none of the channels may know better than they lie apart."""
    sharp = min((c.spread_s for c in heard.channels if c.fitted), default=stretch_s) if heard else stretch_s
    return int(np.clip(stretch_s / max(sharp, 1e-9), CANDIDATES, _MOST_CANDIDATES))
