"""What a simulated test is made of: valve, rig, pulls, instruments, disturbances, and the truth.

All values SI, pressures gauge. Nothing here is random: a number that stands for chance (a gain error, a
gap's place) is drawn by whoever builds these, so that the truth is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firstlift.core.job import Job
from firstlift.core.recording import Recording
from firstlift.core.valve import Medium, circle_area_m2

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ValveModel:
    """A spring-loaded disc on an elastic seat.

    ``set_pressure_pa`` is the true one: at it, in service and without friction or bond, the contact load
    is zero. The unloading of the seat is ``-N/seat_stiffness`` and, where it is uneven or tilted, a further
    ``tilt_m`` that is given back over the load ``tilt_load_n``. The fluid force that grows with the lift x,
    over p A, is ``early (1 - exp(-x/early_m)) + late x^3/(x^3 + late_m^3)``. ``area_growth`` is the share by
    which the area is smaller at a high contact load (fading over ``leak_load_n``) than at first lift.
    Sound is an amplitude in volts: a leak of ``leak_v`` as the contact load fades, flow of ``flow_v_m`` a
    metre of lift at ``flow_reference_pa``.
    """

    set_pressure_pa: float
    seat_diameter_m: float
    medium: Medium = Medium.GAS
    spring_rate_n_m: float = 1.5e5
    seat_stiffness_n_m: float = 6e7
    tilt_m: float = 0.0
    tilt_load_n: float = 50.0
    area_growth: float = 0.0
    early: float = 0.0
    early_m: float = 150e-6
    late: float = 0.0
    late_m: float = 400e-6
    friction_n: float = 0.0
    static_friction_n: float = 0.0
    bond_n: float = 0.0
    max_lift_m: float = 1.5e-3
    stop_stiffness_n_m: float = 2e7
    damping_n_s_m: float = 2e4
    leak_load_n: float = 15.0
    leak_v: float = 1.3e-3
    simmer: float = 0.0
    flow_v_m: float = 350.0
    flow_reference_pa: float = 1.2e6
    starts_open: bool = False
    back_pressure_at_test_pa: float = 0.0
    superimposed_back_pressure_pa: float = 0.0
    spindle_diameter_m: float = 0.0

    @property
    def area_m2(self) -> float:
        """Area the line pressure acts on at first lift, [m2]."""
        return circle_area_m2(self.seat_diameter_m)

    @property
    def preload_n(self) -> float:
        """Spring preload at closed, [N]; a conventional valve: in service ``p_s A = S0 + p_b A``."""
        return (self.set_pressure_pa - self.superimposed_back_pressure_pa) * self.area_m2

    @property
    def closing_load_at_test_n(self) -> float:
        """Preload and back pressure of the test on a closed bonnet with the cap off, [N]."""
        free = self.area_m2 - circle_area_m2(self.spindle_diameter_m)
        return self.preload_n + self.back_pressure_at_test_pa * free


@dataclass(frozen=True, slots=True)
class RigModel:
    """The pulling gear: stiffness from drive to spindle, and what gives way in it.

    ``spindle_stiffness_n_m`` is the stretch the lift sensor sees. ``play_m`` is taken up over a pull of
    ``play_load_n`` and given back; ``yield_m`` creeps in over ``yield_load_n`` once and stays; every settling
    (pull, step) happens once when the pull first reaches its force. ``side_friction_ratio`` is friction that
    an eccentric pull makes, as a share of the pull. ``slack_m`` is drive travel before the gear is taut.
    """

    stiffness_n_m: float = 5e6
    spindle_stiffness_n_m: float = 1.5e8
    slack_m: float = 0.0
    play_m: float = 0.0
    play_load_n: float = 30.0
    yield_m: float = 0.0
    yield_load_n: float = 80.0
    settlings: tuple[tuple[float, float], ...] = ()
    side_friction_ratio: float = 0.0
    weight_on_spindle_n: float = 0.0


@dataclass(frozen=True, slots=True)
class Pull:
    """One rise and release of the drive.

    ``strokes_s`` 0: a smooth rise; else hand strokes (or jerks) of that period, moving for ``stroke_share`` of
    it. ``soft_start_s`` is the time the drive takes to come to speed.
    """

    start_s: float
    speed_m_s: float
    top_m: float
    hold_s: float = 0.3
    release_m_s: float = 1e-3
    strokes_s: float = 0.0
    stroke_share: float = 0.55
    soft_start_s: float = 0.1


@dataclass(frozen=True, slots=True)
class LineModel:
    """Line pressure: level, drift, waves (amplitude share, frequency, phase), and sag while the valve is open."""

    pressure_pa: float
    drift_per_s: float = 0.0
    waves: tuple[tuple[float, float, float], ...] = ()
    sag_share: float = 0.0
    sag_lift_m: float = 300e-6
    sag_s: float = 0.5


@dataclass(frozen=True, slots=True)
class PullProgram:
    """The line and the pulls; the recording runs from ``record_from_s`` (its clock starts at 0 there)."""

    line: LineModel
    pulls: tuple[Pull, ...]
    duration_s: float
    record_from_s: float = 0.0
    step_s: float = 1e-3


@dataclass(frozen=True, slots=True)
class SensorModel:
    """One channel: what the job sheet states of it, the errors it really has, and its noise.

    ``gain_error`` and ``zero_error`` are errors of calibration (seen under load only: a tare cannot find
    them); ``offset`` is the reading while slack, ``creep_per_s`` its drift. ``share`` is a cell's share of the
    pull. ``noise`` and ``resolution`` are SI; for sound ``noise`` is relative, ``offset`` the baseline amplitude.
    ``lag_s`` first-order lag, ``hold_s`` sample and hold, ``delay_s`` later stamp, told on the job sheet
    only if ``delay_stated``. ``lost`` "flat" or "noise" from
    ``lost_from_s`` on: the channel is dead.
    """

    column: str
    unit: str
    relative_u: float = 0.0
    u: float = 0.0
    gain_error: float = 0.0
    zero_error: float = 0.0
    offset: float = 0.0
    creep_per_s: float = 0.0
    share: float = 1.0
    noise: float = 0.0
    resolution: float = 0.0
    capacity: float | None = None
    lag_s: float = 0.0
    hold_s: float = 0.0
    delay_s: float = 0.0
    delay_stated: bool = False
    hum: float = 0.0
    lost: str = ""
    lost_from_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Instrumentation:
    """The sensors, their sampling rate, and what the job sheet says of the seat.

    ``waveform_hz`` above 0: sound as a raw waveform of that rate, else as a level. Exactly one of stated mean
    diameter or the edges (inner, outer).
    """

    cells: tuple[SensorModel, ...]
    gauge: SensorModel
    lift: SensorModel | None
    sound: SensorModel | None
    rate_hz: float = 1000.0
    waveform_hz: float = 0.0
    stated_diameter_m: float = 0.0
    u_diameter_m: float = 0.0
    stated_edges_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Disturbances:
    """What happens to the signals, not to the valve. Times are on the recording's own clock.

    ``hum_hz`` mains; spikes (column, time, size SI); gaps (column or "" for all, start, end); bursts of false
    sound (time, length, amplitude in volts); frame steps (time, size) seen by the lift sensor alone.
    """

    hum_hz: float = 50.0
    spikes: tuple[tuple[str, float, float], ...] = ()
    gaps: tuple[tuple[str, float, float], ...] = ()
    bursts: tuple[tuple[float, float, float], ...] = ()
    frame_steps: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class TruePull:
    """What really happened in one pull. Times on the recording's own clock, seconds.

    ``opening_pressure_pa`` is what this pull truly needed, friction and bond included, in service terms;
    ``ideal_estimate_pa`` what these sensors with their gain and zero errors, but without noise, lag or
    sampling, give over the stated area at the true moment. ``closure_s`` None: stayed open.
    """

    number: int
    start_s: float
    end_s: float
    lifted: bool
    already_open: bool = False
    first_lift_s: float | None = None
    closure_s: float | None = None
    opening_pressure_pa: float | None = None
    ideal_estimate_pa: float | None = None
    line_pressure_pa: float | None = None
    force_n: float | None = None
    largest_force_n: float = 0.0


@dataclass(frozen=True, slots=True)
class Truth:
    """The true set pressure, and what every pull did."""

    set_pressure_pa: float
    area_m2: float
    pulls: tuple[TruePull, ...]
    friction_n: float = 0.0
    bond_n: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """The physics without sensors, on the integrator's own instants (n,), events included.

    ``spindle_m`` is what a perfect lift sensor would see, ``disc_m`` the disc's distance from its seat (negative
    while it presses the seat), ``pull_n`` the tension of the gear (weight resting on the spindle included).
    ``openings`` holds (time, line pressure, pull less weight) of every first lift, reopenings included.
    """

    time_s: Floats
    drive_m: Floats
    spindle_m: Floats
    disc_m: Floats
    pull_n: Floats
    line_pa: Floats
    contact_n: Floats
    open: NDArray[np.bool_]
    openings: tuple[tuple[float, float, float], ...]
    closures_s: tuple[float, ...]

    @property
    def lift_of_disc_m(self) -> Floats:
        """Lift of the open disc, 0 while closed, [m]."""
        return np.where(self.open, np.maximum(self.disc_m, 0.0), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedTest:
    """A recording, its job sheet and the truth; ``columns`` holds (time_s, values) as the file would.

    Valve, program and instruments are as they truly are, for bounds on what could have been known.
    """

    recording: Recording
    job: Job
    truth: Truth
    motion: Motion
    valve: ValveModel
    program: PullProgram
    instruments: Instrumentation
    columns: Mapping[str, tuple[Floats, Floats]] = field(default_factory=dict)
    name: str = "simulated"
