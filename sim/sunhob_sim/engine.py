"""What both engines share: making one, compiling the firmware, errors. Units: bytes, ms of wall time."""

import importlib.util
from pathlib import Path
from typing import Protocol

from sunhob.errors import UserError
from sunhob.firmware_build import PACKAGE, board_files, board_source
from sunhob.mpy import compile_text

from .board_host import VirtualBoard

# single: cpython, the firmware's floats rounded to 32 bits; unix: a MicroPython that the machine has
ENGINES = ("micropython", "cpython", "single", "unix")
SHIMS = Path(__file__).with_name("shims")


class FirmwareError(Exception):
    """The firmware raised and nothing on board caught it; the text is its traceback."""


class Engine(Protocol):
    """Boots the firmware on a virtual board and runs it cycle by cycle.

    worst_cycle_ms [wall ms, the bench's own time taken off]; resets: (us, cause) of each reset;
    heap_bytes: what the firmware's objects hold, code not counted (0 where the engine cannot tell);
    code_heap_bytes: what its loaded modules hold; mpy_bytes: its size as flashed.
    """

    board: VirtualBoard
    worst_cycle_ms: float
    code_heap_bytes: int
    resets: list[tuple[int, int]]

    def boot(self) -> None: ...
    def cycle(self) -> None: ...
    def heap_bytes(self) -> int: ...
    def mpy_bytes(self) -> int: ...
    def close(self) -> None: ...


def firmware_dir(package: str) -> Path:
    """Folder of an importable package, found without importing it."""
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise FirmwareError(f"firmware: no package named {package}")
    return Path(next(iter(spec.submodule_search_locations)))


def make_engine(name: str, board: VirtualBoard, package: str | Path = "sunhob_board") -> Engine:
    """name: one of ENGINES; package: name or folder of what goes on the board."""
    folder = firmware_dir(package) if isinstance(package, str) else package
    if name in ("cpython", "single"):
        from .engine_cpython import CPythonEngine

        return CPythonEngine(board, folder, name == "single")
    if name == "micropython":
        from .engine_micropython import MicroPythonEngine

        return MicroPythonEngine(board, folder)
    if name == "unix":
        from .engine_unix import UnixEngine

        return UnixEngine(board, folder)
    raise UserError(f"engine: {name!r} is none of {', '.join(ENGINES)}; use one of them")


def compile_mpy(source: Path, shown_name: str) -> bytes:
    """The .mpy of one source file as a board needs it."""
    return compile_text(board_source(source), shown_name)


_packages: dict[Path, tuple[tuple[tuple[Path, int], ...], dict[str, bytes]]] = {}


def package_mpy(folder: Path, kind: str = "pico") -> dict[str, bytes]:
    """'package/sub/name.mpy' -> bytes, as flashed: the product's firmware bundled for a kind of board, with
    every part that any cooker needs; another package module by module. Made once while no file changes."""
    if folder == PACKAGE:
        return board_files(kind)
    sources = sorted(folder.rglob("*.py"))
    stamps = tuple((source, source.stat().st_mtime_ns) for source in sources)
    kept = _packages.get(folder)
    if kept is None or kept[0] != stamps:
        files = {}
        for source in sources:
            name = f"{folder.name}/{source.relative_to(folder).as_posix()}"
            files[name[:-3] + ".mpy"] = compile_mpy(source, name)
        kept = _packages[folder] = (stamps, files)
    return dict(kept[1])
