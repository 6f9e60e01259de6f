"""One stepper axis on one channel of the ESP32's pulse peripheral (RMT), with words queued ahead in memory.

Units: steps, microseconds (a tick of the channel: 80 MHz / 80). A word is a direction, a count of steps and a
period. The peripheral takes one train of pulses and knows no queue: a timer hands it the next one just as the
last ends, so that a late tick of the controller leaves no gap, and what is queued is all that can still be
stepped. A train that begins late (garbage collection) is run a little faster until it has caught up.
MicroPython's documentation, library esp32, class RMT: durations of 1 to 32767 ticks; write_pulses() returns
at once, but waits for a train still under way.
"""

import time

import esp32  # pyright: ignore[reportMissingImports] (the stubs are those of the RP2040)
from machine import Pin, Timer

_DEPTH = 8
_CLOCK_DIV = 80
MOST_STEPS = 2048
LEAST_PERIOD_US = 20
_TRAIN_US = 40_000  # longest train: clear() waits for no more, whatever the version of MicroPython
_TRAIN_STEPS = 200  # bounds the list that a train is made of
_HIGH_US = 10_000  # longest pulse
_LATE_US = 100_000  # so late, it is a new start


class StepperRmt:
    """push() never blocks if free() is not 0; a word beyond the depth is refused.

    channel: of the RMT; timer: number of a hardware timer that nothing else uses.
    """

    def __init__(self, channel, timer, step_pin, dir_pin, reversed=False):
        self._flip = 1 if reversed else 0
        self._channel = channel
        self._step = step_pin
        self._dir = Pin(dir_pin, Pin.OUT, value=0)
        self._way = 0
        self._timer = Timer(timer)
        self._words = [(0, 0, 0)] * _DEPTH
        # Words put and taken, modulo twice the depth: each is written from one side alone, since the timer's
        # call comes between any two instructions of what runs.
        self._put = self._got = 0
        self._word = self._words[0]
        self._left = 0
        self._running = self._stopping = False
        self._due = self._end = time.ticks_us()
        self._call = self._next
        self._rmt = self._start()

    def _start(self):
        return esp32.RMT(self._channel, pin=Pin(self._step, Pin.OUT, value=0), clock_div=_CLOCK_DIV)

    def free(self):
        """Words the queue still takes."""
        return _DEPTH - (self._put - self._got) % (2 * _DEPTH)

    def push(self, forward, steps, period_us):
        """Queue steps (1 to 2048) with a period [us]; False if the queue is full or the count is none."""
        if steps < 1 or steps > MOST_STEPS or not self.free():
            return False
        way = self._flip ^ (1 if forward else 0)
        self._words[self._put % _DEPTH] = (way, steps, max(LEAST_PERIOD_US, period_us))
        self._put = (self._put + 1) % (2 * _DEPTH)
        if not self._running:
            self._next(None)
        return True

    def clear(self):
        """Stop at once: throw away what is queued and what runs, leave STEP low, wait for new words."""
        self._stopping = True  # the timer's call may already wait
        self._timer.deinit()
        Pin(self._step, Pin.OUT, value=0)  # the pin leaves the channel: no further edge
        self._rmt.deinit()
        self._got = self._put
        self._left = 0
        self._running = False
        self._end = time.ticks_us()
        self._rmt = self._start()
        self._stopping = False

    def _next(self, _timer):
        """Hand over the next train; be called again just before it ends."""
        if self._stopping:
            return
        if not self._left:
            if self._got == self._put:
                self._running = False
                return
            self._word = self._words[self._got % _DEPTH]
            self._left = self._word[1]
            self._got = (self._got + 1) % (2 * _DEPTH)
        way, _, period = self._word
        if way != self._way:
            if not self._rmt.wait_done():
                self._after_ms(1)
                return
            self._way = way
            self._dir.value(way)
        begin = time.ticks_us()
        if 0 < time.ticks_diff(self._end, begin) < _LATE_US:  # else it ended long ago, and the ticks wrapped
            begin = self._end
        late = time.ticks_diff(begin, self._due)
        if not self._running or late > _LATE_US:
            self._due = begin
            late = 0
        self._running = True
        count = min(self._left, max(1, _TRAIN_US // period), _TRAIN_STEPS)
        self._left -= count
        self._due = time.ticks_add(self._due, count * period)
        if late > 0:
            period -= min(late // count, period // 8)
        high = min(period // 2, _HIGH_US)
        low = min(period - high, _TRAIN_US - high)  # a longer pause is the timer's
        self._rmt.write_pulses([low, high] * count, 0)  # low first: the direction stands before the step
        now = time.ticks_us()  # it has begun only now: what came first waited for the train before
        lasts = count * (low + high)
        self._end = time.ticks_add(now, lasts)
        # Called before that end, it would wait for it there, and the other axis's timer with it.
        self._after_ms(max(lasts, time.ticks_diff(self._due, now)) // 1000)

    def _after_ms(self, ms):
        self._timer.init(mode=Timer.ONE_SHOT, period=max(1, ms), callback=self._call)
