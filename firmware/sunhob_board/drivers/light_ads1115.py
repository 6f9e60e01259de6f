"""Light sensors on an ADS1115 converter: tube sensor on input 0, open cell on input 1.
Where its pin is wanted for something else, the heat knob is on input 2.

Units: counts 0..65535 of 3.3 V, mV, ms.
"""

from .ads1115 import Converter

ADDRESS = 0x48
_FULL = 1_760  # 26400 counts of 125 uV in 3.3 V, and 65535, both over 15
_RAIL = 3  # input 3 is wired to the 3.3 V rail: what it reads is known
_RAIL_EVERY = 16  # conversions
_COUNTS_A_MV = 8


class Level:
    """Reads like a converter pin: read_u16() gives the last conversion."""

    def __init__(self):
        self.u16 = 0

    def read_u16(self):
        return self.u16


class Light(Converter):
    """beam, open: the two inputs. rail_mv: what it makes of the 3.3 V rail [mV]."""

    def __init__(self, i2c):
        Converter.__init__(self, i2c, ADDRESS)
        self.beam, self.open = Level(), Level()
        self.rail_mv = 3300
        self._since_rail = 0
        self._inputs = (self.beam, self.open)
        self._next = 0

    def add_knob(self):
        """Read the heat knob too; gives its level."""
        knob = Level()
        self._inputs += (knob,)
        return knob

    def which(self):
        return _RAIL if self._since_rail >= _RAIL_EVERY else self._next

    def take(self, counts):
        if self._since_rail >= _RAIL_EVERY:
            self.rail_mv = counts // _COUNTS_A_MV
            self._since_rail = 0
        else:
            self._inputs[self._next].u16 = min(65535, counts * 4369 // _FULL)
            self._next = (self._next + 1) % len(self._inputs)
            self._since_rail += 1

    def lose(self):
        self.beam.u16 = self.open.u16 = 0  # a dead sensor shows no sun
