"""The controls at the dish: debounced buttons and the heat knob. Units: ms, percent.

Input mask bits are set while the thing is so: button pressed, chain closed, pot seen, flag active.
What brings the dish to the sun counts when the button is let go, soon after it went down: a short circuit
is no wish (ISO 13849-1, 5.2.2, asks so of a reset: from memory). A button held for minutes is stuck: it
counts for nothing more until it has been let go. So does one that is down at the start. The knob counts once
it rests; one that turns to and fro faster than a hand is noisy and counts for nothing.
"""

LEAVE = 1
ASIDE = 2
ARM = 4
CONFIRM = 8
CHAIN = 16
POT = 32
HOME1 = 64
HOME2 = 128
BLIND = 256  # what carries the flags is silent
BUTTONS = LEAVE | ASIDE | ARM | CONFIRM

_DEBOUNCE_MS = 30
_KNOB_STEP = 2
_STUCK_MS = 120_000
_TAP_MS = 2_500
_REST_MS = 300
_NOISE_MS = 30_000
_TURNS = 8  # to and fro in that time
_BITS = (LEAVE, ASIDE, ARM, CONFIRM)


class Knob:
    """percent: where it rests; moved: it came to rest elsewhere at this tick; noisy: it is not heeded."""

    def __init__(self):
        self.percent = 0
        self.moved = False
        self.noisy = False
        self._at = -1
        self._rest_ms = 0
        self._way = 0
        self._turns = 0
        self._since_ms = 0

    def put(self, percent):
        """It stands there, and nobody has turned it."""
        self.percent = self._at = percent

    def tick(self, u16, dt_ms):
        """u16: -1 where it is not to be believed."""
        percent = (u16 * 100 + 32767) // 65535
        self.moved = False
        if u16 < 0:
            self.noisy = True
            self._since_ms = 0
            return
        self._since_ms += dt_ms
        if self._since_ms >= _NOISE_MS:
            self.noisy = self._turns >= _TURNS
            self._turns = self._since_ms = 0
        if self._at < 0:
            self._at = percent
        step = percent - self._at
        if abs(step) >= _KNOB_STEP:
            way = 1 if step > 0 else -1
            if way == -self._way:
                self._turns += 1
                self.noisy = self.noisy or self._turns >= _TURNS
            self._way = way
            self._at = percent
            self._rest_ms = 0
        elif self._rest_ms < _REST_MS:
            self._rest_ms += dt_ms
        if self._rest_ms >= _REST_MS and not self.noisy and abs(self._at - self.percent) >= _KNOB_STEP:
            self.percent = self._at
            self.moved = True


class Panel:
    """changed: something is not as it was at the last tick, or is pressed. held: steady mask; pressed:
    buttons that went down at this tick; tapped: that were let go at this tick and had not been down for long;
    held_ms: how long a button is down. stuck: mask of the buttons held too long."""

    def __init__(self):
        self.changed = True
        self.held = CHAIN
        self.pressed = 0
        self.tapped = 0
        self.held_ms = 0
        self.stuck = 0
        self.knob = Knob()
        self._raw = CHAIN
        self._steady_ms = 0
        self._down_ms = [0, 0, 0, 0]
        self._ignored = -1

    @property
    def settling(self):
        return self._raw != self.held

    def tick(self, mask, knob_u16, dt_ms):
        if self._ignored < 0:
            self._ignored = mask & BUTTONS  # down at the start: nobody pressed it
        still = mask == self.held == self._raw and not mask & BUTTONS and not self.changed
        if still:  # nobody is at the dish
            self.knob.tick(knob_u16, dt_ms)
            self.changed = self.knob.moved
            return
        self.changed = mask != self._raw or mask != self.held or mask & BUTTONS > 0
        if mask != self._raw:
            self._raw = mask
            self._steady_ms = 0
        else:
            self._steady_ms += dt_ms
        # An open chain counts at once: it is never too early to stop.
        now = self.held & mask if not mask & CHAIN else self.held
        ignored = self._ignored
        if self._steady_ms >= _DEBOUNCE_MS:
            now = mask
            self._ignored &= mask
        self.tapped = 0
        self._watch(now, dt_ms, ignored)
        self.pressed = now & ~self.held & BUTTONS & ~self._ignored
        down = now & BUTTONS & ~self._ignored & ~self.stuck
        self.held_ms = self.held_ms + dt_ms if down and now == self.held else 0
        self.held = now
        self.knob.tick(knob_u16, dt_ms)
        self.changed = self.changed or self.knob.moved

    def _watch(self, now, dt_ms, ignored):
        for i in range(len(_BITS)):
            if now & _BITS[i]:
                self._down_ms[i] = min(_STUCK_MS, self._down_ms[i] + dt_ms)
                if self._down_ms[i] >= _STUCK_MS:
                    self.stuck |= _BITS[i]
            else:
                if 0 < self._down_ms[i] < _TAP_MS and not ignored & _BITS[i]:
                    self.tapped |= _BITS[i]
                self._down_ms[i] = 0
                self.stuck &= ~_BITS[i]
