"""What the boards with an RP2040 or RP2350 share: pulses made by PIO, the pins of one foot print.

No units. Both boards have the same pins in the same places, so one table of pins serves both.
"""

from ..drivers.stepper_pio import StepperPio
from .common import CommonBoard


class Rp2Board(CommonBoard):
    """Drives on two state machines of PIO 0."""

    def drives(self, s):
        """The two axis drives, wired as PINS says."""
        pins = self.PINS
        return (
            StepperPio(0, pins["step1"], pins["dir1"], bool(s.axis1_reversed)),
            StepperPio(1, pins["step2"], pins["dir2"], bool(s.axis2_reversed)),
        )
