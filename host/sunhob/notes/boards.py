"""Reads the pin tables of the board files without running them. Numbers are GPIO numbers; no other units."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import sunhob_board

from ..board.image import KINDS
from ..board.pins import board_table, spared

FIRMWARE = Path(sunhob_board.__path__[0])


@dataclass(frozen=True)
class BoardPins:
    """name and title of a board, its pins by what they carry, resistors it wants, words by pin, what hangs
    on its port expander, by line (0..7 GPA0..7, 8..15 GPB0..7), and what of its pins others may take."""

    name: str
    title: str
    pins: dict[str, int]
    outside: dict[str, str]
    expander: dict[str, int] = field(default_factory=dict)
    spared: tuple[str, ...] = ()

    def where(self, name: str) -> str:
        """GPIO number of a signal, or the expander's line."""
        if name in self.pins:
            return str(self.pins[name])
        line = self.expander[name]
        return f"GP{'AB'[line // 8]}{line % 8}"


def constants(path: Path) -> dict[str, Any]:
    """The module's plain literals by name; tuples that hold names of other modules come as source text."""
    found: dict[str, Any] = {}
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            try:
                found[node.targets[0].id] = ast.literal_eval(node.value)
            except ValueError:
                found[node.targets[0].id] = [ast.unparse(one) for one in getattr(node.value, "elts", [])]
    return found


def boards() -> list[BoardPins]:
    """Every kind of board, by name."""
    out = []
    for name in sorted(KINDS):
        text = (FIRMWARE / "boards" / f"{name}.py").read_text(encoding="utf-8")
        title = (ast.get_docstring(ast.parse(text)) or name).splitlines()[0].split(":")[0]
        out.append(BoardPins(name, title, board_table(name), board_table(name, "OUTSIDE"),
                             board_table(name, "EXPANDER"), tuple(spared(name))))
    return out


def levels() -> dict[str, int]:
    """Level at which each switch's input is so: 0 closes to ground, 1 is fed when healthy."""
    rows = constants(FIRMWARE / "boards" / "common.py")["INPUTS"]
    parts = [row.strip("()").split(",") for row in rows]
    return {ast.literal_eval(part[0]): int(part[2]) for part in parts}


def addresses() -> dict[str, int]:
    """I2C address by driver file; by file and place ('accel_lis3dh base') where it has two."""
    found = {}
    for path in sorted((FIRMWARE / "drivers").glob("*.py")):
        for name, value in constants(path).items():
            if name.endswith("ADDRESS") and isinstance(value, int):
                place = name.removesuffix("ADDRESS").strip("_").lower()
                found[f"{path.stem} {place}".strip()] = value
    return found
