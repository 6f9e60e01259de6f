"""Hazards that are known and why they are still there: `explained.toml`, read once. No units.

A rule holds for a hazard that one of its faults brings (the row's `because`), or, with `pair`, for one that
only two faults together bring. A hazard the board did not notice needs a rule that says `undetected = true`.
"""

from __future__ import annotations

import functools
import tomllib
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from .episode import TOGETHER, Row

FILE = Path(__file__).with_name("explained.toml")
_Words = Annotated[str, Field(min_length=20)]


class Rule(BaseModel):
    """One row of the file; names of faults may hold * and ?."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    faults: tuple[str, ...] = ()
    pair: tuple[str, str] | None = None
    hazards: tuple[str, ...]
    undetected: bool = False
    reason: _Words

    def holds(self, kind: str, row: Row) -> bool:
        """Whether it explains a hazard of this kind in this episode."""
        if kind not in self.hazards or not (row.detected or self.undetected):
            return False
        if row.because == TOGETHER:
            return self.pair is not None and _both(self.pair, row.faults.split("+"))
        return any(fnmatchcase(name, one) for name in row.because.split("+") for one in self.faults)


def _both(pair: tuple[str, str], names: list[str]) -> bool:
    return len(names) == 2 and any(
        fnmatchcase(a, pair[0]) and fnmatchcase(b, pair[1]) for a, b in (names, names[::-1])
    )


@functools.cache
def rules() -> tuple[Rule, ...]:
    """All rules of the file."""
    with FILE.open("rb") as file:
        return tuple(Rule.model_validate(one) for one in tomllib.load(file)["rule"])


def reasons(row: Row) -> dict[str, str]:
    """Each kind of hazard of an episode with the reason known for it, '' where none is."""
    return {
        kind: next((rule.reason for rule in rules() if rule.holds(kind, row)), "")
        for kind in row.hazards.split("+") if kind
    }


def is_explained(row: Row) -> bool:
    """Whether every hazard of the episode is known; so is an episode without any."""
    return all(reasons(row).values())
