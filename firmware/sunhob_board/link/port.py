"""The serial port of the link: lines in and lines out, both bounded, never waiting.

Units: bytes, ms, baud (10 bits to a byte). Ticks wrap as in core/ticks.py.
Nobody need read what the board writes: when the queue is full the oldest telemetry goes first, then the
oldest event, then the oldest reply. A line once begun is always finished.
"""

from ..core import ticks
from . import frame

TELEMETRY = 0
EVENT = 1
REPLY = 2
MAX_LINES = 24
MAX_BYTES = 6144
_CHUNK = 64
_READ_PER_POLL = 1024


class Port:
    """uart: any(), readinto(buffer, count), write(bytes) -> count or None.

    burst: bytes given to the port at once after a pause; keep it below the port's own send buffer, so that
    write() never waits. overlong: lines thrown away as too long; dropped: lines of ours without room.
    """

    def __init__(self, uart, baud=115_200, burst=1000):
        self.uart = uart
        self.bytes_s = baud // 10
        self.burst = burst
        self.overlong = 0
        self.dropped = 0
        self.queued_bytes = 0
        self._queue = []
        self._now = None
        self._at = 0
        self._budget = burst
        self._chunk = bytearray(_CHUNK)
        self._next = 0
        self._have = 0
        self._line = bytearray(frame.MAX_IN)
        self._len = 0
        self._len_done = 0
        self._skip = False
        self._last_ms = None

    @property
    def busy(self):
        """Whether something still waits to be sent."""
        return self._now is not None or bool(self._queue)

    @property
    def heard(self):
        """Whether bytes wait to be read."""
        return self._next < self._have or bool(self.uart.any())

    def poll(self, now_ms):
        """Send what the line can take by now; the next whole line in (bytes, no line feed), or None."""
        self.flush(now_ms)
        left = _READ_PER_POLL
        while True:
            if self._next >= self._have:
                count = min(self.uart.any() or 0, _CHUNK)
                if count <= 0 or left <= 0:
                    return None
                self._have = self.uart.readinto(self._chunk, count) or 0
                self._next = 0
                left -= _CHUNK
                if self._have <= 0:
                    return None
            end = self._chunk.find(b"\n", self._next, self._have)
            self._take(end if end >= 0 else self._have)
            if end >= 0:
                self._next += 1
                if self._ended():
                    return bytes(memoryview(self._line)[:self._len_done])

    def _take(self, to):
        """What was read up to there belongs to the line: in one piece, byte by byte is long for a tick."""
        size = min(to - self._next, frame.MAX_IN - self._len)
        self._line[self._len:self._len + size] = memoryview(self._chunk)[self._next:self._next + size]
        self._skip = self._skip or self._next + size < to
        self._len += size
        self._next = to

    def _ended(self):
        """Close the line at a line feed; True if it is one to hand on."""
        self._len_done = self._len
        skipped = self._skip
        self._len = 0
        self._skip = False
        if skipped:
            self.overlong += 1
            return False
        return self._len_done > 0

    def send_reply(self, line):
        """Queue a framed reply."""
        self._push(REPLY, line)

    def send_event(self, params):
        """Queue the notification `event`."""
        self._push(EVENT, frame.notification("event", params))

    def send_telemetry(self, params):
        """Queue the notification `telemetry`; the first to be dropped."""
        self._push(TELEMETRY, frame.notification("telemetry", params))

    def _push(self, kind, line):
        while self._queue and (
                len(self._queue) >= MAX_LINES or self.queued_bytes + len(line) > MAX_BYTES):
            self._drop()
        self._queue.append((kind, line))
        self.queued_bytes += len(line)
        if self._last_ms is not None:
            self.flush(self._last_ms)

    def _drop(self):
        worst = 0
        for i in range(len(self._queue)):
            if self._queue[i][0] < self._queue[worst][0]:
                worst = i
        self.queued_bytes -= len(self._queue.pop(worst)[1])
        self.dropped += 1

    def flush(self, now_ms):
        """Hand the port at most what it has had time to send since the last call."""
        if self._last_ms is not None:
            passed = min(1000, max(0, ticks.diff(now_ms, self._last_ms)))
            self._budget = min(self.burst, self._budget + passed * self.bytes_s // 1000)
        self._last_ms = now_ms
        while self._budget > 0:
            if self._now is None:
                if not self._queue:
                    return
                self._now = self._queue.pop(0)[1]
                self.queued_bytes -= len(self._now)
                self._at = 0
            piece = memoryview(self._now)[self._at:self._at + self._budget]
            sent = self.uart.write(piece) or 0
            if sent <= 0:
                return
            self._budget -= sent
            self._at += sent
            if self._at >= len(self._now):
                self._now = None
