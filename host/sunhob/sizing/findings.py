"""One thing judged in sizing. Units: in `unit`."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One thing judged: needed and has in `unit`; `mend` says what to do where it falls short."""

    name: str
    needed: float
    has: float
    unit: str
    good: bool
    mend: str
    most: bool = False  # whether `needed` is a limit not to be passed

    @property
    def spare(self) -> float:
        """How near it is to its limit: 1 at it, less where it falls short; infinite where it needs none."""
        over, under = (self.needed, self.has) if self.most else (self.has, self.needed)
        return over / under if under > 0.0 else math.inf


def at_least(name: str, needed: float, has: float, unit: str, mend: str) -> Finding:
    """It has to have so much or more."""
    return Finding(name, float(needed), float(has), unit, bool(has >= needed), mend)


def at_most(name: str, limit: float, has: float, unit: str, mend: str) -> Finding:
    """It may have so much and no more."""
    return Finding(name, float(limit), float(has), unit, bool(has <= limit), mend, most=True)
