"""A sensor's reading spoilt on its way to the converter. Units: counts 0..65535, us."""

from __future__ import annotations

import random

FULL = 65535


class Signal:
    """Turns true counts into what the converter sees. kind: open, short, frozen, offset, noisy, gain."""

    def __init__(self, kind: str, severity: float, seed: int = 1) -> None:
        self.kind, self.severity = kind, severity
        self._held: int | None = None
        self._random = random.Random(seed)

    def __call__(self, counts: int) -> int:
        """What is read in place of `counts`."""
        return min(max(round(_KINDS[self.kind](self, counts)), 0), FULL)

    def _frozen(self, counts: int) -> float:
        if self._held is None:
            self._held = counts
        return self._held

    def _noisy(self, counts: int) -> float:
        return counts + self._random.gauss(0.0, self.severity * FULL)


_KINDS = {
    "open": lambda s, counts: 0,
    "short": lambda s, counts: FULL,
    "frozen": Signal._frozen,
    "offset": lambda s, counts: counts + s.severity * FULL,
    "noisy": Signal._noisy,
    "gain": lambda s, counts: counts * s.severity,
}


class Contact:
    """A switch's contact spoilt: stuck at a level, or parting and meeting again for a while after every
    change, at times drawn anew for each."""

    BOUNCE_US = 6000  # common to 6 ms (Ganssle), from memory
    MOST = 4  # times that it parts

    def __init__(self, stuck: int | None, severity: float = 1.0, seed: int = 1) -> None:
        self.stuck = stuck
        self._long_us = round(self.BOUNCE_US * severity)
        self._last: int | None = None
        self._turns_us: list[int] = []
        self._random = random.Random(seed)

    def __call__(self, level: int, now_us: int) -> int:
        """What is read in place of `level` at `now_us`."""
        if self.stuck is not None:
            return self.stuck
        if level != self._last:
            turns = 2 * self._random.randint(1, self.MOST) if self._last is not None else 0
            self._turns_us = sorted(now_us + self._random.randint(1, self._long_us) for _ in range(turns))
            self._last = level
        while self._turns_us and self._turns_us[0] <= now_us:
            self._turns_us.pop(0)
        return level ^ (len(self._turns_us) & 1)

    @property
    def next_us(self) -> int | None:
        """When it changes next by itself, or None."""
        return self._turns_us[0] if self._turns_us else None
