"""Coarse sun-direction sensor and supply divider on a second ADS1115 converter over I2C.

Units: W/m2 to the dish's right (looking out along its axis), up from it and along it; V; ms; counts of 125
uV. Inputs: 0 the pair right-left, 1 the pair up-down, 2 a diode that looks along the dish axis, 3 the supply
through a divider. The two photodiodes of a pair lean 30 deg from that axis, one to each side, wired against
each other about half of 3.3 V: so a pair tells the part of the beam that falls across the axis, while the
sun lights both: up to 60 deg off.
"""

from .ads1115 import Converter

ADDRESS = 0x49
_FULL = 26_400  # counts in 3.3 V
_HALF = 13_200


class SunAndSupply(Converter):
    """counts: the inputs, -1 before the first conversion. rounds: how often all have been read. inputs: of
    four, the first so many."""

    def __init__(self, i2c, inputs=4):
        Converter.__init__(self, i2c, ADDRESS)
        self.inputs = inputs
        self.rounds = 0
        self.counts = [-1] * inputs
        self._before = [0] * inputs
        self._next = 0

    def which(self):
        return self._next

    def take(self, counts):
        last = self.counts[self._next]
        self._before[self._next] = last if last >= 0 else counts
        self.counts[self._next] = counts
        self._next = (self._next + 1) % self.inputs
        self.rounds += self._next == 0

    def lose(self):
        for i in range(self.inputs):
            self.counts[i] = -1

    @property
    def ready(self):
        """Whether every input has been read since the chip last answered."""
        return min(self.counts) >= 0

    def look(self, full_w_m2, out):
        """Fill out with the light to the right, up and along [W/m2]; full_w_m2: at full scale. At the end of
        a round: what was read earlier in it is carried on by as much as it changed since the round before,
        so that a dish that turns seems no other."""
        n = self.inputs
        for i in range(3):
            now = self.counts[i] + (self.counts[i] - self._before[i]) * (n - 1 - i) / n
            out[i] = now * full_w_m2 / _FULL if i == 2 else (now - _HALF) * full_w_m2 / _HALF

    def supply_v(self, ratio):
        """The supply [V]; ratio: its volts for each at the input."""
        return self.counts[3] * 0.000125 * ratio
