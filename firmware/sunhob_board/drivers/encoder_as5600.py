"""Magnetic encoder AS5600 over I2C: where axis 1 truly stands.

Units: micro-degrees, 0 to 360e6. Registers as in the data sheet (ams AS5600, register map): 0x0B status (bit
5: a magnet is seen), 0x0C and 0x0D raw angle, 4096 to a turn.
"""

ADDRESS = 0x36
_STATUS, _RAW = 0x0B, 0x0C
_MAGNET = 0x20


class Encoder:
    """read_udeg(): the angle of the magnet, or None where the chip is silent or sees none."""

    def __init__(self, i2c):
        self.i2c = i2c

    def read_udeg(self):
        try:
            raw = self.i2c.readfrom_mem(ADDRESS, _STATUS, 3)
        except OSError:
            return None
        if not raw[0] & _MAGNET:
            return None
        return ((raw[1] & 0x0F) << 8 | raw[2]) * 703_125 // 8
