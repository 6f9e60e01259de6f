"""Where a dish rests that only its hour axis can turn: as far behind the sun as the travel allows.

Units: micro-degrees, radians inside, unit vectors east, north, up. With the season set by hand the pole is
out of reach. What is left is the eastern end of the travel, or midnight where the travel goes so far:
whenever the dish goes there, it goes behind the sun, and the sun only draws away until it sets.
The morning sun comes nearer than that; how near is judged as for any resting place, and asks for the cover.
"""

import math

from .park import POLE, Park

_TURN = 360000000
_OFF_END = 500000
_RAD = math.pi / 180000000.0


class HandPark(Park):
    """The end takes the place of the pole; there is no other."""

    words = ("eastern end",)

    def place(self):
        """Find the end, at start, when north is set and when the season is."""
        g = self.mount.geometry
        zero = int(self.s.axis1_zero_deg * 1000000)
        if self._latitude >= 0.0:
            one = max(g.low[0] + _OFF_END, -zero)
        else:
            one = min(g.high[0] - _OFF_END, _TURN - zero)
        two = self.mount.axes[1].position_udeg
        g.enu_from_axes(one, two, self._vec)
        self._places = [(one, two) + tuple(self._vec), None, None]
        self.pole[0], self.pole[1] = one, two
        self.day = -1
        self._take(POLE)
        return True

    def aside_aim(self, away_udeg, out):
        """Fill out with the aim so far behind the sun that the hour axis reaches; below the level if none."""
        sun = self.sun
        self.mount.enu(out)
        sun.dec_ha_from_enu(out[0], out[1], out[2], self._pair)
        a, b = self._pair[0] * _RAD, sun.dec_udeg * _RAD
        cos = (math.cos(away_udeg * _RAD) - math.sin(a) * math.sin(b)) / (math.cos(a) * math.cos(b))
        out[2] = -1.0
        if cos > -1.0:
            sun.enu_from_dec_ha(self._pair[0], sun.ha_udeg - int(math.acos(min(1.0, cos)) / _RAD), out)
