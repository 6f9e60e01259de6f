"""What goes onto a board: the firmware without what only a host reads, its modules made into few files.

Units: bytes. The rows in `declared/` carry sentences for people beside what the board needs, so that each
thing is declared once. A board has little memory: those columns become empty texts, and settings that no
board reads are left out. Then the modules are bundled (firmware_parts.py), parts that this cooker has no use
for are left out, and the rest is compiled.
"""

from __future__ import annotations

import ast
import functools
import hashlib
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import sunhob_board
from sunhob_board.declared import settings as declared

from . import firmware_bundle, firmware_names, firmware_parts, firmware_scopes
from .cache import cache_dir
from .firmware_parts import Bundle, bundle
from .mpy import compile_text
from .settings import Cooker

PACKAGE = Path(next(iter(sunhob_board.__path__)))
_MAIN = "main"
_LOADER = "loader"  # text on the board: what it and the controller ask of each other keeps its name
_BOARDS = "boards"
_CALLED = {_MAIN: ("start", "run")}
_CYCLE = "cycle"  # the bench calls it by name
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
    """The text of a firmware file as a board needs it."""
    text = source.read_bytes()
    if source.parent != PACKAGE / "declared" or source.name not in _WORDS:
        return text
    size, columns = _WORDS[source.name]
    kept = _on_board if source.name == "settings.py" else lambda _row: True
    tree = _Strip(size, columns, kept).visit(ast.parse(text))
    return (ast.unparse(ast.fix_missing_locations(tree)) + "\n").encode()


def _fitted(section: str, *names: str) -> Callable[[Cooker], bool]:
    return lambda cooker: any(getattr(getattr(cooker, section), name) for name in names)


def _drives(*kinds: str) -> Callable[[Cooker], bool]:
    return lambda cooker: cooker.axis1.drive in kinds or cooker.axis2.drive in kinds


# part of the bundle that not every board needs: whether this cooker does
OPTIONAL: dict[str, Callable[[Cooker], bool]] = {
    "drivers/stepper_pio": _drives("stepper"),
    "drivers/stepper_rmt": _drives("stepper"),
    "drivers/bridge_pulse": _drives("motor", "actuator"),
    "mount/pulse_axis": _drives("motor", "actuator"),
    "drivers/sun_ads1115": _fitted("sensor", "sun", "supply_ratio"),
    "drivers/wind_pcf8583": _fitted("sensor", "wind_hz_per_m_s"),
    "drivers/accel_lis3dh": _fitted("sensor", "base_tilt", "axis2_tilt"),
    "drivers/encoder_as5600": _fitted("sensor", "axis1_encoder"),
    "core/season": _drives("hand"),
    "core/page": _fitted("cook", "display"),
    "drivers/oled_ssd1306": _fitted("cook", "display"),
}


def unused_parts(cooker: Cooker) -> set[str]:
    """Parts ('mount/pulse_axis') that a board with the settings of this cooker never loads."""
    return {part for part, needed in OPTIONAL.items() if not needed(cooker)}


def _kept_names() -> set[str]:
    """Names of attributes that something outside the bundle uses: settings, the loader, the bench."""
    rows = declared.board_rows()
    names = {declared.board_name(row[0], row[1]) for row in rows} | {row[0].replace(".", "_") for row in rows}
    for node in ast.walk(ast.parse((PACKAGE / f"{_LOADER}.py").read_bytes())):
        if isinstance(node, ast.Attribute):
            names.add(node.attr)
        elif isinstance(node, ast.FunctionDef):
            names.add(node.name)
    return names | {_CYCLE}


def bundled(board: str) -> Bundle:
    """The whole firmware for a kind of board ('pico'), no part left out."""
    stamps = tuple((path, path.stat().st_mtime_ns) for path in sorted(PACKAGE.rglob("*.py")))
    return _bundled(board, stamps)


@functools.lru_cache(maxsize=8)
def _bundled(board: str, stamps: tuple[tuple[Path, int], ...]) -> Bundle:
    sources = {path.relative_to(PACKAGE).with_suffix("").as_posix(): path for path, _stamp in stamps}
    other = {name for name, path in sources.items() if name.startswith(_BOARDS + "/") and _is_board(path)}
    other -= {f"{_BOARDS}/{board}"}
    texts = {name: board_source(path).decode() for name, path in sources.items()
             if name != _LOADER and name not in other}
    kept = sorted(_kept_names())
    called = {**_CALLED, f"{_BOARDS}/{board}": ("Board",)}
    makers = (firmware_scopes, firmware_bundle, firmware_names, firmware_parts)
    made_of = repr((texts, kept, called, [Path(str(one.__file__)).read_bytes() for one in makers]))
    file = cache_dir() / "bundle" / (hashlib.sha256(made_of.encode()).hexdigest() + ".json")
    if file.exists():
        told: dict[str, Any] = json.loads(file.read_bytes())
        inside = {part: tuple(got) for part, got in told["modules"].items()}
        return Bundle(told["texts"], inside, told["told"])
    made = bundle(PACKAGE.name, texts, _MAIN, called, kept)
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(f".{id(made)}")
    part.write_text(json.dumps({"texts": made.texts, "modules": made.modules, "told": made.told}))
    part.replace(file)
    return made


def what_is(name: str, board: str = "pico") -> list[str]:
    """What a short name of a board's traceback may stand for: 'core/app: App', '.tick'."""
    return bundled(board).told.get(name, [])


def place_of(module: str, name: str, board: str = "pico") -> tuple[str, str]:
    """(importable name of the file, short name) under which a board has a name of a module's top."""
    made = bundled(board)
    part = next(part for part, inside in made.modules.items() if module in inside)
    return f"{PACKAGE.name}/{part}".replace("/", "."), short_of(f"{module}: {name}", board)


def short_of(what: str, board: str = "pico") -> str:
    """The short name of 'core/app: App' or '.tick'; an attribute that keeps its name has itself."""
    found = (short for short, meant in bundled(board).told.items() if what in meant)
    return next(found, what.rpartition(".")[2])


def _is_board(path: Path) -> bool:
    """Whether a file of the boards' folder is the one of a kind of board: it makes a Board."""
    return any(isinstance(node, ast.ClassDef) and node.name == "Board" for node in
               ast.parse(path.read_bytes()).body)


def board_files(board: str, cooker: Cooker | None = None,
                progress: Callable[[int, int], None] = lambda done, total: None) -> dict[str, bytes]:
    """'sunhob_board/core/app.mpy' -> bytes: what a kind of board holds for a cooker; for any cooker if None.

    Unsafe if the firmware does what cannot be bundled; UserError from the compiler."""
    texts = bundled(board).texts
    unused = unused_parts(cooker) if cooker is not None else set()
    wanted = [part for part in texts if part not in unused]
    files = {}
    for done, part in enumerate(wanted):
        files[f"{PACKAGE.name}/{part}.mpy"] = compile_text(texts[part].encode(), part + ".py")
        progress(done + 1, len(wanted))
    return files


if __name__ == "__main__":
    for asked in sys.argv[1:]:
        print(f"{asked}: {', '.join(what_is(asked)) or 'not a short name'}")
