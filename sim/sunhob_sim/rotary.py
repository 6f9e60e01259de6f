"""A rotary heat knob on the bench: detents, a hand's pace, contacts that bounce. Units: s, detents, percent.

Written apart from the firmware's counting. Turned up, contact A closes a quarter of a detent before B; in a
detent both are open.
"""

from __future__ import annotations

from random import Random

PER_DETENT = 2.0  # percent
DETENTS_S = 15.0  # a hand in a hurry; common practice, no source
BOUNCE_S = 0.0015
_FLIPS = 2  # on either side of an edge, at most
_LEVELS = ((1, 1), (0, 1), (0, 0), (1, 0))  # of A and B, over a detent


class RotaryKnob:
    """detents: turned since it was built, up plus. wild: something on its wires makes edges by itself."""

    def __init__(self, seed: int) -> None:
        self.detents = 0.0
        self.wild = False
        self._percent = 0.0
        self._quarter = 0
        self._edges: list[tuple[float, int, int]] = []  # when, A, B
        self._now = (1, 1)
        self._chance = Random(seed)
        self.at_s = 0.0

    def turn(self, percent: float) -> None:
        """A hand that believes the knob where it left it turns it there; to an end, and past it."""
        if percent == self._percent:
            return
        by = round((percent - self._percent) / PER_DETENT)
        if percent in (0.0, 100.0):
            by += 10 if percent else -10
        self._percent = percent
        begin = max(self.at_s, self._edges[-1][0] if self._edges else 0.0)
        step = 1 if by > 0 else -1
        for n in range(4 * abs(by)):
            self._edge(begin + (n + 1) / (4.0 * DETENTS_S), step)
        self.detents += by

    def _edge(self, at_s: float, step: int) -> None:
        before, self._quarter = _LEVELS[self._quarter % 4], self._quarter + step
        after = _LEVELS[self._quarter % 4]
        for _ in range(self._chance.randint(0, _FLIPS)):
            at_s += self._chance.uniform(0.0, BOUNCE_S / _FLIPS)
            self._edges += [(at_s, *after), (at_s + 1e-4, *before)]
            at_s += 2e-4
        self._edges.append((at_s, *after))

    def advance(self, to_s: float) -> None:
        """Let time go on."""
        self.at_s = to_s
        while self._edges and self._edges[0][0] <= to_s:
            _, a, b = self._edges.pop(0)
            self._now = a, b
        if self.wild:
            self._now = self._chance.randint(0, 1), self._chance.randint(0, 1)

    def next_edge_s(self) -> float | None:
        """Time until a contact changes [s], or None."""
        if self.wild:
            return 0.0005
        return max(0.0, self._edges[0][0] - self.at_s) if self._edges else None

    def levels(self) -> tuple[int, int]:
        """Levels of both lines."""
        return self._now
