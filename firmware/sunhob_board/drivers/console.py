"""The board's console (its USB socket) as a port of the link, and two ports as one.

Units: bytes. The console can tell that it takes some more, not how much: it is fed in pieces of one size,
padded with line feeds where a line ends, so that what the port has free is always a whole number of pieces
and no write waits for a host that does not read. Blank lines mean nothing on the link.
"""

import select
import sys

_PIECE = 16  # a USB packet of 64 bytes, and the port's memory, hold a whole number of these
_HELD = 64


class Console:
    """any(), readinto(buffer, count), write(bytes): see link.port.Port."""

    def __init__(self, source=None, sink=None):
        self._in = source or sys.stdin.buffer
        self._out = sink or sys.stdout.buffer
        self._poll_in = select.poll()
        self._poll_in.register(self._in, select.POLLIN)
        self._poll_out = select.poll()
        self._poll_out.register(self._out, select.POLLOUT)
        self._held = bytearray(_HELD)
        self._one = bytearray(1)
        self._piece = bytearray(_PIECE)
        self._next = self._have = 0

    def any(self):
        """Bytes at hand, at most 64; takes them out of the port."""
        if self._next >= self._have:
            self._next = self._have = 0
            while self._have < _HELD and self._poll_in.poll(0):
                if not self._in.readinto(self._one):
                    break
                self._held[self._have] = self._one[0]
                self._have += 1
        return self._have - self._next

    def readinto(self, buf, count):
        """Hand over up to `count` bytes that any() has told of."""
        count = min(count, self._have - self._next)
        for i in range(count):
            buf[i] = self._held[self._next + i]
        self._next += count
        return count

    def write(self, data):
        """Bytes taken: whole pieces while the port has room; the last one is filled up."""
        sent = 0
        while sent < len(data) and self._poll_out.poll(0):
            part = data[sent : sent + _PIECE]
            if len(part) < _PIECE and part[len(part) - 1] != 10:
                break  # the middle of a line: it goes with more of it
            for i in range(_PIECE):
                self._piece[i] = part[i] if i < len(part) else 10
            self._out.write(self._piece)
            sent += len(part)
        return sent


class Doors:
    """Two ports as one: hears both, answers on the one that spoke last."""

    def __init__(self, first, second):
        self._ports = (first, second)
        self._last = 0

    def any(self):
        for i in (self._last, 1 - self._last):
            count = self._ports[i].any()
            if count:
                self._last = i
                return count
        return 0

    def readinto(self, buf, count):
        return self._ports[self._last].readinto(buf, count)

    def write(self, data):
        return self._ports[self._last].write(data)
