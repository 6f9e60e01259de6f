"""Tilt from an LIS3DH accelerometer over I2C: one on the level base, one on the dish for its elevation.

Units: counts of 1/16 mg (+-2 g, high resolution, left-justified), micro-degrees. Registers as in the data
sheet (ST LIS3DH, register map) and the maker's lis3dh_reg.h: 0x0F who am I (0x33), 0x20 and 0x23 control,
0x28 on the axes.
"""

import math

BASE_ADDRESS = 0x18
DISH_ADDRESS = 0x19
_WHO, _IS = 0x0F, 0x33
_CTRL1, _CTRL4, _OUT = 0x20, 0x23, 0x28 | 0x80  # the top bit: go on to the next register
_RUN = b"\x57"  # 100 samples a second, all axes
_RANGE = b"\x88"  # +-2 g, high resolution, both bytes of one sample
_LEAST, _MOST = 12_800, 19_200  # 0.8 and 1.2 g: shaken or broken outside
_UDEG = 180_000_000 / math.pi


class Accelerometer:
    """x, y, z: last sample. read() gives True, or False where it is silent, shaken or another chip."""

    def __init__(self, i2c, address):
        self.i2c = i2c
        self.address = address
        self.x = self.y = self.z = 0
        self._set = False

    def read(self):
        try:
            if not self._set:
                if self.i2c.readfrom_mem(self.address, _WHO, 1)[0] != _IS:
                    return False
                self.i2c.writeto_mem(self.address, _CTRL1, _RUN)
                self.i2c.writeto_mem(self.address, _CTRL4, _RANGE)
                self._set = True
                return False  # its first sample is not there yet
            raw = self.i2c.readfrom_mem(self.address, _OUT, 6)
        except OSError:
            self._set = False
            return False
        self.x, self.y, self.z = self._word(raw, 0), self._word(raw, 2), self._word(raw, 4)
        size = math.sqrt(self.x * self.x + self.y * self.y + self.z * self.z)
        if size == 0:
            self._set = False  # it lost its settings
        return _LEAST < size < _MOST

    @staticmethod
    def _word(raw, i):
        value = raw[i + 1] << 8 | raw[i]
        return value - 65536 if value & 0x8000 else value


class AxisTilt:
    """Elevation of the dish: the chip's x runs along the dish axis, z up from it. read_udeg(): or None."""

    def __init__(self, i2c):
        self.chip = Accelerometer(i2c, DISH_ADDRESS)

    def read_udeg(self):
        return int(math.atan2(self.chip.x, self.chip.z) * _UDEG) if self.chip.read() else None


class BaseTilt:
    """Lean of the base: x to its east, y to its north, z up. read() fills east_udeg, north_udeg; or False."""

    def __init__(self, i2c):
        self.chip = Accelerometer(i2c, BASE_ADDRESS)
        self.east_udeg = self.north_udeg = 0

    def read(self):
        if not self.chip.read():
            return False
        self.east_udeg = int(math.atan2(self.chip.x, self.chip.z) * _UDEG)
        self.north_udeg = int(math.atan2(self.chip.y, self.chip.z) * _UDEG)
        return True
