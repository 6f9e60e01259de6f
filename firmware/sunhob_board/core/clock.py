"""UTC on board: anchored on the real-time clock, carried by the ticks, each checked by the other.

Units: day = days since 2000-01-01 UTC, ms = milliseconds of that day.
The clock chip tells whole seconds only; for the first second after start it is read at every tick
until its second turns, which anchors the milliseconds.
"""

from . import ticks

DAY_MS = 86_400_000
_CHECK_MS = 60_000
_ALIGN_MS = 1_300
_SLEW_AT_MS = 1_500


class Clock:
    """day, ms: the present; known: False until the chip or a person has said what time it is; was_set:
    whether a person or the host said it since the start, and not the chip alone."""

    def __init__(self, rtc, jump_s):
        self.rtc = rtc
        self.jump_ms = int(jump_s * 1000)
        self.day = 0
        self.ms = 0
        self.known = False
        self.was_set = False
        self.jumped_ms = 0
        self._last = 0
        self._since_check = 0
        self._align_left = 0
        self._first_second = -1

    def start(self, now_ms):
        self._last = now_ms
        got = self.rtc.read()
        if got is None:
            return
        self.day, self.ms = got[0], got[1] + 500
        self._first_second = got[1]
        self._align_left = _ALIGN_MS
        self.known = True

    def tick(self, now_ms):
        """Carry the time on; returns the milliseconds passed since the last call."""
        dt = ticks.diff(now_ms, self._last)
        self._last = now_ms
        self.ms += dt
        while self.ms >= DAY_MS:
            self.ms -= DAY_MS
            self.day += 1
        if self._align_left > 0:
            self._align(dt)
        else:
            self._since_check += dt
            if self._since_check >= _CHECK_MS and self.known:
                self._since_check = 0
                self._check()
        return dt

    @property
    def aligning(self):
        return self._align_left > 0

    def set(self, day, ms):
        """A person or the host says what time it is; the chip is set with it."""
        self.day, self.ms = day, ms
        self.known = self.was_set = True
        self.jumped_ms = 0
        self._align_left = 0
        self._since_check = 0
        self.rtc.write(day, ms)

    def _align(self, dt):
        self._align_left -= dt
        got = self.rtc.read()
        if got is not None and got[1] != self._first_second:
            self.day, self.ms = got
            self._align_left = 0

    def _check(self):
        got = self.rtc.read()
        if got is None:
            self.known = False
            return
        if abs(got[0] - self.day) > 1:
            self.jumped_ms = self.jump_ms + DAY_MS
            return
        off = (got[0] - self.day) * DAY_MS + got[1] + 500 - self.ms
        if abs(off) > self.jump_ms:
            self.jumped_ms = off
        elif abs(off) > _SLEW_AT_MS:
            # The chip's crystal is the better one: follow it slowly, never by a jump.
            self.ms += off // 4
