"""Where the axes were, kept in the clock chip's battery RAM so that a restart knows.

Units: axis angles in micro-degrees. Record: magic, flags, axis 1, axis 2, sum; 12 bytes.
"""

import struct

_MAGIC = 0x5B
_SIZE = 12
MOVING = 1
ON_SUN = 2
ARMED_BY_COOK = 4


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
