"""Light sensors on an ADS1115 converter over I2C: tube sensor on input 0, open cell on input 1.
Where its pin is wanted for something else, the heat knob is on input 2.

Units: counts 0..65535 of 3.3 V, ms. Registers as in the data sheet (TI SBAS444, config register): one
conversion at a time, +-4.096 V so that a count is 125 uV, 128 samples a second.
"""

ADDRESS = 0x48
_CONVERSION, _CONFIG = 0, 1
_START = 0x8000 | 0x0200 | 0x0100 | 0x0080 | 0x0003  # begin, +-4.096 V, single, 128 a second, no comparator
_MUX_GROUND = 4  # input n against ground is 4 + n
_READY = 0x80
_CONVERT_MS = 9
_FULL = 1_760  # 26400 counts of 125 uV in 3.3 V, and 65535, both over 15
_LOST_MS = 500
_RAIL = 3  # input 3 is wired to the 3.3 V rail: what it reads is known
_RAIL_EVERY = 16  # conversions
_COUNTS_A_MV = 8


class Level:
    """Reads like a converter pin: read_u16() gives the last conversion."""

    def __init__(self):
        self.u16 = 0

    def read_u16(self):
        return self.u16


class Light:
    """beam, open: the two inputs. silent_ms: how long the chip has given nothing (0 while it is well).
    rail_mv: what it makes of the 3.3 V rail [mV]."""

    def __init__(self, i2c):
        self.i2c = i2c
        self.beam, self.open = Level(), Level()
        self.silent_ms = 0
        self.rail_mv = 3300
        self._since_rail = 0
        self._inputs = (self.beam, self.open)
        self._next = 0
        self._waits_ms = -1
        self._buf = bytearray(2)

    def add_knob(self):
        """Read the heat knob too; gives its level."""
        knob = Level()
        self._inputs += (knob,)
        return knob

    def tick(self, dt_ms):
        """Take a finished conversion and begin the next: at most three short transfers, never raises."""
        if self._waits_ms >= 0:
            self._waits_ms += dt_ms
            if self._waits_ms < _CONVERT_MS:
                return
        try:
            if self._waits_ms >= 0:
                self._take()
            if self._waits_ms < 0 or self._waits_ms > _LOST_MS:
                self._begin()
        except OSError:
            self._waits_ms = -1
            self.silent_ms += dt_ms
            if self.silent_ms > _LOST_MS:
                self.beam.u16 = self.open.u16 = 0  # a dead sensor shows no sun

    def _take(self):
        if not self.i2c.readfrom_mem(ADDRESS, _CONFIG, 2)[0] & _READY:
            return
        raw = self.i2c.readfrom_mem(ADDRESS, _CONVERSION, 2)
        value = raw[0] << 8 | raw[1]
        if value & 0x8000:
            value = 0  # below ground by noise
        if self._since_rail >= _RAIL_EVERY:
            self.rail_mv = value // _COUNTS_A_MV
            self._since_rail = 0
        else:
            self._inputs[self._next].u16 = min(65535, value * 4369 // _FULL)
            self._next = (self._next + 1) % len(self._inputs)
            self._since_rail += 1
        self._waits_ms = -1
        self.silent_ms = 0

    def _begin(self):
        which = _RAIL if self._since_rail >= _RAIL_EVERY else self._next
        word = _START | (_MUX_GROUND + which) << 12
        self._buf[0], self._buf[1] = word >> 8, word & 0xFF
        self.i2c.writeto_mem(ADDRESS, _CONFIG, self._buf)
        self._waits_ms = 0
