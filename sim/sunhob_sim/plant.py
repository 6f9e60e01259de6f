"""The cooker on the bench as it truly is: drives, gears, mount, sensors, and the record of all of it.

Units: us of virtual time at the board's side, seconds and degrees in the record, W/m2 for light.
The board sees only pin levels and converter readings; what the firmware believes is nowhere in here.
"""

from __future__ import annotations

import heapq
import math
from array import array
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from sunhob_board.declared.settings import SETTINGS

from . import pins
from .hob import Hob
from .pio_queue import PioQueue
from .plant_axis import AxisData, HandAxis, PlantAxis
from .plant_geometry import TrueMount
from .plant_motor import MotorAxis, MotorData
from .probes import Probe
from .rotary import RotaryKnob
from .sky import Sky
from .wind import Wind

if TYPE_CHECKING:
    from .faults.signal import Contact

SLICE_US = 50_000  # longest leap while an axis moves
RECORD_US = 200_000
REST_RECORD_US = 10_000_000
BEAM_FULL_DEG = 16.0  # the tube sees the sun whole up to here, wider than the greatest lag
BEAM_NONE_DEG = 22.0
COLUMNS = (
    "t_s", "axis1_deg", "axis2_deg", "power", "chain", "buzzer", "moving", "push1_s", "push2_s",
    "lamp_hands_in", "lamp_armed", "lamp_fault", "covered", "supply", "dead1", "dead2", "stand",
)


def flat_settings(settings: Any = None) -> dict[str, Any]:
    """Settings by dotted key ('axis1.low_deg'); from None (defaults), a mapping or a pydantic model."""
    out = {row[0]: row[2] for row in SETTINGS}
    if settings is None:
        return out
    given = settings.model_dump() if hasattr(settings, "model_dump") else dict(settings)
    for key, value in given.items():
        if isinstance(value, Mapping):
            out.update({f"{key}.{name}": inner for name, inner in value.items()})
        else:
            out[key] = value
    return out


def axis_data(flat: Mapping[str, Any], name: str) -> AxisData:
    """The axis 'axis1' or 'axis2' of flat settings."""
    get = {key.split(".", 1)[1]: value for key, value in flat.items() if key.startswith(name + ".")}
    return AxisData(
        get["low_deg"], get["high_deg"], get["home_deg"], get["steps_per_turn"], get["speed_deg_s"],
        get["accel_deg_s2"], get["backlash_deg"], get["approach"] == 0, bool(get["reversed"]),
    )


def plant_axis(flat: Mapping[str, Any], name: str, start_deg: float, seed: int = 1) -> PlantAxis:
    """The axis 'axis1' or 'axis2' of flat settings with its drive, at `start_deg` degrees."""
    data, kind = axis_data(flat, name), flat[name + ".drive"]
    if kind == "stepper":
        return PlantAxis(data, start_deg)
    if kind == "hand":
        return HandAxis(data, start_deg)
    per = flat[f"{name}.pulses_per_turn" if kind == "motor" else f"{name}.pulses_per_mm"]
    motor = MotorData(kind, per, flat[name + ".channels"], flat[name + ".foot_m"], flat[name + ".head_m"],
                      flat[name + ".triangle_deg"])
    return MotorAxis(data, motor, start_deg, seed)


def true_mount(flat: Mapping[str, Any], north_deg: float = 0.0, tilt_east_deg: float = 0.0,
               tilt_north_deg: float = 0.0, axis2_zero_deg: float = 0.0) -> TrueMount:
    """The mount of the settings, off by these degrees in ways the settings do not know."""
    return TrueMount(
        flat["mount.kind"], flat["site.latitude_deg"], flat["mount.north_deg"] + north_deg,
        flat["mount.tilt_east_deg"] + tilt_east_deg, flat["mount.tilt_north_deg"] + tilt_north_deg,
        flat["mount.square_deg"], (flat["axis1.zero_deg"], flat["axis2.zero_deg"] + axis2_zero_deg),
    )


