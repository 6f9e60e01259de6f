"""The sun to a few hundredths of a degree with no table: enough to leave by, never to come by.

Units: days since 2000-01-01, ms of day, integer micro-degrees. Formulas of the Astronomical Almanac, section
C, "low precision formulas for the Sun's coordinates" (0.01 deg, 1950 to 2050); single floats add 0.003 deg.
"""

import math

from sunhob_board.sun.table import DAY_MS, fold_udeg

_RAD = math.pi / 180.0


class RoughSun:
    """at(day, ms) fills dec_udeg and gha_udeg as SunTable does, for any day."""

    first_day, last_day = 0, 1 << 28

    def __init__(self):
        self.dec_udeg = 0
        self.gha_udeg = 0

    def at(self, day, ms):
        """Declination and Greenwich hour angle at (day since 2000-01-01, ms of day), in udeg."""
        day += ms // DAY_MS
        ms %= DAY_MS
        n = day - 0.5 + ms / DAY_MS
        mean = (280.460 + 0.9856474 * n) % 360.0
        g = (357.528 + 0.9856003 * n) * _RAD
        long = (mean + 1.915 * math.sin(g) + 0.020 * math.sin(2.0 * g)) * _RAD
        lean = 23.439 * _RAD
        self.dec_udeg = int(math.asin(math.sin(lean) * math.sin(long)) / _RAD * 1000000.0)
        right = math.atan2(math.cos(lean) * math.sin(long), math.cos(long)) / _RAD
        early = int((mean - right) * 1000000.0)
        self.gha_udeg = fold_udeg(ms // 6 * 25 - 180000000 + early)
