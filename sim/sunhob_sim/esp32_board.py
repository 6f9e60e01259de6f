"""An ESP32 module on the bench: its own pins, pulse peripheral and port expander before the same plant.

Units: us of virtual time, levels 0/1. The plant knows its lines by the numbers of pins.py; here is which pin
of the module or line of the expander each hangs on, written apart from the board file of the firmware.
"""

from typing import Any

from . import pins
from .board_host import VirtualBoard
from .devices import mcp23017
from .devices.mcp23017 import MCP23017
from .rmt_channel import RmtChannel

STEP, DIR = (25, 13), (26, 14)
EXPANDER_INT = 39
LINK_PORT = 2
# GPIO of the module: line of the plant
DIRECT = {
    25: pins.STEP[0], 26: pins.DIR[0], 13: pins.STEP[1], 14: pins.DIR[1], 27: pins.MOTOR_ENABLE,
    4: pins.BUZZER, 32: pins.LEAVE, 36: pins.STOP_CHAIN, 33: pins.PULSES[0], 16: pins.PULSES[1],
    19: pins.SELECT_CONTENTS, 23: pins.SELECT_UNDERSIDE,
}
# line of the expander, port A from 0 and port B from 8: line of the plant
EXPANDED = {0: pins.ASIDE, 1: pins.ARM, 2: pins.CONFIRM, 3: pins.POT, 4: pins.HOME[0], 5: pins.HOME[1]}
LAMPS = {8: pins.LAMP_HANDS_IN, 9: pins.LAMP_ARMED, 10: pins.LAMP_FAULT}


class Wires:
    """Between the module's pins and the lines of the plant behind them (see board_host.Plant)."""

    def __init__(self, bridge: Any) -> None:
        self.bridge = bridge
        self._lines: dict[int, int] = {}
        self.expander = MCP23017(self._at_expander, self._lamps)
        self.advance, self.motion = bridge.advance, bridge.motion
        self.next_edge_us, self.adc = bridge.next_edge_us, bridge.adc

    def attach(self, board: VirtualBoard) -> None:
        """The module's own pulse channels drive the plant's axes."""
        self.bridge.attach(board)

    def outputs(self, changes: dict[int, int]) -> None:
        """What the module drives, to the plant."""
        known = {DIRECT[pin]: level for pin, level in changes.items() if pin in DIRECT}
        if known:
            self.bridge.outputs(known)

    def inputs(self) -> dict[int, int]:
        """Level of every pin of the module that something drives."""
        self._lines = self.bridge.inputs()
        found = {pin: self._lines[line] for pin, line in DIRECT.items() if line in self._lines}
        found[EXPANDER_INT] = 1 if self.expander.silent else self.expander.inta()
        return found

    def _at_expander(self) -> dict[int, int]:
        levels = {line: self._lines[at] for line, at in EXPANDED.items() if at in self._lines}
        held = self.bridge.plant.held_outputs
        levels.update({line: held[at] for line, at in LAMPS.items() if at in held})
        return levels

    def _lamps(self, changes: dict[int, int]) -> None:
        self.bridge.outputs({LAMPS[line]: level for line, level in changes.items() if line in LAMPS})


class Esp32Board(VirtualBoard):
    """See VirtualBoard; devices and spi_devices as for a Pico: select pins are lines of the plant."""

    machine, kind = "Generic ESP32 module with ESP32", "esp32"

    def _wired(self, plant: Any, devices: dict[int, Any], spi_devices: dict[int, Any],
               ) -> tuple[Any, dict[int, Any], dict[int, Any]]:
        wires = Wires(plant)
        self.expander = wires.expander
        selects = {line: pin for pin, line in DIRECT.items()}
        return (wires, {**devices, mcp23017.ADDRESS: wires.expander},
                {selects[line]: chip for line, chip in spi_devices.items()})

    def uart_send(self, data: bytes, port: int = LINK_PORT, at_us: int | None = None) -> None:
        """See VirtualBoard."""
        super().uart_send(data, port, at_us)

    def power_on(self, cause: int = 1) -> None:
        """The expander's reset line hangs on the module's: it starts anew with it."""
        super().power_on(cause)
        self.expander.reset()
        for channel in self.queues.values():
            channel.turn(0, self.now_us)

    def _apply(self, out: list[Any]) -> None:
        for i in range(0, len(out), 3):
            if out[i] == 0:
                self._pin(out[i + 1], out[i + 2])
        super()._apply(out)

    def _pin(self, pin: int, level: int) -> None:
        if pin in DIR:
            self._channel(DIR.index(pin)).turn(level, self.now_us)
        elif pin in STEP:  # a pin that is set by hand has left its channel
            self._channel(STEP.index(pin)).clear(self.now_us)

    def _channel(self, number: int) -> RmtChannel:
        channel = self.queues.get(number)
        if channel is None:
            channel = self.queues[number] = RmtChannel()
        assert isinstance(channel, RmtChannel)
        return channel

    def _machine_op(self, op: int, number: int, value: Any) -> None:
        channel = self._channel(number)
        if op == 10:
            levels, durations = value
            channel.train(levels, durations, self.now_us)
        elif value is None:
            channel.clear(self.now_us)
        else:
            pin, divider = value
            assert pin == STEP[number], f"channel {number} is on GPIO {pin}"
            channel.open(divider, self.now_us)