def park_axes(flat: Mapping[str, Any]) -> tuple[float, float]:
    """Axis angles in degrees, inside the travel, that point at the elevated pole; with the season set by hand
    the eastern end of axis 1, or midnight where it goes so far, and axis 2 at the equator."""
    lat = flat["site.latitude_deg"]
    if flat["axis2.drive"] == "hand":
        zero = flat["axis1.zero_deg"]
        if lat >= 0:
            return max(flat["axis1.low_deg"] + 0.5, -zero), -flat["axis2.zero_deg"]
        return min(flat["axis1.high_deg"] - 0.5, 360.0 - zero), -flat["axis2.zero_deg"]
    if flat["mount.kind"] == "polar":
        return 180.0 - flat["axis1.zero_deg"], min(90.0, flat["axis2.high_deg"]) - flat["axis2.zero_deg"]
    one = (0.0 if lat >= 0 else 180.0) - flat["mount.north_deg"] - flat["axis1.zero_deg"]
    low, high = flat["axis1.low_deg"], flat["axis1.high_deg"]
    one = low + (one - low) % 360.0
    return min(one, high), abs(lat) - flat["axis2.zero_deg"]


class Plant:
    """Drives, mount and sensors between the virtual board's pins and the sky.

    `settings` as the board holds them; `mount` how it truly stands (default: as the settings say);
    speeds of wind in m/s; `start_deg` the axis angles at the start, degrees (default: parked); `hob` the
    pot at the focus (None: no pot is modelled, and no probe answers).
    """

    def __init__(self, settings: Any, sky: Sky, mount: TrueMount | None = None, wind_m_s: float = 0.0,
                 gust_m_s: float = 0.0, seed: int = 1, start_deg: tuple[float, float] | None = None,
                 hob: Hob | None = None) -> None:
        self.flat = flat_settings(settings)
        self.sky = sky
        self.stands = [mount or true_mount(self.flat)]  # how it has stood, the present last
        start = start_deg or park_axes(self.flat)
        self.axes = tuple(plant_axis(self.flat, f"axis{k + 1}", start[k], seed + k) for k in range(2))
        self.motors = {k: axis for k, axis in enumerate(self.axes) if isinstance(axis, MotorAxis)}
        self.rotary = RotaryKnob(seed) if self.flat.get("cook.knob_rotary") else None
        self._pulse_pins = self._wire_pulses()
        self.queues: dict[int, PioQueue] = {0: PioQueue(), 1: PioQueue()}
        self._owns_queues = True
        self.wind = Wind(wind_m_s, gust_m_s, sky.duration_s, seed)
        self.gusted = False  # a wind got up that the scenario's air does not tell of
        self.now_us = 0
        self.levels = dict.fromkeys(pins.OUTPUTS, 0)
        self.levels.update(pins.AT_REST)
        self.hob = hob
        self.knob = 1.0
        self.covered = False  # a cover lies over the mirror
        self.supply = True  # False: the battery is gone, nothing turns, sounds or lights
        self.beam_gain = self.open_gain = 1.0  # below 1: dirty or dead sensors
        self.signals: list[Callable[[int], int] | None] = [None, None, None]  # spoilt converter channels
        self.contacts: dict[int, Contact] = {}  # spoilt contacts by pin
        self.held_outputs: dict[int, int] = {}  # outputs that something else holds at a level
        self.presses: list[tuple[float, int]] = []
        self.motor_s = [0.0, 0.0]
        self.powered_s = 0.0
        self._knob_told = math.nan
        self._pin_adc = [0, 0, 0]
        self._inputs: dict[int, int] = {}  # as last told, while they stand
        self._steps = [0, 0]
        self._moving = 0
        self._plan: list[tuple[int, int, int]] = []
        self._aim_at = (math.nan, math.nan)
        self._aim = (0.0, 0.0, 1.0)
        self._frame_at: Any = None
        self._frame: tuple[tuple[float, float, float], ...] = ()
        self._rows = {name: array("d") for name in COLUMNS}
        self._recorded_us = -REST_RECORD_US
        self._record()

    # what the virtual board calls

    def attach(self, board: Any) -> None:
        """Take steps from the virtual board's own queues (`board.queues`) from now on."""
        self.queues = board.queues
        self._steps = [queue.steps_done(self.now_us) for queue in self._both() if queue] or [0, 0]
        self._steps += [0] * (2 - len(self._steps))
        self._owns_queues = False

    def motion(self, sm_id: int, words: list[int] | None) -> None:
        """Step words for axis `sm_id` (0 or 1) now; None drops them. The board's own queues know already."""
        if not self._owns_queues:
            return
        if words is None:
            self.queues[sm_id].clear(self.now_us)
            return
        for word in words:
            self.queues[sm_id].put(word, self.now_us)

    def outputs(self, changes: Mapping[int, int]) -> None:
        """The board set these pins (GPIO number to level) at the present time."""
        known = {pin: level for pin, level in changes.items() if pin in pins.OUTPUTS}
        known.update({pin: level for pin, level in self.held_outputs.items() if pin in known})
        for k, motor in self.motors.items():
            motor.duty = changes.get(pins.STEP[k], motor.duty * 65535.0) / 65535.0
            motor.forward = bool(changes.get(pins.DIR[k], motor.forward))
        if known:
            self._record()
            self.levels.update(known)
            self._record()

    def _wire_pulses(self) -> list[tuple[MotorAxis | RotaryKnob, list[int]]]:
        """Each motor with the pins of its pulse lines, then the rotary knob with its own."""
        free = list(pins.PULSES)
        wired: list[tuple[MotorAxis | RotaryKnob, list[int]]] = [
            (one, [free.pop(0) for _ in range(one.motor.channels)]) for one in self.motors.values()]
        return wired if self.rotary is None else [*wired, (self.rotary, [free.pop(0), free.pop(0)])]

    def turn_knob(self, percent: float) -> None:
        """A hand turns the heat knob, of whichever kind, to so much."""
        self.knob = percent / 100.0
        if self.rotary is not None:
            self.rotary.turn(percent)

    def inputs(self) -> dict[int, int]:
        """Level of every input pin now."""
        one, two = self.axes[0].home_level(), self.axes[1].home_level()
        levels = self.levels
        plain = not (self._pulse_pins or self.contacts or self.held_outputs)
        if plain and self._inputs and one == levels[pins.HOME[0]] and two == levels[pins.HOME[1]]:
            return self._inputs
        levels[pins.HOME[0]], levels[pins.HOME[1]] = one, two
        found = {pin: self.levels[pin] for pin in pins.AT_REST}
        for motor, lines in self._pulse_pins:
            found.update(zip(lines, motor.levels(), strict=True))
        for pin, spoilt in self.contacts.items():
            found[pin] = spoilt(found[pin], self.now_us)
        found.update(self.held_outputs)
        self._inputs = found if plain else {}
        return found

    def pin_adc(self) -> list[int]:
        """Counts of the board's own converter, by channel: only the heat knob hangs there."""
        if self.knob != self._knob_told or self.signals[2] is not None:
            self._knob_told = self.knob if self.signals[2] is None else math.nan
            self._pin_adc = [0, 0, self.counts(2)]
        return self._pin_adc

    def hold_output(self, pin: int, level: int) -> None:
        """Something holds this output at a level from now on, whatever the board drives."""
        self.held_outputs[pin] = level
        self.outputs({pin: level})

    def adc(self) -> list[int]:
        """Counts 0..65535 of the converters now: tube sensor, open cell, heat knob."""
        return [self.counts(k) for k in range(3)]

    def counts(self, k: int) -> int:
        """Counts 0..65535 of one of them."""
        spoilt = self.signals[k]
        if k == 2:
            raw = _counts(self.knob)
        else:
            t = self.now_us / 1e6
            raw = self._tube_counts(t) if k == 0 else _counts(
                self.sky.open_w_m2(t) * self.open_gain / self.flat["sensor.open_w_m2_full"])
        return raw if spoilt is None else spoilt(raw)

    def _tube_counts(self, t: float) -> int:
        beam = self.sky.beam_w_m2(t)
        if beam > 0.0:
            beam *= self.beam_gain * self._tube()
        return _counts(beam / self.flat["sensor.beam_w_m2_full"])

    def probe_c(self, index: int, now_us: int) -> float | str:
        """Probe 0 (contents) or 1 (underside): deg C, or 'open', 'short', 'frozen'."""
        return "open" if self.hob is None else self.hob.probe_c(index, now_us)

    @property
    def probes(self) -> list[Probe]:
        """The probes, to be broken by tests: `plant.probes[0].fault = "open"`."""
        return [] if self.hob is None else self.hob.probes

    @property
    def moving(self) -> int:
        """Bit k set while axis k + 1 turns."""
        return self._moving

    def next_edge_us(self) -> int | None:
        """When an input may change next without the board's doing, or None."""
        soonest = self._plan[0][0] if self._plan else None
        for spoilt in self.contacts.values():
            if spoilt.next_us is not None:
                at = max(spoilt.next_us, self.now_us + 1)
                soonest = at if soonest is None else min(soonest, at)
        due_s = None if self.rotary is None else self.rotary.next_edge_s()
        if due_s is not None:
            at = self.now_us + int(due_s * 1e6) + 2
            soonest = at if soonest is None else min(soonest, at)
        for axis, queue in zip(self.axes, self._both(), strict=True):
            if isinstance(axis, MotorAxis):
                axis.powered = self.powered
                rate = abs(axis.rate_deg_s)
                edge_s = axis.next_edge_s()
                if edge_s is not None:
                    at = self.now_us + int(edge_s * 1e6) + 2
                    soonest = at if soonest is None else min(soonest, at)
            else:
                steps_s = 0.0 if queue is None else queue.rate(self.now_us)
                if not steps_s:
                    continue
                rate = abs(steps_s) * 360.0 / axis.data.steps_per_turn
            away = abs(axis.load_deg - axis.data.home_deg)
            if rate and away < 0.1 * rate + axis.data.backlash_deg:
                at = self.now_us + 5_000
                soonest = at if soonest is None else min(soonest, at)
        return soonest

    def advance(self, to_us: int) -> None:
        """Let the world run on to `to_us`."""
        while self.now_us < to_us:
            stop = to_us
            if self._plan and self._plan[0][0] < stop:
                stop = max(self._plan[0][0], self.now_us)
            busy = self._busy()
            if busy:
                stop = min(stop, self.now_us + SLICE_US)
            elif self.hob is not None or not self.wind.calm:
                stop = min(stop, self.now_us + 1_000_000)
            if busy or self._stirs():
                self._run(stop)
            else:
                self._rest(stop)
            while self._plan and self._plan[0][0] <= self.now_us:
                _, pin, level = heapq.heappop(self._plan)
                self.set_input(pin, level)

    def set_input(self, pin: int, level: int) -> None:
        """Somebody presses a button, lifts the pot, opens the chain: pin level 0 or 1 from now on."""
        if self.levels.get(pin) == level:
            return
        self._record()
        self.levels[pin] = level
        self._inputs = {}
        if level == 0 and pin in (pins.LEAVE, pins.ASIDE, pins.ARM, pins.CONFIRM):
            self.presses.append((self.now_us / 1e6, pin))
        self._record()

    def schedule(self, at_us: int, pin: int, level: int) -> None:
        """Have `pin` take `level` at a time to come."""
        heapq.heappush(self._plan, (int(at_us), pin, level))

    def press(self, pin: int, at_us: int, hold_us: int = 500_000) -> None:
        """Press a button at `at_us` for `hold_us`."""
        self.schedule(at_us, pin, 0)
        self.schedule(at_us + hold_us, pin, 1)

    @property
    def mount(self) -> TrueMount:
        """How the mount stands now."""
        return self.stands[-1]

    def set_axis(self, k: int, deg: float) -> None:
        """A hand turns axis k + 1 to this reading."""
        self._record()
        self.axes[k].set_by_hand(deg)
        self._aim_at = (math.nan, math.nan)
        self._record()

    def stand(self, mount: TrueMount) -> None:
        """The base is bumped: the mount stands so from now on."""
        self._record()
        self.stands.append(mount)
        self._aim_at = (math.nan, math.nan)
        self._record()

    @property
    def powered(self) -> bool:
        """Whether the drives can turn: supplied, enabled by the board, and the stop chain whole."""
        return bool(self.supply and self.levels[pins.MOTOR_ENABLE] and self.levels[pins.STOP_CHAIN])

    @property
    def axes_deg(self) -> tuple[float, float]:
        """True axis angles, degrees."""
        return self.axes[0].load_deg, self.axes[1].load_deg

    def enu(self) -> tuple[float, float, float]:
        """True ENU unit vector of the dish axis."""
        at = self.axes_deg
        if at != self._aim_at:
            self._aim_at = at
            self._aim = self.mount.aim(*at)
        return self._aim

    def dish_frame(self) -> tuple[tuple[float, float, float], ...]:
        """True ENU unit vectors of the dish: to its right as one looks out along its axis, up from it,
        along."""
        at = (self.axes_deg, len(self.stands))
        if at != self._frame_at:
            self._frame_at = at
            self._frame = self.mount.dish(*self.axes_deg)
        return self._frame

    def separation_deg(self) -> float:
        """Angle in degrees between the dish axis and the sun."""
        ae, an, au = self.enu()
        be, bn, bu = self.sky.sun_at(self.now_us / 1e6)
        half = math.sqrt((ae - be) ** 2 + (an - bn) ** 2 + (au - bu) ** 2) / 2.0
        return math.degrees(2.0 * math.asin(min(1.0, half)))

    def record(self) -> dict[str, NDArray]:
        """Columns of the true state so far: seconds, degrees, levels (see COLUMNS)."""
        self._record()
        return {name: np.array(values) for name, values in self._rows.items()}

    def _both(self) -> list[PioQueue | None]:
        return [self.queues.get(0), self.queues.get(1)]

    def _busy(self) -> bool:
        if (self.axes[0].drift_deg_s or self.axes[1].drift_deg_s) and self.powered:
            return True
        for motor in self.motors.values():
            if motor.busy:
                return True
        one, two = self._both()
        return bool((one and one.rate(self.now_us)) or (two and two.rate(self.now_us)))

    def _take_steps(self, to_us: int) -> list[int]:
        steps, last = [0, 0], self._steps
        for k in (0, 1):
            queue = self.queues.get(k)
            if queue is None:
                continue
            done = queue.steps_done(to_us)
            if done != last[k]:
                steps[k], last[k] = done - last[k], done
        return steps

    def _run(self, to_us: int) -> None:
        dt = (to_us - self.now_us) / 1e6
        steps = self._take_steps(to_us)
        powered = self.powered
        driven = steps[0] or steps[1] or any(motor.busy for motor in self.motors.values())
        if driven and not self._moving:
            self._record()  # the rest before the move, at its own time
        moving = 0
        for k, axis in enumerate(self.axes):
            if axis.turn(steps[k], powered, dt):
                moving |= 1 << k
                self.motor_s[k] += dt
            if moving >> k & 1 or steps[k] or not self.wind.calm:
                axis.settle(self.wind.shove(k, to_us / 1e6, axis.data.preloaded))
        self.powered_s += dt * powered
        self.now_us = to_us
        if self.rotary is not None:
            self.rotary.advance(to_us / 1e6)
        changed, self._moving = moving != self._moving, moving
        if self.hob is not None:
            self.hob.follow(self)
        quick = moving or driven or not self.wind.calm
        if changed or to_us - self._recorded_us >= (RECORD_US if quick else REST_RECORD_US):
            self._record()

    def _stirs(self) -> bool:
        """Whether axes that nobody drives may turn or have just stopped."""
        one, two = self.axes
        return bool(self._moving or self.motors or not self.wind.calm or one.pushing_s or two.pushing_s)

    def _rest(self, to_us: int) -> None:
        """As _run, of a cooker that stands still."""
        if self.powered:
            self.powered_s += (to_us - self.now_us) / 1e6
        self.now_us = to_us
        if self.rotary is not None:
            self.rotary.advance(to_us / 1e6)
        if self.hob is not None:
            self.hob.follow(self)
        if to_us - self._recorded_us >= REST_RECORD_US:
            self._record()

    def _tube(self) -> float:
        away = self.separation_deg()
        return min(max((BEAM_NONE_DEG - away) / (BEAM_NONE_DEG - BEAM_FULL_DEG), 0.0), 1.0)

    def _record(self) -> None:
        self._recorded_us = self.now_us
        v = self.levels
        row = (
            self.now_us / 1e6, *self.axes_deg, self.powered, v[pins.STOP_CHAIN], v[pins.BUZZER],
            self._moving, self.axes[0].pushing_s, self.axes[1].pushing_s,
            v[pins.LAMP_HANDS_IN], v[pins.LAMP_ARMED], v[pins.LAMP_FAULT], self.covered,
            self.supply, self.axes[0].dead, self.axes[1].dead, len(self.stands) - 1,
        )
        for values, one in zip(self._rows.values(), row, strict=True):
            values.append(one)


def _counts(fraction: float) -> int:
    return int(min(max(fraction, 0.0), 1.0) * 65535)

