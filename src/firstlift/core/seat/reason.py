"""Why a seat record was taken, left out or doubted: a code with typed parameters, worded where it is shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason as data. Parameter names end in their unit (``u_area_m2``); values are SI, dates ISO texts."""

    code: str
    parameters: Mapping[str, float | int | str] = field(default_factory=dict[str, float | int | str])
