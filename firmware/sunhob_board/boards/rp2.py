"""What the boards with an RP2040 or RP2350 share: pulses made by PIO, the pins of one foot print.

No units; numbers are GPIO numbers. Both boards have the same pins in the same places, so that one table of
pins serves both.
"""

import machine

from .common import OUTPUTS, CommonBoard

PINS = {
    "uart_tx": 0, "uart_rx": 1,
    "step1": 2, "dir1": 3, "step2": 4, "dir2": 5, "motor_enable": 6,
    "buzzer": 7, "lamp_hands_in": 19, "lamp_armed": 9, "lamp_fault": 10,
    "home1": 11, "home2": 12, "stop_chain": 13,
    "leave": 14, "aside": 15, "arm": 16, "confirm": 17, "pot": 18,
    "i2c_sda": 20, "i2c_scl": 21,
    "spi_miso": 8, "spi_sck": 26, "select_contents": 22, "select_underside": 27, "adc_knob": 28,
}


class Rp2Board(CommonBoard):
    """Drives on two state machines of PIO 0; the knob on the chip's converter unless its pin is spared."""

    SPARED = ("lamp_armed", "adc_knob")

    def _spared(self, name):  # pyright: ignore[reportIncompatibleMethodOverride]
        if name in OUTPUTS:
            self.outputs.pop(OUTPUTS.index(name))
        return PINS[name]

    def _knob(self, spare):  # pyright: ignore[reportIncompatibleMethodOverride]
        if "adc_knob" in spare:
            return machine.ADC(PINS["adc_knob"])
        return CommonBoard._knob(self, spare)

    @staticmethod
    def _listen(line, call):
        line.irq(handler=call, trigger=machine.Pin.IRQ_FALLING | machine.Pin.IRQ_RISING, hard=True)

    def _stepper(self, n, step_pin, dir_pin, back):
        from ..drivers.stepper_pio import StepperPio

        return StepperPio(n - 1, step_pin, dir_pin, back)
