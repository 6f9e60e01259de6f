"""A rotary heat knob: two contacts in quadrature that close to ground, counted by interrupts.

Units: counts 0..65535, of 2 percent a detent. It knows no place: each start begins at nothing, so that no
heat is asked before somebody turns it up. Turned past an end, it stays there. Between two detents both
contacts close and open once (four edges), in a detent both are open: common practice, no source. A contact
that bounces counts to and fro by one edge and never makes a detent. Lines that flicker faster than any hand
are not heard for a while, and the knob is then not to be believed.
"""

from machine import Pin

_FULL = 200  # edges: 50 detents
_MOST = 400  # edges between two looks: more is no hand
_DEAF = 20  # looks
# by (A, B before, A, B now) as four bits: A closes first when it is turned up
_WAY = (0, -1, 1, 0, 1, 0, 0, -1, -1, 0, 0, 1, 0, 1, -1, 0)


class RotaryKnob:
    """read_u16(): where it was turned to, -1 while its lines are not to be believed."""

    def __init__(self, a_pin, b_pin):
        self._lines = [Pin(n, Pin.IN, Pin.PULL_UP) for n in (a_pin, b_pin)]
        self._edges = self._at = self._deaf = 0
        self._state = 3
        self._hear(self._edge)

    def _hear(self, handler):
        for line in self._lines:
            line.irq(handler=handler, trigger=Pin.IRQ_FALLING | Pin.IRQ_RISING)

    def _edge(self, _line):
        self._edges += 1
        if self._edges == _MOST:
            self._hear(None)
            self._deaf = _DEAF
        state = self._lines[0].value() << 1 | self._lines[1].value()
        at = self._at + _WAY[self._state << 2 | state]
        self._state = state
        if state == 3:  # in a detent: an edge that was missed is made good
            at = (at + 2) // 4 * 4
        self._at = max(0, min(_FULL, at))

    def put(self, percent):
        """It goes on from here: what was asked elsewhere. Returns where it then stands [percent]."""
        self._at = percent // 2 * 4
        return percent // 2 * 2

    def read_u16(self):
        self._edges = 0
        if self._deaf:
            self._deaf -= 1
            if not self._deaf:
                self._hear(self._edge)
            return -1
        return (self._at + 2) // 4 * 4 * 65535 // _FULL
