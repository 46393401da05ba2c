"""What the technician was asked to do and with what: the job sheet as frozen values.

`firstlift.formats.jobsheet` reads the TOML; from here on nothing looks at text again, except nameplate
values that keep their own (`firstlift.core.units.Quantity`). None means "the sheet does not say".
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from firstlift.core.valve import Seat, Valve


class Purpose(StrEnum):
    """As found: before anything was touched. As left: after the last adjustment."""

    AS_FOUND = "as-found"
    AS_LEFT = "as-left"


class Decision(StrEnum):
    """How uncertainty enters the verdict (design: simple acceptance or a probability of conformity)."""

    SIMPLE = "simple"
    GUARDED = "guarded"


class Measures(StrEnum):
    """What a channel measures."""

    PULL_FORCE = "pull_force"
    LINE_PRESSURE = "line_pressure"
    SPINDLE_LIFT = "spindle_lift"
    ACOUSTIC = "acoustic"
    BACK_PRESSURE = "back_pressure"
    TEMPERATURE = "temperature"


class Form(StrEnum):
    """Sound as a level (already rectified and smoothed) or as the raw waveform."""

    LEVEL = "level"
    WAVEFORM = "waveform"


@dataclass(frozen=True, slots=True)
class Visit:
    """When, where, who and why."""

    date: dt.date
    purpose: Purpose
    owner: str = ""
    site: str = ""
    technician: str = ""
    ambient_temperature_k: float | None = None
    body_temperature_k: float | None = None
    line_pressure_pa: float | None = None
    u_line_pressure_pa: float | None = None


@dataclass(frozen=True, slots=True)
class OwnerLimit:
    """One owner's limit: a share of set pressure (0.01 = +1 %) or a pressure in the nameplate's unit.

    Exactly one of the two is given; the number is kept as a decimal so that break points stay exact.
    ``relative`` and ``absolute`` are signed deviations from set pressure where ``is_deviation`` is true
    ("-3 %", "-0.3 bar"), else ``absolute`` is the limiting pressure itself ("9.7 bar").
    """

    relative: Decimal | None
    absolute: Decimal | None
    is_deviation: bool


@dataclass(frozen=True, slots=True)
class OwnerLimits:
    """Owner's limits, as found and as left apart."""

    as_found_lower: OwnerLimit | None = None
    as_found_upper: OwnerLimit | None = None
    as_left_lower: OwnerLimit | None = None
    as_left_upper: OwnerLimit | None = None


@dataclass(frozen=True, slots=True)
class Rules:
    """Which code judges, and how."""

    code: str
    edition: str = ""
    decision: Decision = Decision.GUARDED
    decision_probability: float = 0.95
    agreeing_pulls: int = 3
    agreement_spread: float = 0.03
    owner_limits: OwnerLimits = OwnerLimits()


@dataclass(frozen=True, slots=True)
class ChannelSpec:
    """One column of the recording and what is known of its sensor.

    ``factor`` and ``offset`` turn the column's unit into SI (after the polynomial, if any);
    uncertainties are SI. ``polynomial`` holds coefficients, lowest power first, raw to ``unit``.
    """

    column: str
    measures: Measures
    unit: str
    factor: float = 1.0
    offset: float = 0.0
    relative_standard_uncertainty: float = 0.0
    standard_uncertainty: float = 0.0
    uncertainty_stated: bool = True
    polynomial: tuple[float, ...] = ()
    capacity: float | None = None
    serial: str = ""
    calibration_due: dt.date | None = None
    calibrated_with: str = ""
    delay_s: float | None = None
    head_correction_pa: float = 0.0
    form: Form = Form.LEVEL


@dataclass(frozen=True, slots=True)
class RecordingSpec:
    """Where the recording is and what its time base is: exactly one of the three."""

    file: str
    time_column: str | None = None
    waveform: bool = False
    sample_rate_hz: float | None = None
    started_at: dt.datetime | None = None


class ReviewAction(StrEnum):
    """What a person did to a pull after the program had read it."""

    REJECT = "reject"
    MOVE = "move"


@dataclass(frozen=True, slots=True)
class PullReview:
    """A person's word on one pull: it counts no more, or first lift was at another moment. Never without a reason.

    ``first_lift_s`` is on the recording's own clock and stands where first lift was moved, None where the pull was
    rejected. ``by`` and ``at`` say who and when.
    """

    pull: int
    action: ReviewAction
    reason: str
    by: str
    at: dt.datetime
    first_lift_s: float | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """A whole job sheet. ``reviews`` hold at most one word a pull."""

    visit: Visit
    valve: Valve
    seat: Seat
    rules: Rules
    recording: RecordingSpec
    channels: tuple[ChannelSpec, ...]
    weight_on_spindle_n: float = 0.0
    reviews: tuple[PullReview, ...] = ()

    def of(self, measures: Measures) -> tuple[ChannelSpec, ...]:
        """Give the channels that measure one thing."""
        return tuple(channel for channel in self.channels if channel.measures is measures)
