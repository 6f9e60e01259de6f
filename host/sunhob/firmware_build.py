"""What goes onto a board: the firmware without what only a host reads, its modules made into few files.

Units: bytes. The rows in `declared/` carry sentences for people beside what the board needs, so that each
thing is declared once; a board gets what it reads (firmware_rows.py). Then the modules are bundled
(firmware_parts.py), parts that this cooker has no use for are left out, and the rest is compiled.
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

from .cache import cache_dir
from .firmware_merge import merged
from .firmware_mpy import compile_small
from .firmware_parts import Bundle, bundle
from .firmware_rows import board_text, short_names, with_short_names
from .firmware_sentences import by_code, marked
from .settings import Cooker

PACKAGE = Path(next(iter(sunhob_board.__path__)))
_MAIN = "main"
_LOADER = "loader"  # text on the board: what it and the controller ask of each other keeps its name
_BOARDS = "boards"
_CALLED = {_MAIN: ("start", "run")}
_CYCLE = "cycle"  # the bench calls it by name
_OUTSIDE = "OUTSIDE"  # resistors by what hangs on the pin: the board asks for their names alone


def board_source(source: Path) -> bytes:
    """The text of a firmware file as a board needs it."""
    text = source.read_bytes().decode()
    made = board_text(source.name, text) if source.parent == PACKAGE / "declared" else None
    return (made if made is not None else _lean(text)).encode()


def _lean(text: str) -> str:
    """A module without methods that only say that each kind has its own, and without the words of OUTSIDE."""
    lines = text.splitlines(keepends=True)
    tree = ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and _is_promise(node):
            _put(lines, node, "")
    for one in tree.body:
        if isinstance(one, ast.Assign) and ast.unparse(one.targets[0]) == _OUTSIDE:
            _put(lines, one, f"{_OUTSIDE} = {dict.fromkeys(ast.literal_eval(one.value), '')}\n")
    return "".join(lines)


def _put(lines: list[str], node: ast.stmt, text: str) -> None:
    """Write a text in place of a statement; the number of lines stays."""
    end = node.end_lineno or node.lineno
    lines[node.lineno - 1:end] = [text] + [""] * (end - node.lineno)


def _is_promise(node: ast.FunctionDef) -> bool:
    """Whether all that a method does is to raise NotImplementedError."""
    does = node.body[1:] if ast.get_docstring(node) is not None else node.body
    return len(does) == 1 and isinstance(does[0], ast.Raise) and "NotImplementedError" in ast.unparse(does[0])


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
    "safety/sun_sight": _fitted("sensor", "sun"),
    "safety/place_check": _fitted("sensor", "axis1_encoder", "axis2_tilt"),
    "drivers/wind_pcf8583": _fitted("sensor", "wind_hz_per_m_s"),
    "drivers/accel_lis3dh": _fitted("sensor", "base_tilt", "axis2_tilt"),
    "drivers/encoder_as5600": _fitted("sensor", "axis1_encoder"),
    "drivers/spare_probes": _fitted("sensor", "air", "spare_probes"),
    "core/season": _drives("hand"),
    "heat/trim": lambda cooker: cooker.heat.trim and cooker.probe.contents,
    "core/page": _fitted("cook", "display"),
    "drivers/oled_ssd1306": _fitted("cook", "display"),
    "drivers/rotary_knob": _fitted("cook", "knob_rotary"),
}


def unused_parts(cooker: Cooker) -> set[str]:
    """Parts ('mount/pulse_axis') that a board with the settings of this cooker never loads."""
    return {part for part, needed in OPTIONAL.items() if not needed(cooker)}


def _kept_names() -> set[str]:
    """Names of attributes that something outside the bundle uses: settings, the loader, the bench."""
    names = {name for pair in declared.board_names() for name in pair} | set(short_names().values())
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
    called = {**_CALLED, f"{_BOARDS}/{board}": ("Board",)}
    here = Path(__file__).parent
    makers = [here / "chip_names.py", *sorted(here.glob("firmware_*.py"))]
    made_of = repr((board, [(name, path.read_bytes()) for name, path in sources.items()],
                    [path.read_bytes() for path in makers]))
    file = cache_dir() / "bundle" / (hashlib.sha256(made_of.encode()).hexdigest() + ".json")
    if file.exists():
        told: dict[str, Any] = json.loads(file.read_bytes())
        inside = {part: tuple(got) for part, got in told["modules"].items()}
        return Bundle(told["texts"], inside, told["told"])
    other = {name for name, path in sources.items() if name.startswith(_BOARDS + "/") and _is_board(path)}
    other -= {f"{_BOARDS}/{board}"}
    texts = {name: with_short_names(board_source(path).decode()) for name, path in sources.items()
             if name != _LOADER and name not in other}
    sentences()  # refused where two have one code
    made = bundle(PACKAGE.name, marked(texts), _MAIN, called, sorted(_kept_names()))
    for setting, short in short_names().items():
        made.told.setdefault(short, []).append("setting " + setting)
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(f".{id(made)}")
    part.write_text(json.dumps({"texts": made.texts, "modules": made.modules, "told": made.told}))
    part.replace(file)
    return made


@functools.lru_cache(maxsize=1)
def sentences() -> dict[str, str]:
    """Code -> sentence, for all that a board of this firmware may tell by a mark."""
    return by_code(board_source(path).decode() for path in sorted(PACKAGE.rglob("*.py")))


def what_is(name: str, board: str = "pico") -> list[str]:
    """What a short name of a board's traceback may stand for: 'core/app: App', '.tick of App, Axis'."""
    return bundled(board).told.get(name, [])


