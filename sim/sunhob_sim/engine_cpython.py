"""The firmware in this process, on CPython: for coverage, the debugger and property tests. Units: ms.

With single=True every float of the firmware is rounded to a board's single float (single_float.py).
Every boot loads its own copies of the firmware's modules and of the stand-ins, so boards do not share
a thing; code objects are compiled once, under their real file names.
"""

import builtins
import time as wall
import traceback
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any, NoReturn

from . import framebuf_stand_in
from .board_host import BoardReset, VirtualBoard
from .engine import SHIMS, FirmwareError, package_mpy
from .single_float import names, rewritten, single_modules

_SHIM_NAMES = {"machine": "machine", "rp2": "rp2", "esp32": "esp32",
               "time": "time", "utime": "time", "wire": "wire",
               "os": "os", "uos": "os", "flash": "flash"}  # fmt: skip
_codes: dict[tuple[Path, bool], tuple[int, CodeType]] = {}
_ROUNDINGS = names()


def _code(path: Path, single: bool) -> CodeType:
    stamp = path.stat().st_mtime_ns
    kept = _codes.get((path, single))
    if kept is None or kept[0] != stamp:
        text = path.read_bytes()
        code = rewritten(text, str(path)) if single else compile(text, str(path), "exec", dont_inherit=True)
        kept = _codes[path, single] = (stamp, code)
    return kept[1]


def _small_modules() -> dict[str, ModuleType]:
    micropython, gc = ModuleType("micropython"), ModuleType("gc")
    micropython.__dict__.update(
        const=lambda value: value,
        schedule=lambda call, arg: call(arg),
        alloc_emergency_exception_buf=lambda size: None,
        kbd_intr=lambda char: None,
        opt_level=lambda level=None: 0,
        mem_info=lambda verbose=None: None,
    )
    gc.__dict__.update(
        collect=lambda: 0, mem_alloc=lambda: 0, mem_free=lambda: 1 << 18, threshold=lambda n=-1: -1,
        enable=lambda: None, disable=lambda: None,
    )  # fmt: skip
    framebuf = ModuleType("framebuf")
    framebuf.__dict__.update(FrameBuffer=framebuf_stand_in.FrameBuffer, MONO_VLSB=framebuf_stand_in.MONO_VLSB)
    return {"micropython": micropython, "gc": gc, "framebuf": framebuf}


class Loader:
    """Modules of one boot: the firmware's package and the stand-ins are private to it."""

    def __init__(self, folder: Path, printed: list[str], single: bool = False) -> None:
        self.folder = folder
        self.single = single
        self.package = folder.name
        self.modules: dict[str, ModuleType] = _small_modules()
        if single:
            self.modules.update(single_modules())
        self.builtins = dict(vars(builtins))
        self.builtins["__import__"] = self.import_
        self.builtins["print"] = lambda *a, sep=" ", end="\n", file=None: printed.append(
            sep.join(map(str, a))
        )
        self.builtins["open"] = vars(self.load("flash"))["open"]

    def import_(
        self, name: str, glob: Any = None, loc: Any = None, fromlist: Any = (), level: int = 0
    ) -> Any:
        """What `import` does in the firmware."""
        if level:
            base = glob["__package__"].split(".")
            name = ".".join(base[: len(base) - level + 1] + ([name] if name else []))
        top = name.partition(".")[0]
        if top != self.package and top not in _SHIM_NAMES and top not in self.modules:
            return builtins.__import__(name, glob, loc, fromlist, 0)
        module = self.load(name)
        if not fromlist:
            return self.load(top)
        if hasattr(module, "__path__"):
            for part in fromlist:
                if part != "*" and not hasattr(module, part):
                    self.load(f"{name}.{part}")
        return module

    def load(self, name: str) -> ModuleType:
        kept = self.modules.get(name)
        if kept is not None:
            return kept
        parent = name.rpartition(".")[0]
        if parent:
            self.load(parent)
        path, is_package = self._find(name)
        module = ModuleType(name)
        package = name if is_package else parent
        vars(module).update(__file__=str(path), __package__=package, __builtins__=self.builtins)
        if is_package:
            vars(module)["__path__"] = [str(path.parent)]
        self.modules[name] = module
        rounds = self.single and path.is_relative_to(self.folder)  # what stands in for a chip has its own
        if rounds:
            vars(module).update(_ROUNDINGS)
        try:
            exec(_code(path, rounds), vars(module))
        except BaseException:
            del self.modules[name]
            raise
        if parent:
            setattr(self.modules[parent], name.rpartition(".")[2], module)
        return module

    def _find(self, name: str) -> tuple[Path, bool]:
        if name in _SHIM_NAMES:
            return SHIMS / f"{_SHIM_NAMES[name]}.py", False
        path = self.folder.parent.joinpath(*name.split("."))
        if (path / "__init__.py").exists():
            return path / "__init__.py", True
        if path.with_suffix(".py").exists():
            return path.with_suffix(".py"), False
        raise ModuleNotFoundError(f"no module named {name!r} in the firmware", name=name)


