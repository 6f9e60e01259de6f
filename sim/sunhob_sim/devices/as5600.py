"""AS5600 magnetic rotary sensor at register level. Units: degrees, us of bench time.

Registers and bits from the data sheet (ams AS5600, register map), those of the status held against Zephyr's
drivers/sensor/ams/ams_as5600/ams_as5600.c (MD 5, ML 4, MH 3): 0x00 to 0x08 configuration, 0x0B status
(bit 5 a magnet is seen, 4 it is too weak, 3 too strong), 0x0C and 0x0D the raw angle, 0x0E and 0x0F the
scaled one, 12 bits high byte first, 4096 to a turn; 0x1A gain. A read that begins at an angle's high byte
goes over those two bytes again and again (I2C modes, automatic increment).
"""

from collections.abc import Callable

ADDRESS = 0x36
_STATUS, _SEEN, _WEAK = 0x0B, 0x20, 0x10
_TURN = 4096


class AS5600:
    """angle: the true angle of the magnet [deg] at a moment [us]. magnet: False once it has come off;
    offset_deg: by how much it has turned on its shaft; frozen: it tells the same angle for ever."""

    def __init__(self, angle: Callable[[int], float]) -> None:
        self.angle = angle
        self.magnet = True
        self.silent = False
        self.frozen = False
        self.offset_deg = 0.0
        self._kept = bytearray(9)
        self._last = 0

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes from `reg` on; None: no answer."""
        if self.silent:
            return None
        if self.magnet and not self.frozen:
            grain = (now_us * 2_654_435_761 >> 9) % 3 - 1  # data sheet: output noise 0.04 deg
            told = (self.angle(now_us) + self.offset_deg) % 360.0
            self._last = (round(told * _TURN / 360.0) + grain) % _TURN
        page = bytearray(256)
        page[: len(self._kept)] = self._kept
        page[_STATUS] = _SEEN if self.magnet else _WEAK
        page[0x0C:0x0E] = page[0x0E:0x10] = self._last.to_bytes(2, "big")
        page[0x1A] = 0x60 if self.magnet else 0x80
        if reg in (0x0C, 0x0E):
            return (bytes(page[reg : reg + 2]) * (n // 2 + 1))[:n]
        return bytes(page[(reg + i) & 0xFF] for i in range(n))

    def write(self, reg: int, data: bytes, _now_us: int) -> bool:
        """Configuration is kept, and nothing here depends on it: no angle is programmed as the zero."""
        for i, value in enumerate(data):
            if reg + i < len(self._kept):
                self._kept[reg + i] = value
        return not self.silent
