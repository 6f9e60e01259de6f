"""The step generator of one drive: a FIFO of words and the program that turns them into steps.

Units: us of virtual time, steps (signed: + with the direction bit set).
A word: bit 0 direction, 11 bits steps - 1, 18 bits delay; one step lasts 2 * delay + 5 us at 1 MHz.
An empty FIFO is a stop.
"""

from collections import deque

DEPTH = 8
OVERHEAD_US = 7  # from a word taken up to its first step


def unpack_word(word: int) -> tuple[int, int, int]:
    """(sign, steps, period in us) of a word."""
    return (1 if word & 1 else -1, ((word >> 1) & 0x7FF) + 1, 2 * ((word >> 12) & 0x3FFFF) + 5)


def pack_word(forward: bool, steps: int, period_us: int) -> int:
    """The word for `steps` (1 to 2048) with `period_us` (5 to 524291, odd) between them."""
    return (1 if forward else 0) | (steps - 1) << 1 | ((period_us - 5) // 2) << 12


class PioQueue:
    """Words go in at a time, steps come out as time goes on; everything is settled lazily."""

    def __init__(self, active: bool = True) -> None:
        self._wait: deque[int] = deque()
        self._now: tuple[int, int, int] | None = None
        self._start_us = 0
        self._done = 0
        self._paused_us: int | None = None if active else 0
        self.overruns = 0

    def put(self, word: int, now_us: int) -> None:
        """Queue one word at `now_us`; a word beyond the depth is lost and counted."""
        self._settle(now_us)
        if len(self._wait) >= DEPTH:
            self.overruns += 1
            return
        self._wait.append(word)
        if self._now is None and self._paused_us is None:
            self._begin(now_us)

    def level(self, now_us: int) -> int:
        """Words waiting (0 to 8); the one being run is not among them."""
        if self._now is None:
            return len(self._wait)
        self._settle(now_us)
        return len(self._wait)

    def steps_done(self, now_us: int) -> int:
        """Net steps given since the start [steps, signed]."""
        if self._now is None:
            return self._done
        self._settle(now_us)
        return self._done + self._part(now_us)

    def rate(self, now_us: int) -> float:
        """Steps per second at this moment, signed; 0 when starved or paused."""
        if self._now is None:
            return 0.0
        self._settle(now_us)
        if self._now is None or self._paused_us is not None:
            return 0.0
        return self._now[0] * 1e6 / self._now[2]

    def ends_us(self, now_us: int) -> int | None:
        """When the queue runs dry [us], or None if it is dry or paused."""
        self._settle(now_us)
        if self._now is None or self._paused_us is not None:
            return None
        end = self._start_us + OVERHEAD_US + self._now[1] * self._now[2]
        for word in self._wait:
            _, steps, period = unpack_word(word)
            end += OVERHEAD_US + steps * period
        return end

    def clear(self, now_us: int) -> None:
        """Drop what waits and what runs; steps already given stay given."""
        self._settle(now_us)
        self._wait.clear()
        self.restart(now_us)

    def restart(self, now_us: int) -> None:
        """Drop the word being run, go on with the next."""
        self._settle(now_us)
        self._done += self._part(now_us)
        self._now = None
        if self._paused_us is None:
            self._begin(now_us)

    def drop_one(self, now_us: int) -> None:
        """Take one waiting word out unused."""
        self._settle(now_us)
        if self._wait:
            self._wait.popleft()

    def set_active(self, active: bool, now_us: int) -> None:
        """Pause or go on; a paused machine keeps its place in the word."""
        self._settle(now_us)
        if not active and self._paused_us is None:
            self._paused_us = now_us
        elif active and self._paused_us is not None:
            self._start_us += now_us - self._paused_us
            self._paused_us = None
            if self._now is None:
                self._begin(now_us)

    def _begin(self, at_us: int) -> None:
        self._now = unpack_word(self._wait.popleft()) if self._wait else None
        self._start_us = at_us

    def _settle(self, now_us: int) -> None:
        if self._paused_us is not None:
            return
        while self._now is not None:
            sign, steps, period = self._now
            end = self._start_us + OVERHEAD_US + steps * period
            if end > now_us:
                return
            self._done += sign * steps
            self._begin(end)

    def _part(self, now_us: int) -> int:
        if self._now is None:
            return 0
        at = now_us if self._paused_us is None else self._paused_us
        sign, steps, period = self._now
        run = at - self._start_us - OVERHEAD_US
        return sign * min(steps, run // period + 1) if run >= 0 else 0
