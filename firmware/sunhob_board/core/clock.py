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
# Both crystals are good to 30 ppm and the chip tells whole seconds: what lies beyond is a fault.
_RATE_PPM, _RATE_SLACK_MS = 400, 1_500
_RATE_ANEW_MS = 43_200_000


class Clock:
    """day, ms: the present; known: False until the chip or a person has said what time it is; was_set:
    whether a person or the host said it since the start, and not the chip alone.

    jumped_ms: 0, or the step between the clocks. rate_ppm: 0, or by how much the chip runs fast against the
    ticks, -1000000 where it stands still.
    """

    def __init__(self, rtc, jump_s):
        self.rtc = rtc
        self.jump_ms = int(jump_s * 1000)
        self.day = 0
        self.ms = 0
        self.known = False
        self.was_set = False
        self.jumped_ms = 0
        self.rate_ppm = 0
        self._ran_ms = self._slewed_ms = 0
        self._first_off = None
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
                self._check(self._since_check)
                self._since_check = 0
        return dt

    @property
    def aligning(self):
        return self._align_left > 0

    def set(self, day, ms):
        """A person or the host says what time it is; the chip is set with it."""
        self.day, self.ms = day, ms
        self.known = self.was_set = True
        self.jumped_ms = self.rate_ppm = 0
        self._align_left = 0
        self._since_check = 0
        self._first_off = None
        self.rtc.write(day, ms)

    def _align(self, dt):
        self._align_left -= dt
        got = self.rtc.read()
        if got is not None and got[1] != self._first_second:
            self.day, self.ms = got
            self._align_left = 0
        elif self._align_left <= 0 and got is not None:
            self.rate_ppm = -1_000_000

    def _check(self, passed_ms):
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
            return
        slew = 0
        if abs(off) > _SLEW_AT_MS:
            # The chip's crystal is the better one: follow it slowly, never by a jump.
            slew = off // 4
            self.ms += slew
        self._rate(passed_ms, off, slew)

    def _rate(self, passed_ms, off, slewed_ms):
        """The difference that has grown since the first look, what was followed added, against the time."""
        if self._first_off is None or self._ran_ms > _RATE_ANEW_MS:
            self._first_off = off - slewed_ms
            self._ran_ms = self._slewed_ms = 0
            return
        self._ran_ms += passed_ms
        grown = off - self._first_off + self._slewed_ms
        self._slewed_ms += slewed_ms
        if abs(grown) > _RATE_SLACK_MS + self._ran_ms // 1000 * _RATE_PPM // 1000:
            self.rate_ppm = grown * 1000 // (self._ran_ms // 1000)
