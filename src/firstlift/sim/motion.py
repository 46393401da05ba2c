"""How disc, seat and rig move: force balance while closed, an overdamped step while open.

While closed the disc rests on its seat and every instant is in balance, so the contact load N is the unknown;
first lift is the instant at which N (and a bond, if one holds) is used up. Line and drive are taken as straight
between two instants, which makes that instant exact: the balance is linear in both. After it the disc moves
with speed = net force / damping, stepped semi-implicitly, so that a snap takes its time and slow travel is
quasi-static.

Upward balance, with S the closing load and W the weight of the gear:
    net = p A + T - W + N + fluid(x, p) - S - k x - stop(x),  and |net| <= friction while the disc rests.
"""

from __future__ import annotations

import math

import numpy as np

from firstlift.sim.drive import drive_m, line_pa
from firstlift.sim.give import Give
from firstlift.sim.model import Motion, PullProgram, RigModel, ValveModel


def move(valve: ValveModel, rig: RigModel, program: PullProgram) -> Motion:
    """Carry a valve through its pulls.

    Parameters
    ----------
    valve : ValveModel
    rig : RigModel
    program : PullProgram

    Returns
    -------
    Motion
        On instants of ``program.step_s`` from 0, events inserted.
    """
    time = np.arange(0.0, program.duration_s + program.step_s, program.step_s)
    drive, line = drive_m(time, program.pulls), line_pa(time, program.line)
    walk = _Walk(valve, rig, program, float(line[0]))
    for start_s, way_m, base_pa in zip(time.tolist(), drive.tolist(), line.tolist(), strict=True):
        walk.step(start_s, way_m, base_pa)
    rows = np.array(walk.rows)
    return Motion(
        time_s=rows[:, 0],
        drive_m=np.interp(rows[:, 0], time, drive),
        spindle_m=rows[:, 1],
        disc_m=rows[:, 2],
        pull_n=rows[:, 3],
        line_pa=rows[:, 4],
        contact_n=rows[:, 5],
        open=rows[:, 6] > 0.5,
        openings=tuple(walk.openings),
        closures_s=tuple(walk.closures_s),
    )


