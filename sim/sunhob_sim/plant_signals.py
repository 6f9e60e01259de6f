"""The cooker on the bench as the board's pins and converters have it, and the hands at its buttons.

Units: us of virtual time, counts 0 to 65535 of a converter, W/m2 for light, deg C.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from . import pins
from .hob import Hob
from .plant_geometry import TrueMount
from .plant_motor import MotorAxis
from .plant_state import PlantState
from .probes import Probe
from .rotary import RotaryKnob
from .sky import Sky

if TYPE_CHECKING:
    from .faults.signal import Contact

BEAM_FULL_DEG = 16.0  # the tube sees the sun whole up to here, wider than the greatest lag
BEAM_NONE_DEG = 22.0


class PlantSignals(PlantState):
    """The state with its wires: what goes in and out at each pin, and what spoils it on the way."""

    def __init__(self, settings: Any, sky: Sky, mount: TrueMount | None = None, wind_m_s: float = 0.0,
                 gust_m_s: float = 0.0, seed: int = 1, start_deg: tuple[float, float] | None = None,
                 hob: Hob | None = None) -> None:
        super().__init__(settings, sky, mount, wind_m_s, gust_m_s, seed, start_deg, hob)
        self.rotary = RotaryKnob(seed) if self.flat.get("cook.knob_rotary") else None
        self._pulse_pins = self._wire_pulses()
        self.knob = 1.0
        self.beam_gain = self.open_gain = 1.0  # below 1: dirty or dead sensors
        self.signals: list[Callable[[int], int] | None] = [None, None, None]  # spoilt converter channels
        self.contacts: dict[int, Contact] = {}  # spoilt contacts by pin
        self.held_outputs: dict[int, int] = {}  # outputs that something else holds at a level
        self.presses: list[tuple[float, int]] = []
        self._knob_told = math.nan
        self._pin_adc = [0, 0, 0]
        self._inputs: dict[int, int] = {}  # as last told, while they stand
        self._plan: list[tuple[int, int, int]] = []

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

    def hold_output(self, pin: int, level: int) -> None:
        """Something holds this output at a level from now on, whatever the board drives."""
        self.held_outputs[pin] = level
        self.outputs({pin: level})

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

    def _tube(self) -> float:
        away = self.separation_deg()
        return min(max((BEAM_NONE_DEG - away) / (BEAM_NONE_DEG - BEAM_FULL_DEG), 0.0), 1.0)

    def probe_c(self, index: int, now_us: int) -> float | str:
        """Probe 0 (contents) or 1 (underside): deg C, or 'open', 'short', 'frozen'."""
        return "open" if self.hob is None else self.hob.probe_c(index, now_us)

    @property
    def probes(self) -> list[Probe]:
        """The probes, to be broken by tests: `plant.probes[0].fault = "open"`."""
        return [] if self.hob is None else self.hob.probes

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


def _counts(fraction: float) -> int:
    return int(min(max(fraction, 0.0), 1.0) * 65535)
