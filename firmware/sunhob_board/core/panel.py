"""The controls at the dish: debounced buttons and the heat knob. Units: ms, percent.

Input mask bits are set while the thing is so: button pressed, chain closed, pot seen, flag active.
"""

LEAVE = 1
ASIDE = 2
ARM = 4
CONFIRM = 8
CHAIN = 16
POT = 32
HOME1 = 64
HOME2 = 128
BUTTONS = LEAVE | ASIDE | ARM | CONFIRM

_DEBOUNCE_MS = 30
_KNOB_STEP = 2


class Panel:
    """held: steady mask; pressed: buttons that went down at this tick; held_ms: how long a button is down."""

    def __init__(self):
        self.held = CHAIN
        self.pressed = 0
        self.held_ms = 0
        self.knob_percent = 0
        self.knob_moved = False
        self._raw = CHAIN
        self._steady_ms = 0

    @property
    def settling(self):
        return self._raw != self.held

    def tick(self, mask, knob_u16, dt_ms):
        if mask != self._raw:
            self._raw = mask
            self._steady_ms = 0
        else:
            self._steady_ms += dt_ms
        # An open chain counts at once: it is never too early to stop.
        now = self.held & mask if not mask & CHAIN else self.held
        if self._steady_ms >= _DEBOUNCE_MS:
            now = mask
        self.pressed = now & ~self.held & BUTTONS
        self.held_ms = self.held_ms + dt_ms if now & BUTTONS and now == self.held else 0
        self.held = now
        percent = (knob_u16 * 100 + 32767) // 65535
        self.knob_moved = abs(percent - self.knob_percent) >= _KNOB_STEP
        if self.knob_moved:
            self.knob_percent = percent
