"""Stand-in for the board's `esp32`: the pulse peripheral, whose trains go to the bench. Units: ticks, us.

As in MicroPython's documentation, library esp32, class RMT: a tick is clock_div / 80 MHz, a duration 1 to
32767 ticks, and write_pulses() waits until the train before has ended.
"""

import wire

_SOURCE_MHZ = 80


class RMT:
    PULSE_MAX = 32767

    def __init__(self, channel, pin=None, clock_div=8, idle_level=False, tx_carrier=None):
        if not 0 <= channel <= 7:
            raise ValueError("invalid channel")
        if not 1 <= clock_div <= 255:
            raise ValueError("clock_div must be between 1 and 255")
        self._channel = channel
        self._clock_div = clock_div
        self._end = (wire.ticks_ms, wire.sub_us)
        self._open = True
        wire.put(wire.OP_RMT, channel, [pin.id, clock_div])

    def source_freq(self):
        return _SOURCE_MHZ * 1000000

    def clock_div(self):
        return self._clock_div

    def _left_us(self):
        ms, us = self._end
        return wire.since_ms(ms) * -1000 + us - wire.sub_us

    def wait_done(self, timeout=0):
        self._must_be_open()
        left = min(self._left_us(), timeout * 1000)
        if left > 0:
            wire.sleep_us(left)
        return self._left_us() <= 0

    def loop(self, enable_loop):
        raise NotImplementedError("the bench does not loop")

    def write_pulses(self, duration, data=True):
        self._must_be_open()
        if isinstance(duration, int):
            levels = [1 if one else 0 for one in data]
            durations = [duration] * len(levels)
        else:
            durations = list(duration)
            if isinstance(data, (list, tuple)):
                levels = [1 if one else 0 for one in data]
            else:
                first = 1 if data else 0
                levels = [first, 1 - first] * (len(durations) // 2) + [first] * (len(durations) % 2)
        if not durations or len(durations) != len(levels):
            raise ValueError("duration and data must have same length")
        if min(durations) < 1 or max(durations) > self.PULSE_MAX:
            raise ValueError("a duration is 1 to 32767")
        left = self._left_us()
        if left > 0:
            wire.sleep_us(left)
        total = wire.sub_us + (sum(durations) * self._clock_div + _SOURCE_MHZ - 1) // _SOURCE_MHZ
        self._end = (wire.ticks_ms + total // 1000, total % 1000)
        wire.put(wire.OP_TRAIN, self._channel, [levels, durations])

    def deinit(self):
        if self._open:
            self._open = False
            wire.put(wire.OP_RMT, self._channel, None)

    def _must_be_open(self):
        if not self._open:
            raise OSError("already deinitialized")
