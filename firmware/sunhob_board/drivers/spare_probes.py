"""Probes that govern nothing: of the air, and of pots on other cookers. All on the bus, no pin of the board.

Units: 0.001 degC. Air: a TMP102 (TI SBOS397, section 7.3.1: register 0, twelve bits of 1/16 degC from the
top), its address pin to SDA. Pots: thermocouple converters MCP9600 (Microchip DS20005426, section 5.1:
register 0 hot junction, sixteen bits of 1/16 degC; 4 status, bit 4 beyond its range; 0x20 its kind), the
first at 0x60.
"""

AIR_ADDRESS = 0x4A
POT_ADDRESS = 0x60
_HOT, _STATUS, _KIND = 0x00, 0x04, 0x20
_KINDS = (0x40, 0x41)
_BEYOND = 0x10


def _signed(raw):
    word = raw[0] << 8 | raw[1]
    return word - 0x10000 if word & 0x8000 else word


class SpareProbes:
    """air_mc; pots_mc: one for each; None where none is fitted or it says nothing to be believed."""

    def __init__(self, i2c, air, pots):
        self.i2c = i2c
        self.air_mc = None
        self.pots_mc = [None] * pots
        self._air = air
        self._next = -1 if air else 0

    def tick(self):
        """Read the next one of them; once a second is plenty."""
        k = self._next
        self._next = k + 1 if k + 1 < len(self.pots_mc) else (-1 if self._air else 0)
        try:
            if k < 0:
                self.air_mc = (_signed(self.i2c.readfrom_mem(AIR_ADDRESS, 0, 2)) >> 4) * 125 // 2
            else:
                self.pots_mc[k] = self._pot(POT_ADDRESS + k)
        except OSError:
            if k < 0:
                self.air_mc = None
            else:
                self.pots_mc[k] = None

    def _pot(self, at):
        read = self.i2c.readfrom_mem
        if read(at, _KIND, 2)[0] not in _KINDS or read(at, _STATUS, 1)[0] & _BEYOND:
            return None
        return _signed(read(at, _HOT, 2)) * 125 // 2
