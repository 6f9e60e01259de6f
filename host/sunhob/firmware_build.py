"""What goes onto a board: the firmware's sources without the words that only a host reads. Units: bytes.

The rows in `declared/` carry sentences for people beside what the board needs, so that each thing is declared
once. A board has little memory: before compiling, those columns become empty texts, and settings that no
board reads are left out. Private names become short ones (firmware_names.py).
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable
from pathlib import Path

from .firmware_names import smaller

_PACKAGE = "sunhob_board"
_PIO = "stepper_pio.py"  # its program is read by names of its own
_EMPTY = ast.Constant("")
# file: (columns of a row, columns with words for people)
_WORDS: dict[str, tuple[int, tuple[int, ...]]] = {
    "events.py": (3, (1, 2)),
    "interlocks.py": (8, (5, 6, 7)),
    "methods.py": (4, (2, 3)),
    "settings.py": (8, (6,)),
}


class _Strip(ast.NodeTransformer):
    def __init__(self, size: int, columns: tuple[int, ...], kept: Callable[[ast.Tuple], bool]) -> None:
        self.size, self.columns, self.kept = size, columns, kept

    def visit_Tuple(self, node: ast.Tuple) -> ast.AST:
        node.elts = [one for one in node.elts if not self._dropped(one)]
        self.generic_visit(node)
        if self._is_row(node):
            for column in self.columns:
                if isinstance(node.elts[column], ast.Constant):
                    node.elts[column] = _EMPTY
        return node

    def _is_row(self, node: ast.AST) -> bool:
        """A row starts with its name: a text, or a text put together."""
        if not isinstance(node, ast.Tuple) or len(node.elts) != self.size:
            return False
        first = node.elts[0]
        return isinstance(first, ast.BinOp) or (
            isinstance(first, ast.Constant) and isinstance(first.value, str)
        )

    def _dropped(self, node: ast.AST) -> bool:
        return isinstance(node, ast.Tuple) and self._is_row(node) and not self.kept(node)


def _on_board(row: ast.Tuple) -> bool:
    last = row.elts[-1]
    return not (isinstance(last, ast.Constant) and last.value is False)


def board_source(source: Path) -> bytes:
    """The text of a firmware file as it is compiled for a board."""
    root = next((folder for folder in source.parents if folder.name == _PACKAGE), None)
    if root is None:
        return source.read_bytes()
    text = source.read_text(encoding="utf-8")
    if source.parent.name == "declared" and source.name in _WORDS:
        size, columns = _WORDS[source.name]
        kept = _on_board if source.name == "settings.py" else lambda _row: True
        tree = _Strip(size, columns, kept).visit(ast.parse(text))
        text = ast.unparse(ast.fix_missing_locations(tree)) + "\n"
    return (text if source.name == _PIO else smaller(text, root)).encode()


_PULSES = ("drivers/bridge_pulse", "mount/pulse_axis", "mount/pulse_scale")
# kind of drive: modules that only such a drive loads
_OF_DRIVE: dict[str, tuple[str, ...]] = {
    "stepper": ("drivers/stepper_pio",), "motor": _PULSES, "actuator": _PULSES,
    "hand": ("mount/hand_axis", "core/hand_park", "core/season"),
}
# what only a board with a display loads
_OF_DISPLAY = ("core/page", "drivers/oled_ssd1306")


def unused_modules(kinds: Iterable[str], display: bool = False) -> set[str]:
    """Modules ('mount/pulse_axis') that a board whose axes have these kinds of drive never loads."""
    used = {name for kind in kinds for name in _OF_DRIVE[kind]}
    every = {name for names in _OF_DRIVE.values() for name in names} | set(_OF_DISPLAY)
    return every - used - set(_OF_DISPLAY if display else ())
