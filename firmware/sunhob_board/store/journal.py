"""The last events, in a ring of fixed size: kept in RAM, saved as a slot while the mount rests.

Units: day = days since 2000-01-01 UTC, ms = milliseconds of that day; a and b as declared/events.py says.
Records are numbered from 0 for the life of the board; the number tells a reader what it missed.
"""

import array
import struct

_WIDTH = 5
_LOW = -0x80000000
_HIGH = 0x7FFFFFFF


def _fit(value):
    return max(_LOW, min(_HIGH, value))


class Journal:
    """size: records kept. total: records ever added. dirty: whether something is not saved yet."""

    def __init__(self, size=128):
        self.size = size
        self.total = 0
        self.dirty = False
        self._ring = array.array("i", [0] * (size * _WIDTH))

    def add(self, code, a, b, day, ms):
        """Keep one event; the oldest falls out once the ring is full."""
        ring = self._ring
        at = self.total % self.size * _WIDTH
        ring[at] = code
        ring[at + 1] = _fit(a)
        ring[at + 2] = _fit(b)
        ring[at + 3] = day
        ring[at + 4] = ms
        self.total += 1
        self.dirty = True

    @property
    def first(self):
        """Number of the oldest record still kept."""
        return max(0, self.total - self.size)

    def read(self, start, count):
        """Up to `count` records from number `start`: a list of [number, code, a, b, day, ms]."""
        start = max(start, self.first)
        out = []
        for number in range(start, min(start + count, self.total)):
            at = number % self.size * _WIDTH
            out.append([number] + list(self._ring[at:at + _WIDTH]))
        return out

    def save(self, slots, base="journal"):
        """True once saved; nothing is written if nothing is new."""
        if not self.dirty:
            return True
        if not slots.save(base, struct.pack("<II", self.total, self.size) + bytes(self._ring)):
            return False
        self.dirty = False
        return True

    def load(self, slots, base="journal"):
        """True if a journal of this size was found and taken; otherwise the ring stays as it is."""
        body = slots.load(base)
        if body is None or len(body) != 8 + self.size * _WIDTH * 4:
            return False
        total, size = struct.unpack("<II", body[:8])
        if size != self.size:
            return False
        self.total = total
        for i in range(size * _WIDTH):
            self._ring[i] = struct.unpack_from("<i", body, 8 + 4 * i)[0]
        self.dirty = False
        return True
