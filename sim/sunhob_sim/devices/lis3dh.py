"""LIS3DH accelerometer at register level. Units: g, us of bench time.

Registers and bits from the data sheet (ST LIS3DH, register map), held against the maker's driver
(STMicroelectronics/lis3dh-pid, lis3dh_reg.h) and Linux's drivers/iio/accel/st_accel_core.c: 0x0F who am I
(0x33), 0x20 CTRL_REG1 (data rate in the upper half, 0 is power-down; bit 3 low power; axes in bits 2 to 0),
0x23 CTRL_REG4 (bits 5 and 4 full scale 2, 4, 8, 16 g; bit 3 high resolution), 0x27 status, 0x28 to 0x2D the
axes, low byte first, left-justified; the top bit of a register's number makes it go on to the next. One
step of 12 bits is 1, 2, 4 or 12 mg by the full scale, one of 10 bits four times that, one of 8 bits sixteen
times (mechanical characteristics, sensitivity). At rest it tells +1 g along what points up.
"""

import random
from collections.abc import Callable, Sequence

BASE_ADDRESS, DISH_ADDRESS = 0x18, 0x19
_WHO, _IS = 0x0F, 0x33
_CTRL1, _CTRL4, _STATUS, _OUT = 0x20, 0x23, 0x27, 0x28
_STEP_G = (0.001, 0.002, 0.004, 0.012)  # of 12 bits, by full scale
_NOISE_G = 0.0022  # 220 ug per root hertz at 100 samples a second
_RATES_HZ = (0, 1, 10, 25, 50, 100, 200, 400, 1620, 5376)


class LIS3DH:
    """gravity: x, y, z [g] at a moment [us]; frozen: it tells the same sample for ever; bias_g: x and y [g]
    too much."""

    def __init__(self, gravity: Callable[[int], Sequence[float]], seed: int = 1) -> None:
        self.gravity = gravity
        self.silent = False
        self.frozen = False
        self.bias_g = 0.0
        self._at = {_CTRL1: 0x07, _CTRL4: 0x00}
        self._random = random.Random(seed)
        self._sample = bytes(6)
        self._taken_us = -1

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes from `reg` on, or over and over the one register; None: no answer."""
        if self.silent:
            return None
        self._measure(now_us)
        step = 1 if reg & 0x80 else 0
        return bytes(self._register((reg & 0x7F) + i * step) for i in range(n))

    def write(self, reg: int, data: bytes, _now_us: int) -> bool:
        """Control registers are kept."""
        if self.silent:
            return False
        for i, value in enumerate(data):
            self._at[(reg & 0x7F) + (i if reg & 0x80 else 0)] = value
        return True

    def _register(self, at: int) -> int:
        if at == _WHO:
            return _IS
        if _OUT <= at < _OUT + 6:
            return self._sample[at - _OUT]
        if at == _STATUS:
            return 0x0F if self._taken_us >= 0 else 0
        return self._at.get(at, 0)

    def _measure(self, now_us: int) -> None:
        rate = self._at[_CTRL1] >> 4
        if not rate or rate >= len(_RATES_HZ) or self.frozen:
            return
        if self._taken_us >= 0 and now_us - self._taken_us < 1_000_000 // _RATES_HZ[rate]:
            return
        self._taken_us = now_us
        bits = 8 if self._at[_CTRL1] & 8 else 12 if self._at[_CTRL4] & 8 else 10
        step_g = _STEP_G[self._at[_CTRL4] >> 4 & 3] * (1 << 12 - bits)
        words = []
        for k, g in enumerate(self.gravity(now_us)):
            top = 1 << bits - 1
            off = self.bias_g if k < 2 else 0.0
            whole = round((g + off + self._random.gauss(0.0, _NOISE_G)) / step_g)
            words.append((min(max(whole, -top), top - 1) << 16 - bits) & 0xFFFF)
        self._sample = b"".join(word.to_bytes(2, "little") for word in words)
