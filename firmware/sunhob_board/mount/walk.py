"""Walks along a way before the mount does: where it will stand, at moments chosen by the angle on the sky.

Units: axis readings in micro-degrees, ms, radians on the sky. Each stride is so long that the aim cannot go
farther than it is told to be free, but never shorter than a least stride that grows with the distance from
the sun; where that is all it has, axis 1 turns no more than 8 deg in it. Ends of legs are always looked at.
"""

import math

from .profile import Profile

_RAD = math.pi / 180000000.0
_LEAST = 0.007  # 0.4 deg
_LEAST_SHARE = 0.025
_TURN = 0.14  # 8 deg
CORNER_MS = 100


class Walk:
    """start(), then next(): a1, a2 [udeg] and t [ms] say where and when."""

    def __init__(self, mount):
        self.mount = mount
        self._profiles = (Profile(), Profile())
        self._sign = [1, 1]
        self._speed = [0.0, 0.0]
        self._accel = [0.0, 0.0]
        self._at = [0, 0]
        self.a1 = self.a2 = self.t = 0

    def start(self, begin, way):
        """From the readings in begin along a list of corners."""
        self._at[0], self._at[1] = begin
        self._way = way
        self._n = 0
        self._start_ms = 0
        self._open()

    def _open(self):
        """Take up the next leg."""
        one, two = self.mount.axes
        b1, b2 = self._way[self._n]
        a1, a2 = self._at
        self._leg_ms = max(one.way_ms(a1, b1), two.way_ms(a2, b2))
        self._share = self.mount.permille(a1, a2, b1, b2)
        self._s = 0
        for i in range(2):
            axis, profile = self.mount.axes[i], self._profiles[i]
            away = (b1, b2)[i] - self._at[i]
            self._sign[i] = 1 if away >= 0 else -1
            profile.start(abs(axis.steps(away)), axis.speed, axis.accel)
            peak = min(axis.speed, axis.accel * profile.total_ms // 2000) * self._share[i] // 1000
            self._speed[i] = axis.udeg(peak) * _RAD + 1e-6  # rad/s
            self._accel[i] = axis.udeg(axis.accel) * _RAD
        self._reach(0)

    def _reach(self, s):
        self._s = s
        self.t = self._start_ms + s
        if s >= self._leg_ms:
            self.a1, self.a2 = self._way[self._n]
            return
        at = self._at
        one, two = self.mount.axes
        share = self._share
        self.a1 = at[0] + self._sign[0] * one.udeg(self._profiles[0].at(s * share[0] // 1000))
        self.a2 = at[1] + self._sign[1] * two.udeg(self._profiles[1].at(s * share[1] // 1000))

    def next(self, free, apart):
        """Go on by as much as `free` on the sky allows, `apart` from the sun [rad]; False at the end."""
        if self._s >= self._leg_ms:
            self._at[0], self._at[1] = self._way[self._n]
            self._start_ms += self._leg_ms + CORNER_MS
            self._n += 1
            if self._n >= len(self._way):
                return False
            self._open()
        least = _LEAST + _LEAST_SHARE * apart
        seconds = self._seconds(max(free, least))
        if free < least:
            seconds = min(seconds, _TURN / self._speed[0])
        self._reach(min(self._leg_ms, self._s + max(20, int(min(seconds, 100.0) * 1000))))
        return True

    def _seconds(self, stride):
        """The least time in which the aim can go so far [rad], at top speed or still gaining speed."""
        across = min(1.0, self.mount.geometry.across(self.a2) + min(1.0, stride))
        top = stride / (self._speed[0] * across + self._speed[1])
        s = 0.001 * self._s
        return max(top, math.sqrt(s * s + 2.0 * stride / (self._accel[0] * across + self._accel[1])) - s)
