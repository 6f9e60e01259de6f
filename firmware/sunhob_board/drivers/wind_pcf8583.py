"""Pulses of an anemometer, counted by a PCF8583 over I2C: no pin of the board, none lost while it sleeps.

Units: pulses. Registers as in the data sheet (NXP PCF8583 rev. 6, sections 7.2, 7.4 and 7.8): 0 control (bits
5 and 4: function mode, 10 counts events), 1 to 3 the count, six digits in BCD, lowest first.
"""

ADDRESS = 0x50
_CONTROL, _COUNT = 0, 1
_EVENTS = 0x20
_MODE = 0x30
_TURN = 1_000_000


def _plain(code):
    return (code >> 4) * 10 + (code & 15)


class WindCounter:
    """read(): pulses since the last call, or None where the chip is silent or was just set up."""

    def __init__(self, i2c):
        self.i2c = i2c
        self._last = -1

    def read(self):
        try:
            raw = self.i2c.readfrom_mem(ADDRESS, _CONTROL, 4)
            if raw[0] & _MODE != _EVENTS:
                self.i2c.writeto_mem(ADDRESS, _CONTROL, bytes((_EVENTS, 0, 0, 0)))
                self._last = 0
                return None
        except OSError:
            self._last = -1
            return None
        count = _plain(raw[1]) + 100 * _plain(raw[2]) + 10_000 * _plain(raw[3])
        new = (count - self._last) % _TURN if self._last >= 0 else None
        self._last = count
        return new
