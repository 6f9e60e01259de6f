"""Who reads the shadow sight: a person at the keys, or the bench. Units: deg.

Each tells, given where the axes are, the turns of axis 1 and axis 2 it wants next, or None: centred.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any, Protocol

import numpy as np
import typer

from .fit import SIGHT_DEG

STEPS_DEG = (0.05, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0)
_CENTRED_DEG = 0.03
HELP = ("Keys: a and d turn axis 1 back and on, s and w turn axis 2 down and up (or the arrows); + and - "
        "change the step; Enter: the shadow stands on its mark; n: not this one; q: enough.")
_ARROWS = {"\x1b[D": "a", "\x1b[C": "d", "\x1b[B": "s", "\x1b[A": "w"}
_TURNS = {"a": (-1, 0), "d": (1, 0), "s": (0, -1), "w": (0, 1)}


class Skip(Exception):
    """This sighting is left out."""


class Enough(Exception):
    """No more sightings are wanted."""


class Sight(Protocol):
    """Wanted turns of both axes, or None when the shadow stands on its mark."""

    def fresh(self) -> None: ...

    def wants(self, axes_deg: tuple[float, float]) -> tuple[float, float] | None: ...


class BenchSight:
    """The bench's own sun over the bench's own mount, read with an honest hand's scatter (seeded)."""

    def __init__(self, wire: Any, seed: int = 1, scatter_deg: float = SIGHT_DEG / 2) -> None:
        self._wire = wire
        self._rng = np.random.default_rng(seed)
        self._scatter = scatter_deg
        self._off = (0.0, 0.0)

    def fresh(self) -> None:
        """A new sighting has a new misreading."""
        across, up = self._rng.normal(0.0, self._scatter, 2)
        self._off = (float(across), float(up))

    def wants(self, axes_deg: tuple[float, float]) -> tuple[float, float] | None:
        one, two = self._wire.sight()
        level = max(0.05, abs(float(np.cos(np.radians(axes_deg[1])))))
        one, two = one + self._off[0] / level, two + self._off[1]
        return None if np.hypot(one * level, two) <= _CENTRED_DEG else (one, two)


def _key() -> str:
    """One key from the terminal, or one letter from a pipe; 'q' at its end."""
    if sys.stdin.isatty():
        return typer.getchar()
    return sys.stdin.read(1) or "q"


class KeySight:
    """A person looks at the sight and presses keys."""

    def __init__(self, tell: Callable[[str], None], key: Callable[[], str] = _key) -> None:
        self._tell = tell
        self._key = key
        self._step = STEPS_DEG.index(1.0)

    def fresh(self) -> None:
        """Say once more which keys there are."""
        self._tell(HELP)

    def wants(self, axes_deg: tuple[float, float]) -> tuple[float, float] | None:
        self._tell(f"Axis 1 at {axes_deg[0]:.3f}, axis 2 at {axes_deg[1]:.3f} deg; "
                   f"step {STEPS_DEG[self._step]:g} deg.")
        while True:
            key = self._key()
            key = _ARROWS.get(key, key.lower())
            if key in _TURNS:
                return (_TURNS[key][0] * STEPS_DEG[self._step], _TURNS[key][1] * STEPS_DEG[self._step])
            if key in "\r\n":
                return None
            if key in "qn":
                raise Enough if key == "q" else Skip
            if key in "+-":
                step = self._step + (1 if key == "+" else -1)
                self._step = min(max(step, 0), len(STEPS_DEG) - 1)
                self._tell(f"step {STEPS_DEG[self._step]:g} deg")
