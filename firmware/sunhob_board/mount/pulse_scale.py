"""How the counts of a pulse sensor go with the reading of an axis. Units: micro-degrees, counts, metres.

A count is one edge on a pulse line: 2 to a pulse on one line, 4 on two. Counts grow with the reading, so a
drive's forward is upward whatever its rod does. Both ways are exact to far less than a count, in single
floats too, and rise all the way; beyond the triangle's useful angles they go on straight.
"""

import math

_RAD = math.pi / 180000000.0
_TURN = 360000000.0
DEAD_DEG = 5.0  # nearer than this to a stretched or folded triangle an actuator has no lever


class Gear:
    """A motor that turns the axis through a gear."""

    def __init__(self, counts_per_turn):
        self._per_udeg = counts_per_turn / _TURN

    def counts(self, udeg):
        """Counts [float] from reading 0 to a reading [udeg]."""
        return udeg * self._per_udeg

    def udeg(self, counts):
        """Reading [udeg] at so many counts from reading 0."""
        return int(counts / self._per_udeg)

    def steepest(self, low, high):
        """Most counts to a degree between two readings [udeg]."""
        return 1000000.0 * self._per_udeg


class Triangle:
    """An actuator between foot and head, each so far from the axis [m]: the law of cosines."""

    def __init__(self, foot, head, offset_deg, middle_deg, counts_per_m):
        self._sum = foot * foot + head * head
        self._two = 2.0 * foot * head
        self._per_m = counts_per_m
        turn = math.floor((offset_deg + middle_deg) / 180.0)
        self._offset = (offset_deg - 180.0 * turn) * 1000000.0  # the middle of its travel at 0 to 180 deg
        self._sign = 1.0
        if turn % 2:  # the other side of the foot: the rod draws in as the reading grows
            self._sign = -1.0
        self._zero = self._length(self._offset + middle_deg * 1000000.0)
        self._ends = []
        for angle in (DEAD_DEG * 1000000.0, (180.0 - DEAD_DEG) * 1000000.0):
            lever = 0.5 * self._two * math.sin(angle * _RAD) / self._length(angle)
            self._ends.append((angle, self._length(angle), lever))

    def _length(self, angle):
        # on the other side cosines change their sign: the sum of angles there is 180 to 360 deg
        return math.sqrt(self._sum - self._sign * self._two * math.cos(angle * _RAD))

    def counts(self, udeg):
        """Counts [float] from the middle of its travel to a reading [udeg]."""
        angle = self._offset + udeg
        low, high = self._ends
        if angle < low[0]:
            length = low[1] + self._sign * low[2] * (angle - low[0]) * _RAD
        elif angle > high[0]:
            length = high[1] + self._sign * high[2] * (angle - high[0]) * _RAD
        else:
            length = self._length(angle)
        return self._sign * (length - self._zero) * self._per_m

    def udeg(self, counts):
        """Reading [udeg] at so many counts from the middle of its travel."""
        length = self._zero + self._sign * counts / self._per_m
        low, high = self._ends
        if (length - low[1]) * self._sign < 0.0:
            angle = low[0] + (length - low[1]) / (self._sign * low[2]) / _RAD
        elif (length - high[1]) * self._sign > 0.0:
            angle = high[0] + (length - high[1]) / (self._sign * high[2]) / _RAD
        else:
            angle = math.acos(self._sign * (self._sum - length * length) / self._two) / _RAD
        return int(angle - self._offset)

    def steepest(self, low, high):
        """Most counts to a degree between two readings [udeg]."""
        most = 0.0
        for i in range(33):
            at = low + (high - low) // 32 * i
            most = max(most, self.counts(at + 500000) - self.counts(at - 500000))
        return most


def scale_of(s, name):
    """The scale of the axis whose settings begin with name, such as 'axis1_'."""
    edges = 2 * getattr(s, name + "channels")
    if getattr(s, name + "drive") == "motor":
        return Gear(edges * getattr(s, name + "pulses_per_turn"))
    middle_deg = 0.5 * (getattr(s, name + "low_deg") + getattr(s, name + "high_deg"))
    return Triangle(getattr(s, name + "foot_m"), getattr(s, name + "head_m"),
                    getattr(s, name + "triangle_deg"), middle_deg,
                    1000.0 * edges * getattr(s, name + "pulses_per_mm"))
