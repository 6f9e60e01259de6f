"""Axis 2 of a polar mount whose season a cook sets by hand, and the aims that the hour axis alone can take.

Units: axis readings in micro-degrees. The reading of axis 2 is what the cook confirmed last; nothing here can
change it but the cook. A direction is met in hour angle, and missed by what the season is off.
"""

import math

from .geometry import Geometry

_RAD = math.pi / 180000000.0


class HandAxis:
    """What is asked of any Axis, from one that no motor turns."""

    homes = False
    measured = False
    placed = taken_up = True
    moving = at_limit = by_time = measured = False
    approach = fault = 0
    speed = accel = 1
    position_udeg = 0

    @property
    def home_udeg(self):
        return self.position_udeg

    low_udeg = high_udeg = target_udeg = home_udeg
    drive = None

    def set_position(self, udeg):
        """The cook has set it to this reading [udeg]."""
        self.position_udeg = udeg

    @staticmethod
    def steps(udeg):
        return udeg

    udeg = steps

    def clamp(self, udeg):
        return self.position_udeg

    def here_udeg(self, now_ms):
        return self.position_udeg

    @staticmethod
    def way_ms(start_udeg, end_udeg):
        return 0

    def move_to(self, udeg, speed_permille=1000):
        """It stays where it is, which is as near as it comes."""
        return True

    def rest(self, now_ms):
        """There is nothing to stop, to feed or to watch."""

    halt = tick = rest

    def stop(self):
        """There is nothing to stop."""


class HandGeometry(Geometry):
    """near[1] is the reading of axis 2 that the cook confirmed: all aims have it."""

    def axes_from_enu(self, e, n, u, out):
        """Fill out with the readings [udeg] nearest to a unit vector; False, out as it was, if the travel of
        axis 1 does not hold its hour angle."""
        two = (self.near[1] + self._zero[1]) * _RAD
        skew = math.atan2(math.sin(two) * self._sin_sq, math.cos(two))
        one = self.fold(self.axis1_of(e, n, u) - int(skew / _RAD), self.near[0])
        if one is None:
            return False
        out[0] = one
        out[1] = self.near[1]
        return True

    def admits(self, a1, a2):
        return self.low[0] <= a1 <= self.high[0] and a2 == self.near[1]
