"""A DC motor or a linear actuator on the bench: inertia, friction, running on, pulses that bounce.

Units: degrees of the axis, seconds, pulses (of the sensor, as a coordinate along the motor's turn), shares of
full voltage. Speed goes to what the voltage asks with one time constant; friction takes a share of the
voltage; switched off, the motor runs out. Between two events the motion is exact (an exponential), so that
edges come when they truly do. The triangle is written here apart from the firmware's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

import numpy as np

from .plant_axis import AxisData, PlantAxis

TIME_CONSTANT_S = 0.15  # with the dish on it; these four: common practice, no source
RUN_OUT_S = 0.12
FRICTION = 0.15  # share of full voltage at which it begins to turn
SPARE = 1.3  # full speed against the speed of the settings
REED = (0.18, 0.22)  # closes, opens: of a pulse, from the middle of the magnet
BOUNCE_S = 0.0012
_SHORT_S = 1e-7


@dataclass
class MotorData:
    """The drive as built. pulses_per: for a turn (motor) or a millimetre (actuator); lengths in m, deg."""

    kind: str
    pulses_per: float
    channels: int
    foot_m: float
    head_m: float
    triangle_deg: float


class MotorAxis(PlantAxis):
    """See PlantAxis. volts: supply as a share of the nominal; duty: share that the bridge passes on.
    reed: how far from the middle of a magnet the contact closes and opens, as REED."""

    reed = REED

    def __init__(self, data: AxisData, motor: MotorData, start_deg: float, seed: int) -> None:
        super().__init__(data, start_deg)
        self.motor = motor
        self.volts = 1.0
        self.duty = 0.0
        self.forward = True
        self.powered = False
        self.at_s = 0.0
        self.speed = 0.0  # pulses/s
        self._rng = Random(seed)
        self._bounces: list[float] = []
        grid = np.linspace(data.low_deg, data.high_deg, 181)
        slope = np.gradient([self._pulses(x) for x in grid], grid)
        self._sense = 1.0 if slope[90] > 0 else -1.0
        self.full = float(np.abs(slope).max()) * data.speed_deg_s * SPARE
        self._place()

    # --- pulses and degrees --------------------------------------------------------------------------

    def _pulses(self, deg: float) -> float:
        one = self.motor
        if one.kind == "motor":
            return deg * one.pulses_per / 360.0
        angle = math.radians(deg + one.triangle_deg)
        chord = (math.sin(angle) * one.head_m, math.cos(angle) * one.head_m - one.foot_m)
        return math.hypot(*chord) * 1000.0 * one.pulses_per

    def _degrees(self, pulses: float, near: float) -> float:
        if self.motor.kind == "motor":
            return pulses * 360.0 / self.motor.pulses_per
        at = near
        for _ in range(30):  # Newton from close by: the triangle is smooth
            slope = (self._pulses(at + 1e-4) - self._pulses(at - 1e-4)) / 2e-4
            step = (pulses - self._pulses(at)) / slope
            at += step
            if abs(step) < 1e-10:
                break
        return at

    def _place(self) -> None:
        """Pulses, sensor and stops from where the motor stands."""
        self.q = self._sense * self._pulses(self.motor_deg)
        ends = (self.stop_low - self.half, self.stop_high + self.half)
        self.q_ends = tuple(self._sense * self._pulses(x) for x in ends)
        # which contact is closed, or lies below the gap it stands in; kept apart from q so that no edge is
        # lost or seen twice by rounding
        self._magnet = math.floor(self.q + 0.5)
        self._closed = abs(self.q - self._magnet) < self.reed[0]
        if not self._closed:
            self._magnet = math.floor(self.q)
        self._quarter = math.floor(4.0 * self.q)

    # --- what the board sees ---------------------------------------------------------------------------

    def levels(self) -> list[int]:
        """Levels of the pulse lines: low where the contact or the Hall switch is closed."""
        if self.motor.channels == 1:
            return [int(self._closed) ^ 1 ^ (len(self._bounces) & 1)]
        part = self._quarter % 4
        return [int(part >= 2), int(part in (0, 3))]

    def next_edge_s(self) -> float | None:
        """Time until a line changes [s], or None."""
        due = [self._bounces[0] - self.at_s] if self._bounces else []
        edge = self._edge_at()
        if edge is not None:
            due.append(self._when(edge))
        soonest = min(due, default=math.inf)
        return max(0.0, soonest) if math.isfinite(soonest) else None

    @property
    def rate_deg_s(self) -> float:
        """Speed of the motor now, degrees of the axis a second."""
        if not self.speed:
            return 0.0
        ahead = self._degrees(self._sense * (self.q + 1e-3), self.motor_deg)
        return self.speed * (ahead - self.motor_deg) / 1e-3

    @property
    def busy(self) -> bool:
        """Whether it turns, is driven, or bounces."""
        return bool(self.speed or self._bounces or abs(self.duty) > FRICTION or (self.powered and self._leak))

    @property
    def _drive(self) -> float:
        """Voltage at the motor, a signed share of the nominal."""
        if not self.powered or self.dead:
            return 0.0
        way = (1.0 if self.forward else -1.0) * (-1.0 if self.data.reversed else 1.0)
        given = way * self.duty * self.volts * self.gain
        leak = self._leak
        if leak and abs(given) <= FRICTION:
            given = math.copysign(FRICTION, leak)
        return given + leak

    @property
    def _leak(self) -> float:
        """Voltage of a bridge that does not shut, beyond what friction takes: so the motor turns by itself,
        and its pulses tell of it."""
        span = self.stop_high - self.stop_low + 2.0 * self.half
        return (1.0 - FRICTION) / self.full * self.drift_deg_s * (self.q_ends[1] - self.q_ends[0]) / span

    # --- motion --------------------------------------------------------------------------------------

    def turn(self, steps: int, powered: bool, dt_s: float) -> float:
        """Let `dt_s` seconds pass; steps mean nothing here. Returns degrees the motor turned."""
        before, end_s = self.motor_deg, self.at_s + dt_s
        self.powered = powered
        if self.dead:
            self.speed = 0.0
        while self.at_s < end_s - 1e-12:
            self._one_piece(end_s)
        self._against_stop(dt_s)
        self.motor_deg = self._degrees(self._sense * self.q, self.motor_deg)
        return self.motor_deg - before if abs(self.motor_deg - before) > 1e-12 else 0.0

    def _against_stop(self, dt_s: float) -> None:
        low, high = self.q_ends
        if low < self.q < high:
            self.pushing_s = 0.0
            return
        out = 1.0 if self.q >= high else -1.0
        self.q = min(max(self.q, low), high)
        if self.speed * out > 0.0:
            self.speed = 0.0
        self.pushing_s = self.pushing_s + dt_s if self._drive * out > FRICTION else 0.0

    def _pull(self) -> tuple[float, float, float]:
        """(sign of motion or of what begins it, speed it tends to, time constant); sign 0: it stays."""
        drive = self._drive
        sign = math.copysign(1.0, self.speed) if self.speed else math.copysign(1.0, drive)
        if not self.speed and abs(drive) <= FRICTION:
            return 0.0, 0.0, RUN_OUT_S
        aim = (drive - sign * FRICTION) / (1.0 - FRICTION) * self.full
        return sign, aim, TIME_CONSTANT_S if drive else RUN_OUT_S

    def _after(self, t: float) -> tuple[float, float]:
        """Way and speed after t seconds of the present pull."""
        _, aim, tau = self._pull()
        fade = math.exp(-t / tau)
        return aim * t + (self.speed - aim) * tau * (1.0 - fade), aim + (self.speed - aim) * fade

    def _stands_in(self) -> float:
        """Seconds until it stands, infinity if it does not."""
        sign, aim, tau = self._pull()
        if not sign or aim * sign >= 0.0 or not self.speed:
            return math.inf
        return tau * math.log((self.speed - aim) / -aim)

    def _edge_at(self) -> float | None:
        """Pulse coordinate at which a line changes next, the way it turns."""
        sign = self._pull()[0]
        if not sign:
            return None
        if self.motor.channels == 2:
            return (self._quarter + (1 if sign > 0 else 0)) / 4.0
        if self._closed:
            return self._magnet + sign * self.reed[1]
        return self._magnet + 1 - self.reed[0] if sign > 0 else self._magnet + self.reed[0]

    def _when(self, edge: float) -> float:
        """Seconds until it comes to a pulse coordinate; infinity if it stands before."""
        sign = self._pull()[0]
        way = (edge - self.q) * sign
        if way <= 0.0:
            return 0.0
        if self._after(min(self._stands_in(), 5.0))[0] * sign < way:
            return math.inf
        _, aim, tau = self._pull()
        aim, speed = aim * sign, self.speed * sign
        # Speeding up, its way curves upwards and either of these is too late; slowing down, the first is too
        # early and its way curves downwards: Newton's steps keep to that side of it in both cases.
        t = way / speed if speed > 0.0 else math.inf
        if aim > speed:
            t = min(t, way / aim + tau)
        for _ in range(60):
            fade = math.exp(-t / tau)
            step = (aim * t + (speed - aim) * tau * (1.0 - fade) - way) / (aim + (speed - aim) * fade)
            t -= step
            if abs(step) < _SHORT_S:
                break
        return t

    def _one_piece(self, end_s: float) -> None:
        """On to the next event: an edge, a bounce, standing, or the end."""
        left = end_s - self.at_s
        edge = self._edge_at()
        edge_s = math.inf if edge is None else self._when(edge)
        stand_s = self._stands_in()
        bounce_s = self._bounces[0] - self.at_s if self._bounces else math.inf
        t = min(left, edge_s, stand_s, max(0.0, bounce_s))
        if self._pull()[0]:
            way, speed = self._after(t)
            self.q += way
            self.speed = 0.0 if t == stand_s else speed
        self.at_s += t
        if t == edge_s and edge is not None:
            self.q = edge
            self._edge(self._pull()[0] > 0)
        if bounce_s <= t:
            self._bounces.pop(0)
        if not self.q_ends[0] < self.q < self.q_ends[1]:
            self.at_s = end_s

    def _edge(self, up: bool) -> None:
        if self.motor.channels == 2:
            self._quarter += 1 if up else -1
            return
        if self._closed and not up:
            self._magnet -= 1
        elif not self._closed and up:
            self._magnet += 1
        self._closed = not self._closed
        self._bounces = [self.at_s + x for x in sorted(self._rng.uniform(1e-4, BOUNCE_S) for _ in range(2))]

    # --- other hands -----------------------------------------------------------------------------------

    def lose(self, steps: int) -> None:
        """Fault: the clutch slips by `steps` of a like stepper (signed); the sensor sees nothing of it."""
        self.load_deg += steps * abs(self._per_step)
        self.motor_deg += steps * abs(self._per_step)
        self._place()

    def shift_by_hand(self, deg: float) -> None:
        """Somebody turns the axis by hand with the clutch out: the sensor sees nothing of it."""
        super().shift_by_hand(deg)
        self._place()
