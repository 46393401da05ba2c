"""Traces and pulls to draw."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from firstlift.core.result import FittedLine, Pull, PullOutcome
from firstlift.figures import trace_of_si


def make_traces(end_s=20.0, step_s=0.01):
    """Give a ramp of force from 5 s to 15 s, lift from 10 s on, and a steady line pressure."""
    time_s = np.arange(0.0, end_s, step_s)
    force = 257.0 * np.clip((time_s - 5.0) / 10.0, 0.0, 1.0) * (time_s < 15.001)
    lift = 1e-4 * np.clip(time_s - 10.0, 0.0, None) * (time_s < 15.001)
    return (
        trace_of_si("line", "line_pressure", time_s, np.full_like(time_s, 8e5)),
        trace_of_si("cell", "pull_force", time_s, force),
        trace_of_si("lift", "spindle_lift", time_s, lift),
    )


def make_pull(**changes):
    given = {
        "number": 1,
        "outcome": PullOutcome.MEASURED,
        "start_s": 5.0,
        "end_s": 15.0,
        "first_lift_s": 10.0,
        "first_lift_standard_uncertainty_s": 0.05,
        "closure_s": 15.2,
        "fit": (
            FittedLine("lift", "before", (6.0, 10.0), (0.0, 0.0)),
            FittedLine("spindle_lift", "after", (10.0, 12.0), (0.0, 2e-4)),
        ),
    }
    return Pull(**(given | changes))


@pytest.fixture
def made():
    return SimpleNamespace(traces=make_traces, pull=make_pull)