def place_of(module: str, name: str, board: str = "pico") -> tuple[str, str]:
    """(importable name of the file, short name) under which a board has a name of a module's top."""
    made = bundled(board)
    part = next(part for part, inside in made.modules.items() if module in inside)
    return f"{PACKAGE.name}/{part}".replace("/", "."), short_of(f"{module}: {name}", board)


def short_of(what: str, board: str = "pico") -> str:
    """The short name of 'core/app: App' or '.tick'; an attribute that keeps its name has itself."""
    found = (short for short, meant in bundled(board).told.items()
             if what in [one.partition(" of ")[0] for one in meant])
    return next(found, what.rpartition(".")[2])


def _is_board(path: Path) -> bool:
    """Whether a file of the boards' folder is the one of a kind of board: it makes a Board."""
    return any(isinstance(node, ast.ClassDef) and node.name == "Board" for node in
               ast.parse(path.read_bytes()).body)


def board_texts(board: str, cooker: Cooker | None = None) -> dict[str, str]:
    """Part -> source. For a cooker the optional parts that it needs lie in those that ask for them; for any
    cooker (None) each lies by itself."""
    texts = bundled(board).texts
    if cooker is None:
        return texts
    unused = unused_parts(cooker)
    return merged({part: text for part, text in texts.items() if part not in unused}, set(OPTIONAL) - unused)


def board_files(board: str, cooker: Cooker | None = None,
                progress: Callable[[int, int], None] = lambda done, total: None) -> dict[str, bytes]:
    """'sunhob_board/core/app.mpy' -> bytes: what a kind of board holds for a cooker; for any cooker if None.

    Unsafe if the firmware does what cannot be bundled; UserError from the compiler."""
    texts = board_texts(board, cooker)
    files = {}
    for done, (part, text) in enumerate(texts.items()):
        files[f"{PACKAGE.name}/{part}.mpy"] = compile_small(text, part + ".py")
        progress(done + 1, len(texts))
    return files


if __name__ == "__main__":
    for asked in sys.argv[1:]:
        print(f"{asked}: {', '.join(what_is(asked)) or 'not a short name'}")
