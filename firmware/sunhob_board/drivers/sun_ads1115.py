"""Coarse sun-direction sensor and supply divider on a second ADS1115 converter.

Units: W/m2 along the base's east, north and up; V; counts of 125 uV.
Inputs: 0 the pair east-west, 1 the pair north-south, 2 a diode that looks up, 3 the supply through a divider.
The two photodiodes of a pair lean 30 deg from the upright, one to each side, wired against each other about
half of 3.3 V: so a pair tells the horizontal part of the beam, and the light of the open sky, which falls on
both alike, falls out. It also needs a sun that lights both: above 30 deg.
"""

from .ads1115 import Converter

ADDRESS = 0x49
_FULL = 26_400  # counts in 3.3 V
_HALF = 13_200


class SunAndSupply(Converter):
    """counts: the four inputs, -1 before the first conversion."""

    def __init__(self, i2c):
        Converter.__init__(self, i2c, ADDRESS)
        self.counts = [-1, -1, -1, -1]
        self._next = 0

    def which(self):
        return self._next

    def take(self, counts):
        self.counts[self._next] = counts
        self._next = (self._next + 1) % 4

    def lose(self):
        for i in range(4):
            self.counts[i] = -1

    @property
    def ready(self):
        """Whether every input has been read since the chip last answered."""
        return min(self.counts) >= 0

    def look(self, full_w_m2, out):
        """Fill out with the light along the base's east, north and up [W/m2]; full_w_m2: at full scale."""
        out[0] = (self.counts[0] - _HALF) * full_w_m2 / _HALF
        out[1] = (self.counts[1] - _HALF) * full_w_m2 / _HALF
        out[2] = self.counts[2] * full_w_m2 / _FULL

    def supply_v(self, ratio):
        """The supply [V]; ratio: its volts for each at the input."""
        return self.counts[3] * 0.000125 * ratio
