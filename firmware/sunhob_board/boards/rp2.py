"""What the boards with an RP2040 or RP2350 share: pulses made by PIO, the pins of one foot print.

No units. Both boards have the same pins in the same places, so one table of pins serves both.
"""

from .common import CommonBoard


class Rp2Board(CommonBoard):
    """Drives on two state machines of PIO 0."""

    def _stepper(self, n, step_pin, dir_pin, back):
        from ..drivers.stepper_pio import StepperPio

        return StepperPio(n - 1, step_pin, dir_pin, back)
