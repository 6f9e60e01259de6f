"""Where the axes stand by the sun that is seen: both, or one of them with the other as counted.

Units: axis readings and angles in micro-degrees. Part of SunSight, whose state it works on.
"""

import math

from ..sun.table import fold_udeg
from .sight_light import COS_WELL, size_of

_TELLS = 0.3  # nearer to axis 1 its reading is not told to some degrees
_THIRD = 120_000_000  # of a turn
_ROOT_3 = 1.7320508
_UDEG = 180_000_000.0 / math.pi


class SightAxes:
    """Readings of the axes from the direction of the sun."""

    @property
    def axes(self):
        """Readings of both axes by it [udeg]; reckoned when they are asked for."""
        if self.across < 0.0:
            sun, here = self._sun, self.here
            self.across = self.mount.geometry.axes_seeing(
                sun.e, sun.n, sun.u, self._seen, here[0], here[1], self._axes)
        return self._axes

    def _sight_from(self, a1, a2):
        """Where the sun should be seen at these readings."""
        self.mount.geometry.seen_from_dish(self._sun.e, self._sun.n, self._sun.u, a1, a2, self._want)

    def _off(self):
        """Angle between where it should be seen and where it is [udeg]."""
        want, seen = self._want, self._seen
        return int(2.0 * math.asin(min(1.0, 0.5 * size_of([want[i] - seen[i] for i in range(3)]))) * _UDEG)

    def alone(self, k):
        """Reading of axis k + 1 [udeg], the other one standing as counted, at which the sun would be seen
        where it is; None where at none of its travel. One unknown is told far better than two. As the axis
        turns, the cosine between sun seen and expected is a sine curve, known from three points."""
        f, here = [], self.here
        want, seen = self._want, self._seen
        for i in range(3):
            self._turn_to(k, _THIRD * i)
            f.append(want[0] * seen[0] + want[1] * seen[1] + want[2] * seen[2])
        f0, f1, f2 = f
        self._turn_to(k, here[k])
        x, y = (2.0 * f0 - f1 - f2) / 3.0, (f1 - f2) / _ROOT_3
        top = math.atan2(y, x)
        at = self.mount.axes[k].clamp(here[k] + fold_udeg(int(top * _UDEG) - here[k]))
        best = (f0 + f1 + f2) / 3.0 + math.sqrt(x * x + y * y) * math.cos(at / _UDEG - top)
        return at if best > size_of(seen) * math.cos(self._most / _UDEG) else None

    def votes(self, k, at):
        """1 where with axis k + 1 at this reading [udeg], the other one as counted, the sun would be seen
        where it is, and not as well at its count; -1 where it is seen at its count, not there; else 0."""
        self._turn_to(k, at)
        off = self._off()
        self._turn_to(k, self.here[k])
        if 2 * off < self.apart_udeg and off <= self._most:
            return 1
        still = not self._moves and self._seen[2] > COS_WELL
        return -int(still and self.apart_udeg <= self._most and off > 2 * self._most)

    def nearer(self, k, by):
        """-by, 0 or by [udeg]: where axis k + 1, the other one as counted, agrees better with the sun."""
        here = self.here[k]
        best, to = self.apart_udeg - by // 3, 0
        for way in (-by, by):
            self._turn_to(k, here + way)
            off = self._off()
            if off < best:
                best, to = off, way
        self._turn_to(k, here)
        return to

    def _turn_to(self, k, at):
        """Where the sun should be seen with axis k + 1 there, the other one as counted."""
        here = self.here
        self._sight_from(here[0] if k else at, at if k else here[1])

    def tells(self, k):
        """Whether the sun it sees tells axis k + 1 well."""
        return self._seen[2] > COS_WELL and (k == 1 or (self.axes and self.across > _TELLS))