class _TimedHost:
    """The board, with the time spent in it taken down."""

    def __init__(self, board: VirtualBoard) -> None:
        self._exchange = board.exchange
        self.i2c_read, self.i2c_write, self.flash = board.i2c_read, board.i2c_write, board.flash
        self.spi = board.spi
        self.spent_s = 0.0
        self.failed: Exception | None = None  # the bench's own fault, not the firmware's

    def exchange(self, wait_us: int, out: list[Any]) -> tuple[Any, ...]:
        t0 = wall.perf_counter()
        try:
            got = self._exchange(wait_us, out)
        except Exception as err:
            self.failed = err
            raise
        self.spent_s += wall.perf_counter() - t0
        return got


class CPythonEngine:
    """See engine.Engine. app: what main.start() gave; modules: by name; printed: the console."""

    def __init__(self, board: VirtualBoard, folder: Path, single: bool = False) -> None:
        self.board = board
        self.folder = folder
        self.single = single
        self.worst_cycle_ms = 0.0
        self.code_heap_bytes = 0
        self.resets: list[tuple[int, int]] = []
        self.printed: list[str] = []
        self.app: Any = None
        self.modules: dict[str, ModuleType] = {}

    def boot(self) -> None:
        """Power on: everything new but the flash and the devices on the bus."""
        self._boot(1)

    def _boot(self, cause: int) -> None:
        self.board.power_on(cause)
        loader = Loader(self.folder, self.printed, self.single)
        self.modules = loader.modules
        self._host = _TimedHost(self.board)
        try:
            vars(loader.load("wire"))["start"](self._host, cause, self.board.machine)
            self.app = loader.load(loader.package + ".main").start()  # type: ignore[attr-defined]
        except BoardReset as reset:
            self._reset(reset)
        except Exception as err:
            self._blame(err)
        self._cycle = self.app.cycle

    def _blame(self, err: Exception) -> NoReturn:
        if err is self._host.failed:
            raise err
        raise FirmwareError("".join(traceback.format_exception(err))) from err

    def _reset(self, reset: BoardReset) -> None:
        self.resets.append((self.board.now_us, reset.cause))
        if len(self.resets) > 3 and self.resets[-4][0] == self.board.now_us:
            raise FirmwareError("firmware: resets again and again without time going on")
        self._boot(reset.cause)

    def cycle(self) -> None:
        """One turn of the firmware's loop; a reset of the board boots it anew."""
        host = self._host
        host.spent_s = 0.0
        t0 = wall.perf_counter()
        try:
            self._cycle()
        except BoardReset as reset:
            self._reset(reset)
            return
        except Exception as err:
            self._blame(err)
        took = (wall.perf_counter() - t0 - host.spent_s) * 1000
        if took > self.worst_cycle_ms:
            self.worst_cycle_ms = took

    def heap_bytes(self) -> int:
        """0: CPython's heap says nothing about a board's."""
        return 0

    def mpy_bytes(self) -> int:
        """Size of the firmware as it would be flashed [bytes]."""
        return sum(map(len, package_mpy(self.folder, self.board.kind).values()))

    def close(self) -> None:
        """Let the firmware go; the board stays."""
        self.app = None
        self.modules = {}
