"""Stand-in for the board's `time`: virtual, wraps at 2**30. Units: as in each name (s, ms, us)."""

import wire

_MASK = (1 << 30) - 1
_HALF = 1 << 29


def ticks_ms():
    wire.spin()
    return wire.ticks_ms


def ticks_us():
    wire.spin()
    return (wire.ticks_ms * 1000 + wire.sub_us) & _MASK


ticks_cpu = ticks_us


def ticks_diff(later, earlier):
    return ((later - earlier + _HALF) & _MASK) - _HALF


def ticks_add(t, delta):
    return (t + delta) & _MASK


def sleep_us(us):
    wire.sleep_us(us)


def sleep_ms(ms):
    wire.sleep_us(ms * 1000)


def sleep(s):
    wire.sleep_us(int(s * 1000000))


def time():
    """Seconds of the chip's own clock, which nothing has set: it only counts."""
    return wire.ticks_ms // 1000
