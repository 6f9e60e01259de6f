"""One driven axis of the bench: motor steps, gear play, end stops, home flag.

Units: degrees of the axis, seconds.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class AxisData:
    """An axis as built: travel, home flag and play in degrees, gearing in steps a turn, speed in deg/s."""

    low_deg: float
    high_deg: float
    home_deg: float
    steps_per_turn: float
    speed_deg_s: float
    accel_deg_s2: float
    backlash_deg: float
    preloaded: bool
    reversed: bool
    past_stop_deg: float = 1.5  # how far beyond the travel the hard stop stands


class PlantAxis:
    """Motor and load. The load rests in the play of the gear: held to one side by weight, or dragged."""

    def __init__(self, data: AxisData, start_deg: float) -> None:
        self.data = data
        self.load_deg = start_deg
        self.half = data.backlash_deg / 2.0
        self.motor_deg = start_deg + (self.half if data.preloaded else 0.0)
        self.stop_low = data.low_deg - data.past_stop_deg
        self.stop_high = data.high_deg + data.past_stop_deg
        self._per_step = (-1.0 if data.reversed else 1.0) * 360.0 / data.steps_per_turn
        self.lost_steps = 0
        self.pushing_s = 0.0
        self.dead = False
        self.gain = 1.0  # share of the steps that turn it; -1: wired the wrong way round
        self.drift_deg_s = 0.0  # it turns by itself while it has power
        self.duty = 0.0  # of a bridge; a stepper is asked by steps
        self.home_stuck: int | None = None

    def turn(self, steps: int, powered: bool, dt_s: float) -> float:
        """Take `steps` (signed) given over `dt_s` seconds; returns degrees the motor turned."""
        drift_deg = self.drift_deg_s * dt_s if powered else 0.0
        if steps == 0 and not drift_deg:
            self.pushing_s = 0.0
            return 0.0
        if not powered or self.dead:
            self.lost_steps += abs(steps)
            self.pushing_s = 0.0
            return 0.0
        before = self.motor_deg
        wanted = before + steps * self.gain * self._per_step + drift_deg
        self.motor_deg = min(max(wanted, self.stop_low - self.half), self.stop_high + self.half)
        blocked = abs(wanted - self.motor_deg) > 1e-9
        if blocked:
            self.lost_steps += round(abs((wanted - self.motor_deg) / self._per_step))
            self.pushing_s += dt_s
        else:
            self.pushing_s = 0.0
        return self.motor_deg - before

    def settle(self, shove: int) -> None:
        """Let the load find its place; `shove` -1, 0, 1 is a gust that pushes it across the play."""
        rest = self.motor_deg - self.half  # weight keeps the load on the lower flank
        if shove:
            self.load_deg = self.motor_deg + shove * self.half
        elif self.data.preloaded:
            self.load_deg = rest
        else:
            self.load_deg = min(max(self.load_deg, rest), self.motor_deg + self.half)
        self.load_deg = min(max(self.load_deg, self.stop_low), self.stop_high)

    def lose(self, steps: int) -> None:
        """Fault: the rotor slips by `steps` (signed) that nobody asked for."""
        self.motor_deg += steps * abs(self._per_step)
        self.lost_steps += abs(steps)

    def home_level(self) -> int:
        """Level of the home flag's pin: 0 where the axis is at or below its home angle."""
        if self.home_stuck is not None:
            return self.home_stuck
        return 0 if self.load_deg <= self.data.home_deg else 1

    def set_by_hand(self, deg: float) -> None:
        """Somebody turns the axis to this reading."""
        self.shift_by_hand(deg - self.load_deg)

    def shift_by_hand(self, deg: float) -> None:
        """Somebody turns the axis by hand (clutch out): motor and load keep together."""
        self.motor_deg += deg
        self.load_deg += deg


class HandAxis(PlantAxis):
    """An axis on a hand screw, with neither motor nor flag: it stands where a hand left it."""

    def turn(self, steps: int, powered: bool, dt_s: float) -> float:
        """Nothing drives it."""
        return 0.0

    def home_level(self) -> int:
        """The pin is not wired: the board's pull-up holds it high."""
        return 1
