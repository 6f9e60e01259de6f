"""One ADS1115 converter over I2C: single conversions of its inputs against ground, one after the other.

Units: counts of 125 uV (26400 in 3.3 V), ms. Registers as in the data sheet (TI SBAS444, config register):
+-4.096 V, 128 samples a second.
"""

_CONVERSION, _CONFIG = 0, 1
_START = 0x8000 | 0x0200 | 0x0100 | 0x0080 | 0x0003  # begin, +-4.096 V, single, 128 a second, no comparator
_MUX_GROUND = 4  # input n against ground is 4 + n
_READY = 0x80
_CONVERT_MS = 9
_SURE_MS = 50  # no need to ask whether it is done; its clock is good to 10 %
LOST_MS = 500


class Converter:
    """silent_ms: how long the chip has given nothing (0 while it is well).

    A kind of its own says which input is next (which()), takes what came of it (take(counts)), and forgets
    what it knew once the chip has been silent for LOST_MS (lose()).
    """

    def __init__(self, i2c, address):
        self.i2c = i2c
        self.silent_ms = 0
        self._address = address
        self._waits_ms = -1
        self._buf = bytearray(2)

    def tick(self, dt_ms):
        """Take a finished conversion and begin the next: at most three short transfers, never raises."""
        if self._waits_ms >= 0:
            self._waits_ms += dt_ms
            if self._waits_ms < _CONVERT_MS:
                return
        try:
            if self._waits_ms >= _SURE_MS or (
                    self._waits_ms >= 0 and self.i2c.readfrom_mem(self._address, _CONFIG, 2)[0] & _READY):
                raw = self.i2c.readfrom_mem(self._address, _CONVERSION, 2)
                value = raw[0] << 8 | raw[1]
                self._waits_ms = -1
                self.silent_ms = 0
                self.take(0 if value & 0x8000 else value)  # below ground by noise
            if self._waits_ms < 0 or self._waits_ms > LOST_MS:
                word = _START | (_MUX_GROUND + self.which()) << 12
                self._buf[0], self._buf[1] = word >> 8, word & 0xFF
                self.i2c.writeto_mem(self._address, _CONFIG, self._buf)
                self._waits_ms = 0
        except OSError:
            self._waits_ms = -1
            self.silent_ms += dt_ms
            if self.silent_ms > LOST_MS:
                self.lose()

    def which(self):
        """Number of the input to convert next."""
        raise NotImplementedError

    def take(self, counts):
        """A conversion of the input that which() told last is done."""
        raise NotImplementedError

    def lose(self):
        """The chip is silent: what was measured is worth nothing."""
        raise NotImplementedError
