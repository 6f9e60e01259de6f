"""An H-bridge with one PWM and one direction line, and the motor's pulse lines counted by interrupts.

Units: counts (one edge of a pulse line each), permille of full voltage, ms. On one line an edge counts the
way the motor was last driven; nothing is driven the other way before it stands. Bounce: after an edge the
line is deaf for 3 ms, or longer while pulses are far apart, then its level counts. With two lines
(quadrature) the edges tell the way themselves.
The motor is switched off by the edge that reaches the end asked, not by the next tick; where the chip can do
it, from within the interrupt itself, for which _edge takes no memory: no loop that is late, no collection of
garbage loses edges or lets it run on.
"""

import time

from machine import PWM, Pin, disable_irq, enable_irq

PWM_HZ = 15_000
_DEAF_MS, _LONG_MS = 3, 8  # at least; a worn contact bounces for 6
# by (A, B before, A, B now) as four bits: A leads B when the axis goes up
_WAY = (0, -1, 1, 0, 1, 0, 0, -1, -1, 0, 0, 1, 0, 1, -1, 0)


class BridgePulse:
    """count: grows with the reading of the axis. way: 1, -1, or 0 once it stands; off: whether it is
    switched off; last: way it was driven last. at_ms, before_ms: when the last edge came, and the one
    before it. strays: edges seen while it stood. listen(line, call): has every edge of it told.
    deaf: edges are not believed."""

    def __init__(self, pwm_pin, dir_pin, pulse_pins, reversed, listen):
        self._dir = Pin(dir_pin, Pin.OUT, value=0)
        self._pwm = PWM(Pin(pwm_pin, Pin.OUT), freq=PWM_HZ, duty_u16=0)
        self._flip = 1 if reversed else 0
        self._two = len(pulse_pins) == 2
        self._end = 0
        self._quiet_ms = _DEAF_MS
        self.deaf = False
        self.last = 1
        self.count = 0
        self.way = 0
        self.off = True
        self.strays = 0
        self.at_ms = self.before_ms = time.ticks_ms()
        self._lines = [Pin(n, Pin.IN, Pin.PULL_UP) for n in pulse_pins]
        self._state = self._look()
        self._rested = self._state
        self._rest_count = 0
        for line in self._lines:
            listen(line, self._edge)

    def _look(self):
        state = self._lines[0].value()
        return state << 1 | self._lines[1].value() if self._two else state

    def _edge(self, _line):
        state = self._look()
        if self.deaf or state == self._state:
            return
        now = time.ticks_ms()
        gap = time.ticks_diff(now, self.at_ms)
        if self._two:
            step = _WAY[self._state << 2 | state]
            if self._flip:
                step = -step
        elif gap < self._quiet_ms:
            return
        else:
            step = self.way
        self._state = state
        self.before_ms = self.at_ms
        self.at_ms = now
        if self.way == 0:
            self._stray(state, step)
            return
        self.count += step
        if not self.off and (self.count - self._end) * self.way >= 0:
            self.stop()

    def _stray(self, state, step):
        """An edge while it stands. On one line it flickers about the edge it came to last, or was pushed."""
        self.strays += 1
        if self._two:
            self.count += step
        elif state == self._rested:
            self.count = self._rest_count
        else:
            self.count = self._rest_count - self.last

    def look(self):
        """Catch up with a line that changed while it was deaf; call at every tick. An edge that came in the
        middle of it would count twice."""
        held = disable_irq()
        self._edge(None)
        enable_irq(held)

    def go(self, way, end, turned=False):
        """From rest: get ready to drive up (1) or down (-1) until the count reaches `end`. turned: the motor
        has been seen to turn the wrong way."""
        self.way = self.last = way
        self._end = end
        self.off = False
        self._dir.value(self._flip ^ ((way > 0) != turned))

    def power(self, permille, apart_ms):
        """Voltage of a motor that go() has made ready; nothing if it has reached its end meanwhile. apart_ms:
        between two edges no less time than that will pass."""
        self._quiet_ms = max(_DEAF_MS, min(_LONG_MS, apart_ms))
        if not self.off:
            self._pwm.duty_u16(permille * 65535 // 1000)
            if self.off:  # the edge came in between
                self._pwm.duty_u16(0)

    def stop(self):
        """Switch off; it runs on a little and goes on counting."""
        self.off = True
        self._pwm.duty_u16(0)

    def stands(self):
        """Say that by now it must stand: edges from here on nobody asked for."""
        self.way = 0
        self._rested = self._state
        self._rest_count = self.count
        self.strays = 0