class _Walk:
    """State of the walk through time; plain floats, since it is one small step after another."""

    def __init__(self, valve: ValveModel, rig: RigModel, program: PullProgram, first_pa: float) -> None:
        self.v, self.r, self.line = valve, rig, program.line
        self.area, self.load, self.rate = valve.area_m2, valve.closing_load_at_test_n, valve.spring_rate_n_m
        self.stiffness, self.slack, self.weight = rig.stiffness_n_m, rig.slack_m, rig.weight_on_spindle_n
        self.static = max(valve.friction_n, valve.static_friction_n)
        self.bond, self.open, self.direction = valve.bond_n, valve.starts_open, 0.0
        self.give, self.sag = Give(rig), 0.0
        self.reference = self.seat_m(max(0.0, self.load + self.weight - first_pa * self.area))
        self.t, self.way, self.p = -program.step_s, 0.0, first_pa
        self.n = 0.0 if self.open else self.rest_on_seat(0.0, first_pa, -self.static)
        self.x = 0.5 * valve.max_lift_m if self.open else self.seat_m(self.n)
        self.taut = self.tension(self.way, self.x)
        self.rows: list[tuple[float, ...]] = []
        self.openings: list[tuple[float, float, float]] = []
        self.closures_s: list[float] = []

    def seat_m(self, n: float) -> float:
        """Disc position at a contact load: 0 where it is used up, negative while the seat is pressed."""
        v = self.v
        if n <= 0.0 or not v.tilt_m:
            return -n / v.seat_stiffness_n_m
        return -n / v.seat_stiffness_n_m - v.tilt_m * (1.0 - math.exp(-n / v.tilt_load_n))

    def tension(self, way: float, x: float) -> float:
        """Pull of the gear: its stiffness times what drive and spindle are apart; it cannot push."""
        taut = self.stiffness * (way - self.slack - (x - self.reference))
        return taut if taut > 0.0 else 0.0

    def pressed(self, n: float, way: float, p: float) -> tuple[float, float, float]:
        """Disc position, pull of the gear and net upward force at a contact load."""
        x, v, area = self.seat_m(n), self.v, self.area
        if v.area_growth:
            area *= 1.0 - v.area_growth * (1.0 - math.exp(-max(n, 0.0) / v.leak_load_n))
        taut = self.tension(way, x)
        return x, taut, p * area + (taut - self.weight) + n - self.load - self.rate * x

    def rest_on_seat(self, way: float, p: float, friction: float) -> float:
        """Contact load at which the net force equals the friction given with its sign (secant steps)."""
        low, high = self.load, self.load * 0.5
        g_low, g_high = (self.pressed(n, way, p)[2] - friction for n in (low, high))
        for _ in range(60):
            if g_high == g_low or abs(high - low) < 1e-9:
                break
            low, high, g_low = high, high - g_high * (high - low) / (g_high - g_low), g_high
            g_high = self.pressed(high, way, p)[2] - friction
        return high

    def step(self, t: float, drive: float, base_pa: float) -> None:
        """Go on to the instant t with the drive's way and the line's own pressure there."""
        dt = t - self.t
        way = drive - self.give.settle(self.taut, dt)
        wanted = self.line.sag_share * min(1.0, max(0.0, self.x) / self.line.sag_lift_m) if self.open else 0.0
        self.sag += (wanted - self.sag) * dt / self.line.sag_s
        p = base_pa * (1.0 - self.sag)
        if self.open:
            self._step_open(self.t, dt, way, p)
        else:
            self._step_closed(t, dt, way, p)
        self.t, self.way, self.p = t, way, p
        self._note(t, way, p)

    def _step_closed(self, t: float, dt: float, way: float, p: float) -> None:
        edge = -self.bond
        _, taut, net = self.pressed(edge, way, p)
        over = net - self._holding(taut)
        if over >= 0.0:
            _, taut, net = self.pressed(edge, self.way, self.p)
            before = net - self._holding(taut)
            part = min(1.0, max(0.0, before / (before - over))) if before < 0.0 else 0.0
            self._lift_off(t - dt + part * dt, part, way, p)
            self._step_open(t - dt + part * dt, dt * (1.0 - part), way, p)
            return
        x, taut, net = self.pressed(self.n, way, p)
        hold = self._holding(taut)
        if abs(net) > hold or hold == 0.0:
            self.n = self._follow(way, p, math.copysign(hold, net), (x, taut, net))
            self.x = self.seat_m(self.n)

    def _holding(self, taut: float) -> float:
        return self.static + self.r.side_friction_ratio * taut

    def _follow(self, way: float, p: float, friction: float, at: tuple[float, float, float]) -> float:
        """Newton steps from the last contact load; one or two do, the seat being nearly linear."""
        v, n = self.v, self.n
        for _ in range(4):
            _, taut, net = at
            give = 1.0 / v.seat_stiffness_n_m
            if v.tilt_m:
                give += v.tilt_m / v.tilt_load_n * math.exp(-max(n, 0.0) / v.tilt_load_n)
            slope = 1.0 + (self.rate + (self.stiffness if taut > 0.0 else 0.0)) * give
            if v.area_growth:
                slope -= p * self.area * v.area_growth / v.leak_load_n * math.exp(-max(n, 0.0) / v.leak_load_n)
            change = (net - friction) / max(slope, 0.2)
            n = max(n - change, -self.bond)
            if abs(change) < 1e-7:
                break
            at = self.pressed(n, way, p)
        return n

    def _lift_off(self, t: float, part: float, way: float, p: float) -> None:
        self.x = self.seat_m(-self.bond)
        mid_way, mid_p = self.way + part * (way - self.way), self.p + part * (p - self.p)
        pull = self.tension(mid_way, self.x) - self.weight
        self.openings.append((t, mid_p, pull))
        self.n, self.bond, self.open, self.direction = 0.0, 0.0, True, 1.0
        self._note(t, mid_way, mid_p)

    def on_lift(self, x: float, p: float) -> tuple[float, float]:
        """Forces that depend on lift (fluid less spring less stop), and their slope."""
        v, above = self.v, max(x, 0.0)
        fading = math.exp(-above / v.early_m)
        cube, scale = above**3, v.late_m**3
        force = p * self.area * (v.early * (1.0 - fading) + v.late * cube / (cube + scale))
        slope = p * self.area * (v.early * fading / v.early_m + v.late * 3.0 * above**2 * scale / (cube + scale) ** 2)
        stop = v.stop_stiffness_n_m if x > v.max_lift_m else 0.0
        return force - self.rate * x - stop * (x - v.max_lift_m), slope - self.rate - stop

    def _step_open(self, t: float, dt: float, way: float, p: float) -> None:
        """Move the open disc from t for dt; finer while it snaps."""
        speed, parts = self._speed(way, p, dt), 1
        if abs(speed) * dt > 1e-6:
            parts = 8
        for index in range(parts):
            before = self.x
            self.x += (speed if parts == 1 else self._speed(way, p, dt / parts)) * dt / parts
            if self.x <= 0.0:
                part = before / (before - self.x) if before > self.x else 1.0
                self.closures_s.append(t + (index + part) * dt / parts)
                self.open, self.direction, self.n, self.x = False, 0.0, 0.0, 0.0
                return

    def _speed(self, way: float, p: float, dt: float) -> float:
        """Speed of the open disc over the next dt, [m/s], friction taken off; 0 while it sticks."""
        lifted, slope = self.on_lift(self.x, p)
        taut = self.tension(way, self.x)
        net = p * self.area + taut - self.weight + lifted - self.load
        side = self.r.side_friction_ratio * taut
        sliding = self.v.friction_n + side
        if self.direction * net <= sliding:
            # it has come to rest: it moves again only against the static friction
            self.direction = math.copysign(1.0, net) if abs(net) > max(self.static + side, 1e-12) else 0.0
        if self.direction == 0.0:
            return 0.0
        slope -= self.stiffness if taut > 0.0 else 0.0
        damping = self.v.damping_n_s_m
        return (net - sliding * self.direction) / max(damping - dt * slope, 0.3 * damping)

    def _note(self, t: float, way: float, p: float) -> None:
        x = self.x
        self.taut = self.tension(way, x)
        seen = x - self.reference + self.taut / self.r.spindle_stiffness_n_m + self.give.total_m
        self.rows.append((t, seen, x, self.taut, p, self.n, 1.0 if self.open else 0.0))
