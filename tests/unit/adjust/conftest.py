"""An invented valve of 30 mm seat, set at 10 bar, with its spring's data."""

import math
from dataclasses import replace

import pytest

from firstlift.core.adjust import AdjustInputs
from firstlift.core.job import Purpose
from firstlift.core.tolerance.limits import find_limits
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Seat, Valve, circle_area_m2
from firstlift.formats.rulesets import read_rule_set

BAR = 1e5
STAMPED = parse_quantity("10 bar", Kind.PRESSURE)
SEAT = Seat(circle_area_m2(0.030), math.pi / 2.0 * 0.030 * 1e-4, 0.0, "measured", "mean diameter 30 mm")
VALVE = Valve(
    tag="PSV-1",
    serial="SIM-1",
    set_pressure=STAMPED,
    medium=Medium.GAS,
    spring_rate_n_m=40601.6,
    screw_pitch_m=1.5e-3,
    spring_range_low_pa=8.5 * BAR,
    spring_range_high_pa=11.5 * BAR,
)


@pytest.fixture(name="given")
def fixture_given():
    """Give inputs that may be adjusted: 10.4 bar found, everything in order; keywords change them."""

    def make(valve=None, **changes):
        limits = find_limits(read_rule_set(changes.pop("code", "iso-4126-1")), STAMPED, purpose=Purpose.AS_LEFT)
        inputs = AdjustInputs(
            valve=replace(VALVE, **(valve or {})),
            seat=SEAT,
            limits=limits,
            reading_pa=10.4 * BAR,
            u_reading_pa=0.03 * BAR,
            target_pa=10.0 * BAR,
            authorised_by="owner's inspector",
            line_pressure_pa=8.0 * BAR,
            pull_off=True,
            mawp_pa=10.0 * BAR,
        )
        return replace(inputs, **changes)

    return make
