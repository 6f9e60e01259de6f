"""Where the axes were, kept in the clock chip's battery RAM so that a restart knows.

Units: axis angles in micro-degrees. Record: magic, flags, axis 1, axis 2, sum; 12 bytes.
"""

import struct

_MAGIC = 0x5B
_SIZE = 12
MOVING = 1
ON_SUN = 2
ARMED_BY_COOK = 4
_BOOTS_AT = 16  # in the battery RAM, after the place
_BOOTS_MAGIC = 0xB0
_STORM = 4  # starts
_WITHIN_MIN = 10
_STEADY_MS = 30_000


def _sum(buf):
    total = 0x5A
    for i in range(_SIZE - 2):
        total = (total * 31 + buf[i]) & 0xFFFF
    return total


class Place:
    """Reads once at start, writes while moving and at every change."""

    def __init__(self, rtc):
        self.rtc = rtc
        self.buf = bytearray(_SIZE)

    def read(self):
        """(axis1_udeg, axis2_udeg, flags), or None where the record is not whole."""
        raw = self.rtc.ram_read(0, _SIZE)
        if raw is None or len(raw) != _SIZE or raw[0] != _MAGIC:
            return None
        if struct.unpack_from("<H", raw, _SIZE - 2)[0] != _sum(raw):
            return None
        flags = raw[1]
        a1, a2 = struct.unpack_from("<ii", raw, 2)
        return a1, a2, flags

    def write(self, a1_udeg, a2_udeg, flags):
        struct.pack_into("<BBii", self.buf, 0, _MAGIC, flags, a1_udeg, a2_udeg)
        struct.pack_into("<H", self.buf, _SIZE - 2, _sum(self.buf))
        self.rtc.ram_write(0, self.buf)


class Boots:
    """Counts starts that follow each other closely: a supply that fails again and again must not have the
    motors begin a move at each start. minute: of now, since 2000."""

    def __init__(self, rtc, minute):
        self.count = 1
        self.steady_ms = 0
        raw = rtc.ram_read(_BOOTS_AT, 6)
        if raw is not None and len(raw) == 6 and raw[0] == _BOOTS_MAGIC:
            if abs(minute - struct.unpack_from("<i", raw, 2)[0]) <= _WITHIN_MIN:
                self.count = min(255, raw[1] + 1)
        rtc.ram_write(_BOOTS_AT, struct.pack("<BBi", _BOOTS_MAGIC, self.count, minute))

    def tick(self, dt_ms):
        """Whether it still waits for the supply to hold."""
        self.steady_ms = min(_STEADY_MS, self.steady_ms + dt_ms)
        return self.count >= _STORM and self.steady_ms < _STEADY_MS
