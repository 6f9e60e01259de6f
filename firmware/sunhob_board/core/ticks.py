"""Millisecond ticks that wrap at 2**30, compared only here. Units: ms."""

PERIOD = 1 << 30
_HALF = 1 << 29
_MASK = PERIOD - 1


def diff(later, earlier):
    """later - earlier [ms], right across the wrap while the two lie within 2**29 ms (6.2 days)."""
    return ((later - earlier + _HALF) & _MASK) - _HALF


def add(t, ms):
    """t + ms [ms], wrapped."""
    return (t + ms) & _MASK
