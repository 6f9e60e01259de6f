"""Reader of the sun table. Units: days since 2000-01-01 UTC, ms of day, integer micro-degrees (udeg).

File, little endian: magic "SUNT", format u16, step in days u16, day of row 0 i32, rows u32, CRC-32 of all
the rest u32; then per row, at 0 h UTC, two i32: the sun's apparent declination, and its Greenwich hour angle
less 15 deg per hour of UT. One row before the first valid day and two after the last serve the interpolation.
"""

import binascii
import struct

MAGIC = b"SUNT"
FORMAT = 1
HEADER = "<4sHHiII"
HEADER_BYTES = 20
CRC_AT = 16
ROW = "<ii"
ROW_BYTES = 8
MOST_STEP_DAYS = 4  # longer steps would leave the range of small ints below
TURN_UDEG = 360000000
HALF_TURN_UDEG = 180000000
DAY_MS = 86400000
HOUR_MS = 3600000


class TableError(Exception):
    """args: code ('missing', 'short', 'corrupt', 'early' or 'expired'), text for people."""


def fold_udeg(angle):
    """The same angle in (-180e6, 180e6] udeg."""
    while angle > HALF_TURN_UDEG:
        angle -= TURN_UDEG
    while angle <= -HALF_TURN_UDEG:
        angle += TURN_UDEG
    return angle


def table_crc(data):
    """CRC-32 of header before the CRC and of the rows after it."""
    crc = binascii.crc32(data[:CRC_AT])
    return binascii.crc32(memoryview(data)[HEADER_BYTES:], crc) & 0xFFFFFFFF


def _between(before, here, after, later, k, steps):
    """Cubic through four rows, k hours of `steps` after `here`. Gauss's form; every product < 2**30."""
    d1 = after - here
    d2 = d1 - (here - before)
    d3 = (later - after - d1) - d2
    bend = k * (steps - k)
    twist = bend * d3 // steps * (k + steps) // (6 * steps * steps)
    return here + k * d1 // steps - bend // 2 * d2 // (steps * steps) - twist


class SunTable:
    """The table; at(day, ms) fills dec_udeg and gha_udeg (Greenwich hour angle, west +, folded)."""

    def __init__(self, data):
        if not data:
            raise TableError("missing", "no sun table on the board; write one with `sunhob board install`")
        if len(data) < HEADER_BYTES:
            raise TableError("short", "sun table: %d bytes, less than its header" % len(data))
        magic, form, step, row0, rows, crc = struct.unpack_from(HEADER, data, 0)
        if magic != MAGIC or form != FORMAT:
            raise TableError("corrupt", "sun table: not a sun table of format %d" % FORMAT)
        want = HEADER_BYTES + ROW_BYTES * rows
        if len(data) < want:
            raise TableError("short", "sun table: %d bytes of %d" % (len(data), want))
        if len(data) > want or rows < 4 or not 1 <= step <= MOST_STEP_DAYS or table_crc(data) != crc:
            raise TableError("corrupt", "sun table: its check sum does not match; build and install it again")
        self._data = data
        self.step_days = step
        self.rows = rows
        self._row0 = row0
        self.first_day = row0 + step
        self.last_day = row0 + step * (rows - 2) - 1
        self._hour = -(1 << 29)
        self._dec = self._dec_rate = self._lead = self._lead_rate = 0
        self.dec_udeg = 0
        self.gha_udeg = 0

    def buffers(self):
        """What it holds in memory, for the self-check."""
        return (self._data,)

    def check(self, day):
        """Refuse a day (since 2000-01-01) the table does not hold."""
        if day < self.first_day:
            raise TableError("early", "sun table begins on day %d, today is day %d" % (self.first_day, day))
        if day > self.last_day:
            raise TableError("expired", "sun table ended on day %d, today is day %d" % (self.last_day, day))

    def at(self, day, ms):
        """Declination and Greenwich hour angle at (day since 2000-01-01, ms of day), in udeg."""
        if not 0 <= ms < DAY_MS:
            day += ms // DAY_MS
            ms %= DAY_MS
        hour = ms // HOUR_MS
        if day * 24 + hour != self._hour:
            self._load_hour(day, hour)
        tenths = (ms - hour * HOUR_MS) // 100
        self.dec_udeg = self._dec + self._dec_rate * tenths // 36000
        # 360 deg in 86 400 000 ms is 25 udeg in 6 ms
        turned = ms // 6 * 25 + ms % 6 * 25 // 6
        self.gha_udeg = fold_udeg(self._lead + self._lead_rate * tenths // 36000 + turned)

    def _load_hour(self, day, hour):
        """Values at the beginning of this hour, and what they change by in it."""
        self.check(day)
        back = day - self._row0
        row = back // self.step_days
        k = (back - row * self.step_days) * 24 + hour
        steps = self.step_days * 24
        at = HEADER_BYTES + (row - 1) * ROW_BYTES
        d0, g0, d1, g1, d2, g2, d3, g3 = struct.unpack_from("<8i", self._data, at)
        self._dec = _between(d0, d1, d2, d3, k, steps)
        self._dec_rate = _between(d0, d1, d2, d3, k + 1, steps) - self._dec
        self._lead = _between(g0, g1, g2, g3, k, steps)
        self._lead_rate = _between(g0, g1, g2, g3, k + 1, steps) - self._lead
        self._hour = day * 24 + hour
