"""The pulse peripheral of an ESP32 as one drive sees it: trains of levels, each rise of which is a step.

Units: us of virtual time; durations in ticks of divider / 80 MHz; steps, signed by the direction line at the
moment of each rise (+ while it is high). One begins when it comes, for the board waits for the one before:
nothing follows it by itself.
"""

from bisect import bisect_right

SOURCE_MHZ = 80


class RmtChannel:
    """The same questions as PioQueue answers. early: trains that came before the one before had ended."""

    def __init__(self) -> None:
        self._rises: list[float] = []  # of the train that runs [us]
        self._taken = 0
        self._ends_us = 0.0
        self._rate = 0.0
        self._done = 0
        self._sign = -1
        self._divider = 1
        self.early = 0

    def open(self, divider: int, now_us: int) -> None:
        """A channel is made anew; ticks last divider / 80 us."""
        self.clear(now_us)
        self._divider = divider

    def train(self, levels: list[int], durations: list[int], now_us: int) -> None:
        """Begin a train now, from idle low."""
        self._settle(now_us)
        if self._ends_us > now_us + 1:
            self.early += 1
        tick_us = self._divider / SOURCE_MHZ
        at, before, rises = 0, 0, []
        for level, ticks in zip(levels, durations, strict=True):
            if level and not before:
                rises.append(now_us + at * tick_us)
            at += ticks
            before = level
        self._rises, self._taken = rises, 0
        self._ends_us = now_us + at * tick_us
        self._rate = len(rises) * 1e6 / (at * tick_us)

    def turn(self, level: int, now_us: int) -> None:
        """The direction line goes to a level."""
        self._settle(now_us)
        self._sign = 1 if level else -1

    def clear(self, now_us: int) -> None:
        """The pin leaves the channel, or the channel stops: no further rise."""
        self._settle(now_us)
        self._rises, self._taken = [], 0
        self._ends_us = float(now_us)

    def steps_done(self, now_us: int) -> int:
        """Net steps given since the start [steps, signed]."""
        self._settle(now_us)
        return self._done

    def rate(self, now_us: int) -> float:
        """Steps a second at this moment, signed; 0 with no train under way."""
        return self._sign * self._rate if self._rises and now_us < self._ends_us else 0.0

    def level(self, _now_us: int) -> int:
        """Words that wait: the peripheral holds none."""
        return 0

    def _settle(self, now_us: int) -> None:
        taken = bisect_right(self._rises, now_us)
        if taken > self._taken:
            self._done += self._sign * (taken - self._taken)
            self._taken = taken
