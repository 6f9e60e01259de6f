"""What one row of the fault library says. Units: as each row's severity says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from .deeds import Deed


@dataclass(frozen=True)
class Fault:
    """One kind of fault. untrue: clock or base no longer true to what the board was told while it is on;
    halts: the board must take the stop chain for open, or knows no drives; astray: an axis turns unasked.
    fits: settings without which there is nothing to spoil; board, drives: kinds that it needs, if not ''."""

    name: str
    group: str
    words: str
    begin: Deed
    end: Deed | None = None
    low: float = 1.0
    high: float = 1.0
    unit: str = ""
    untrue: bool = False
    halts: bool = False
    astray: bool = False
    fits: Mapping[str, Any] = field(default_factory=dict)
    board: str = ""
    drives: tuple[str, ...] = ()

    def lacks(self, flat: Mapping[str, Any], board: str) -> str:
        """What a cooker of these flat settings on this board must have and has not; '' for nothing."""
        for key, value in self.fits.items():
            if not flat[key] if value else flat[key]:
                return f"{key} = {str(value).lower()}"
        if self.board and board != self.board:
            return f'board = "{self.board}"'
        if self.drives and flat["axis1.drive"] not in self.drives:
            return f"axis1.drive = {' or '.join(self.drives)}"
        return ""
