"""Coarse sun-direction sensor and supply divider on a second ADS1115 converter over I2C.

Units: W/m2 along the base's east, north and up; V; ms. Registers as in the data sheet (TI SBAS444), as in
light_ads1115.py: single conversions of one input against ground, a count is 125 uV.
Inputs: 0 the pair east-west, 1 the pair north-south, 2 a diode that looks up, 3 the supply through a divider.
The two photodiodes of a pair lean 30 deg from the upright, one to each side, wired against each other about
half of 3.3 V: so a pair tells the horizontal part of the beam, and the light of the open sky, which falls on
both alike, falls out. It also needs a sun that lights both: above 30 deg.
"""

ADDRESS = 0x49
_CONVERSION, _CONFIG = 0, 1
_START = 0x8000 | 0x4000 | 0x0200 | 0x0100 | 0x0080 | 0x0003  # begin, input 0 to ground, +-4.096 V, 128 a s
_READY = 0x80
_CONVERT_MS = 9
_FULL = 26_400  # counts in 3.3 V
_HALF = 13_200
_LOST_MS = 500


class SunAndSupply:
    """counts: the four inputs, -1 before the first conversion. silent_ms: 0 while the chip is well."""

    def __init__(self, i2c):
        self.i2c = i2c
        self.counts = [-1, -1, -1, -1]
        self.silent_ms = 0
        self._next = 0
        self._waits_ms = -1
        self._buf = bytearray(2)

    def tick(self, dt_ms):
        """Take a finished conversion and begin the next: at most three short transfers, never raises."""
        if self._waits_ms >= 0:
            self._waits_ms += dt_ms
            if self._waits_ms < _CONVERT_MS:
                return
        try:
            if self._waits_ms >= 0 and self.i2c.readfrom_mem(ADDRESS, _CONFIG, 2)[0] & _READY:
                raw = self.i2c.readfrom_mem(ADDRESS, _CONVERSION, 2)
                value = raw[0] << 8 | raw[1]
                self.counts[self._next] = 0 if value & 0x8000 else value
                self._next = (self._next + 1) % 4
                self._waits_ms = -1
                self.silent_ms = 0
            if self._waits_ms < 0 or self._waits_ms > _LOST_MS:
                word = _START | self._next << 12
                self._buf[0], self._buf[1] = word >> 8, word & 0xFF
                self.i2c.writeto_mem(ADDRESS, _CONFIG, self._buf)
                self._waits_ms = 0
        except OSError:
            self._waits_ms = -1
            self.silent_ms += dt_ms
            if self.silent_ms > _LOST_MS:
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
