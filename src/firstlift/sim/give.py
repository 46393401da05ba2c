"""What gives way in the pulling gear: play, a clamp that beds in, a frame that settles."""

from __future__ import annotations

import math

from firstlift.sim.model import RigModel

_PLAY_S, _YIELD_S, _SETTLE_S = 0.02, 0.15, 0.008


class Give:
    """Way lost between drive and spindle; the lift sensor sees it as lift.

    Every part follows the pull with a short delay: real joints creep, and it keeps the step explicit.
    """

    def __init__(self, rig: RigModel) -> None:
        self._rig = rig
        self._largest_n = self._play = self._bedded = self._settled = 0.0
        self._idle = not (rig.play_m or rig.yield_m or rig.settlings)
        self.total_m = 0.0

    def settle(self, tension_n: float, dt_s: float) -> float:
        """Follow the pull for a short time; give the way lost, [m].

        Parameters
        ----------
        tension_n : float, [N]
        dt_s : float, [s]

        Returns
        -------
        float, [m]
        """
        if self._idle:
            return 0.0
        rig = self._rig
        self._largest_n = max(self._largest_n, tension_n)
        play = rig.play_m * (1.0 - math.exp(-tension_n / rig.play_load_n))
        bedded = rig.yield_m * (1.0 - math.exp(-self._largest_n / rig.yield_load_n))
        settled = sum(step for force, step in rig.settlings if self._largest_n >= force)
        self._play += (play - self._play) * min(1.0, dt_s / _PLAY_S)
        self._bedded += (bedded - self._bedded) * min(1.0, dt_s / _YIELD_S)
        self._settled += (settled - self._settled) * min(1.0, dt_s / _SETTLE_S)
        self.total_m = self._play + self._bedded + self._settled
        return self.total_m
