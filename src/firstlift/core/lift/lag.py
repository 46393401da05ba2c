"""A disc answers late: what is seen to bend comes a little after the forces have balanced.

At first lift nothing moves yet. Mass and damping let the disc gather pace over some milliseconds, and until
then no channel can tell its motion from noise, however long the record. So the bend that all channels show
together lies after first lift by a lag of their common cause, which their number does not average out.
"""

from __future__ import annotations

import numpy as np

from firstlift.core.recording import Floats

# every lag up to this is equally likely: a quarter of the period of 0.3 to 3 kg of disc, spindle and gear on a
# spring of 30 to 300 N/mm is 1.6 to 16 ms (computed), and the later part of it is seen (common practice, no source)
LONGEST_LAG_S = 0.004
_STEPS = 11


def allow_for_lag(
    time_s: Floats, probability: Floats, force_n: Floats, u_force_n: Floats, rate_n_s: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Move the density of the visible bend to that of first lift, and the force with it.

    Parameters
    ----------
    time_s, probability : ndarray (g,)
        Candidate instants, evenly spaced, [s], and the density of the bend there, which sums to one.
    force_n, u_force_n : ndarray (g,), [N]
        Force just before the bend, were it there, and its standard uncertainty.
    rate_n_s : float, [N/s]
        How fast the force rises before it.

    Returns
    -------
    time_s, probability, force_n, u_force_n : ndarray (g,)
        The same of first lift, on candidates that begin earlier by the longest lag.
    """
    wider = np.linspace(float(time_s[0]) - LONGEST_LAG_S, float(time_s[-1]), time_s.size)
    lags = (np.arange(_STEPS) + 0.5) / _STEPS * LONGEST_LAG_S
    seen = np.interp(wider[None, :] + lags[:, None], time_s, probability, left=0.0, right=0.0)
    density: Floats = np.asarray(seen, dtype=np.float64).mean(axis=0)
    # before the first candidate the force goes on as it came
    force = np.interp(wider, time_s, force_n) + rate_n_s * np.minimum(wider - time_s[0], 0.0)
    return wider, density / float(density.sum()), force, np.interp(wider, time_s, u_force_n)
