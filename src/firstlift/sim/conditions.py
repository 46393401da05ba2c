"""Named conditions for a corpus: each draws one test in which that one thing is hard."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from numpy.random import Generator

from firstlift.sim.conditions_signal import SIGNAL_CONDITIONS
from firstlift.sim.conditions_valve import VALVE_CONDITIONS
from firstlift.sim.model import SimulatedTest

CONDITIONS: Mapping[str, Callable[[Generator], SimulatedTest]] = MappingProxyType(
    {**VALVE_CONDITIONS, **SIGNAL_CONDITIONS}
)
