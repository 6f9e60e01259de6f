"""ESP32 module with 4 MB of flash: every pin in one table, slow keys and lamps on a port expander.

Numbers are GPIO numbers, in EXPANDER lines of the expander (0..7 GPA0..7, 8..15 GPB0..7). Not used: what the
chip reads at reset (0, 2, 5, 12, 15), its flash (6..11), its console (1, 3). 34..39 only read and have no
pull-ups. Modules with PSRAM keep 16 and 17 for it: these then have neither the second pulse line nor the
link on pins of its own, only the one through USB.
"""

import machine

from ..core.panel import BLIND
from ..drivers.expander_mcp23017 import Expander, Line
from .common import CommonBoard

PINS = {
    "uart_tx": 17, "uart_rx": 35,
    "step1": 25, "dir1": 26, "step2": 13, "dir2": 14, "motor_enable": 27,
    "buzzer": 4, "leave": 32, "stop_chain": 36, "pulse1": 33, "pulse2": 16,
    "i2c_sda": 21, "i2c_scl": 22, "expander_int": 39,
    "spi_miso": 34, "spi_sck": 18, "select_contents": 19, "select_underside": 23,
}
EXPANDER = {
    "aside": 0, "arm": 1, "confirm": 2, "pot": 3, "home1": 4, "home2": 5,
    "lamp_hands_in": 8, "lamp_armed": 9, "lamp_fault": 10,
}
OUTSIDE = {
    "stop_chain": "4.7 kOhm from the pin to ground", "uart_rx": "10 kOhm from the pin to 3.3 V",
}


class Board(CommonBoard):
    """See common.CommonBoard."""

    NAME = "esp32"
    PINS = PINS
    OUTSIDE = OUTSIDE
    TIMER = 0
    LINK = 2
    BURST = 240  # the console's own buffer is 128 bytes, and what exceeds it is waited for

    def _wired(self):
        self.expander = Expander(self.i2c)
        self.expander.read()
        line = machine.Pin(PINS["expander_int"], machine.Pin.IN)
        line.irq(handler=self._edge, trigger=machine.Pin.IRQ_FALLING)

    def _output(self, name):  # pyright: ignore[reportIncompatibleMethodOverride]
        if name in EXPANDER:
            return Line(self.expander, EXPANDER[name])
        return CommonBoard._output(self, name)

    def _line(self, name, level):  # pyright: ignore[reportIncompatibleMethodOverride]
        if name in EXPANDER:
            return self._output(name)
        return CommonBoard._line(self, name, level)

    def read_inputs(self):
        blind = 0 if self.expander.read() else BLIND
        return CommonBoard.read_inputs(self) | blind

    def _stepper(self, n, step_pin, dir_pin, back):
        from ..drivers.stepper_rmt import StepperRmt

        return StepperRmt(n - 1, n, step_pin, dir_pin, back)
