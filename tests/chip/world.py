"""The bench's cooker, sky and pot behind the pins of the emulated chip. Units: us and s of emulated time.

The virtual board of the bench is left out: its plant, its chips on the buses and its cook's hands are wired
to the emulated pins instead. World time is the chip's time since power-on.
"""

import numpy as np
from sunhob_sim import pins
from sunhob_sim.bench import Bench
from sunhob_sim.scenario import parse

from .emulator import Chip
from .parts import I2cBus, SpiBus, StepMachines

_LOOK_NS = 5_000_000  # the world moves on so often; a home flag is told as late
_PRESS_S = 0.5


class World:
    """bench: its plant is the truth. separation_deg: what the dish was off the sun at each look while
    `following` is set."""

    def __init__(self, chip: Chip, text: str) -> None:
        self.chip = chip
        self.bench = Bench(parse(text), "cpython")  # its own engine is never started
        board = self.bench.board
        I2cBus(chip, board.devices)
        SpiBus(chip, board.spi_devices)
        StepMachines(chip, board.queues)
        chip.on_output.append(self._driven)
        chip.on_restart.append(self._dark)
        self.separation_deg: list[float] = []
        self.following = False
        self._alarm = chip.clock.create_alarm(self._look)
        self._look()

    def _look(self) -> None:
        self._advance()
        bridge = self.bench.bridge
        for pin, level in bridge.inputs().items():
            self.chip.drive(pin, level)
        for channel, counts in enumerate(bridge.adc()):
            self.chip.mcu.adc.channel_values[channel] = counts >> 4  # a converter of 12 bits
        if self.following:
            self.separation_deg.append(self.bench.plant.separation_deg())
        self._alarm.schedule(_LOOK_NS)

    def _advance(self) -> None:
        now = self.chip.us
        if now > self.bench.plant.now_us:
            self.bench.bridge.advance(now)
        self.bench.board.now_us = now

    def _driven(self, pin: int, level: int) -> None:
        if pin in pins.OUTPUTS:
            self._advance()
            self.bench.plant.outputs({pin: level})

    def _dark(self) -> None:
        self._advance()
        self.bench.plant.outputs(dict.fromkeys(pins.OUTPUTS, 0))

    def press(self, key: int) -> None:
        """The cook presses a button of the panel (a bit of sunhob_board.core.panel) and lets it go."""
        self.bench.cook.mask |= key
        self._hands()
        until = self.chip.seconds + _PRESS_S
        while self.chip.seconds < until:  # what comes over USB ends a run() before its time
            self.chip.run(until - self.chip.seconds)
        self.bench.cook.mask &= ~key
        self._hands()

    def knob(self, percent: float) -> None:
        """The cook turns the heat knob."""
        self.bench.cook.knob_percent = percent
        self._hands()

    def _hands(self) -> None:
        self._advance()
        self.bench.bridge.hands()

    def pointing_deg(self) -> tuple[float, float]:
        """(median, 95 % quantile) of what the dish was off the sun since `following` was set."""
        middle, most = np.quantile(self.separation_deg, (0.5, 0.95))
        return float(middle), float(most)
