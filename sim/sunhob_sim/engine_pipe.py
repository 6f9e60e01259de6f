"""The firmware on a MicroPython in a process of its own, one for each boot. Units: bytes, ms.

What runs is the .mpy that would be flashed. The process talks over its pipes: each exchange of the
stand-in modules is one line there and one back, and what shims/pipe.py saves by it is told there.
Which build of MicroPython it is: engine_micropython.py, engine_unix.py.
"""

import json
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any

from .board_host import BoardReset, VirtualBoard
from .engine import SHIMS, FirmwareError, compile_mpy, package_mpy

# Garbage is collected when so much has been taken; the WebAssembly build's own 16 kB are for web pages.
_COLLECT_BYTES = 256 * 1024
_BEFORE = """
import sys, gc, builtins
if sys.implementation._mpy & 0xff != 6:
    raise ImportError('this MicroPython reads another .mpy version than 6')
sys.path.insert(0, '%s/shims')
sys.path.insert(1, '%s/board')
import wire, pipe, flash, os, time, machine, rp2, esp32
builtins.open = flash.open
gc.threshold(%d)
wire.start(pipe, %d, %r)
def collect():
    gc.collect()
def heap():
    return gc.mem_alloc()
"""
_START = """
app = sys.modules['%s.main'].start()
cycle = app.cycle
"""


_SPI = -1  # in place of an address
_SENT_IN_VAIN = 20
_OFTEN_US = 5_000_000


class _Ahead:
    """What the firmware reads from the buses again and again, to be sent along before it asks.

    A key is (address or _SPI, register or mask of selected chips, length). What is read at every tick is
    always sent; else it is due when most of the time has gone that lay between the two reads before. What is
    read seldom is left to be asked for.
    """

    def __init__(self, board: VirtualBoard) -> None:
        self.board = board
        self._keys: dict[tuple[int, int, int], list[int]] = {}  # read last [us], its interval [us], in vain
        self._sent: list[tuple[int, int, int]] = []
        self._told: tuple[list[int], int] | None = None

    def read(self, key: tuple[int, int, int], ahead: bool = False) -> str | None:
        """What it reads now, in hex; None: nothing answers."""
        which, where, n = key
        board = self.board
        got = board.spi(where, n, ahead) if which == _SPI else board.i2c_read(which, where, n)
        return None if got is None else got.hex()

    def asked(self, key: tuple[int, int, int]) -> None:
        """The firmware has read this."""
        now = self.board.now_us
        kept = self._keys.get(key)
        if kept is None:
            self._keys[key] = [now, 0, 0]
        elif now > kept[0]:
            kept[:] = [now, now - kept[0], 0]

    def used(self, bits: int) -> None:
        """Bit k: the k-th of what was sent along was read."""
        for k, key in enumerate(self._sent):
            if bits >> k & 1:
                self.asked(key)
                if key[0] == _SPI:
                    self.read(key)

    def give(self) -> list[Any]:
        """To be added to an answer: what is due, and who answers where that has changed."""
        now, out = self.board.now_us, []
        self._sent = []
        for key, kept in list(self._keys.items()):
            if kept[1] <= _OFTEN_US and 20 * (now - kept[0]) >= 11 * (kept[1] if key[0] == _SPI else 0):
                kept[2] += 1
                if kept[2] > _SENT_IN_VAIN:
                    del self._keys[key]
                    continue
                self._sent.append(key)
                out += [*key, self.read(key, ahead=True)]
        told = self.board.answering()
        if told == self._told:
            return [out] if out else []
        self._told = told
        return [out, told]


class PipedEngine:
    """See engine.Engine. code_heap_bytes: what loading the firmware's modules takes [bytes].

    root: folder in which the interpreter finds /board and /shims, '' for its own; collect_bytes: garbage is
    collected when so much has been taken.
    """

    root = ""
    collect_bytes = _COLLECT_BYTES

    def __init__(self, board: VirtualBoard, folder: Path) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self.board = board
        self.folder = folder
        self._ahead = _Ahead(board)
        self._next = b""  # what the interpreter has asked already
        self.worst_cycle_ms = 0.0
        self.resets: list[tuple[int, int]] = []
        self._files: dict[str, bytes] | None = None
        self._heap_base = self._heap = 0
        self.code_heap_bytes = 0

    def _command(self) -> list[str]:
        """What starts the interpreter with its runner."""
        raise NotImplementedError

    def _hand_over(self, files: Mapping[str, bytes]) -> dict[str, Any]:
        """What the runner's first line says of these files; they may be put in place here instead."""
        raise NotImplementedError

    def _framed(self, line: bytes) -> bytes:
        """A line as it goes to the interpreter."""
        return line + b"\n"

    def _all_files(self) -> dict[str, bytes]:
        if self._files is None:
            program = package_mpy(self.folder, self.board.kind)
            files = {f"/board/{name}": body for name, body in program.items()}
            for shim in sorted(SHIMS.glob("*.py")):
                if shim.stem != "__init__":
                    files[f"/shims/{shim.stem}.mpy"] = compile_mpy(shim, shim.name)
            self._files = files
        return self._files

    def _imports(self) -> list[str]:
        """Every module is loaded before start(), so that code and what it makes can be told apart."""
        names = [name[:-4].replace("/", ".") for name in package_mpy(self.folder, self.board.kind)]
        return [f"import {name.removesuffix('.__init__')}" for name in names]

    def boot(self) -> None:
        """Power on: a new interpreter; flash and the devices on the bus are kept."""
        self._boot(1)

    def _boot(self, cause: int) -> None:
        self.close()
        self.board.power_on(cause)
        self._ahead = _Ahead(self.board)
        first = {
            **self._hand_over(self._all_files()),
            "before": _BEFORE % (self.root, self.root, self.collect_bytes, cause, self.board.machine),
            "load": "\n".join(self._imports()),
            "start": _START % self.folder.name,
        }
        self._process = subprocess.Popen(self._command(), stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        try:
            bare, loaded = self._turn(json.dumps(first)).split()
            self._heap_base = self._heap = int(loaded)
            self.code_heap_bytes = int(loaded) - int(bare)
        except BoardReset as reset:
            self._reset(reset)

    def _reset(self, reset: BoardReset) -> None:
        self.resets.append((self.board.now_us, reset.cause))
        if len(self.resets) > 3 and self.resets[-4][0] == self.board.now_us:
            raise FirmwareError("firmware: resets again and again without time going on")
        self._boot(reset.cause)

    def cycle(self) -> None:
        """One turn of the firmware's loop; a reset of the board boots it anew."""
        try:
            told = self._turn().split()
        except BoardReset as reset:
            self._reset(reset)
            return
        took = float(told[0])
        if len(told) > 1:
            self._heap = int(told[1])
        if took > self.worst_cycle_ms:
            self.worst_cycle_ms = took

    def heap_bytes(self) -> int:
        """Bytes held after a collection by what start() and the cycles made, measured each 512 cycles."""
        return max(0, self._heap - self._heap_base)

    def mpy_bytes(self) -> int:
        """Size of the firmware as it is flashed [bytes]."""
        return sum(map(len, package_mpy(self.folder, self.board.kind).values()))

    def close(self) -> None:
        """End the interpreter; the board stays."""
        process, self._process = self._process, None
        self._next = b""
        if process is not None:
            process.kill()
            process.wait()
            for pipe in (process.stdin, process.stdout):
                _shut(pipe)

    def __del__(self) -> None:
        self.close()

    def _turn(self, line: str = "") -> str:
        """Serve the bench's calls until a cycle, or the boot that `line` asks for, is done; what D tells."""
        process = self._process
        if process is None or process.stdin is None or process.stdout is None:
            raise FirmwareError("firmware: not booted, or ended by an error; boot() it")
        write, flush, read = process.stdin.write, process.stdin.flush, process.stdout.readline
        try:
            if line:
                write(self._framed(line.encode()))
                flush()
            while True:
                got, self._next = self._next or read(), b""
                if got[:1] == b"[":
                    answer = json.dumps(self._serve(json.loads(got)), separators=(",", ":"))
                    write(self._framed(answer.encode()))
                    flush()
                elif got[:2] == b"D ":
                    told, _, self._next = got[2:].partition(b"\t")
                    self._next = self._next.lstrip()
                    return told.decode()
                elif got[:2] == b"E ":
                    raise FirmwareError(json.loads(got[2:]))
                else:
                    raise FirmwareError("firmware: the interpreter ended without a word")
        except BaseException:
            self.close()
            raise

    def _serve(self, call: list[Any]) -> Any:
        kind = call[0]
        if isinstance(kind, int):
            return self._exchange(kind, *call[1:])
        if len(call) > 4:
            self._write(call[4])
        if kind == "w":
            return self.board.i2c_write(call[1], call[2], bytes.fromhex(call[3]))
        if kind == "f":
            got = self.board.flash(call[1], call[2], bytes.fromhex(call[3]))
            return None if got is None else got.hex()
        key = (call[1], call[2], call[3])
        self._ahead.asked(key)
        return self._ahead.read(key)

    def _exchange(self, wait_us: int, out: list[Any], posted: list[Any], used: int) -> list[Any]:
        self._write(posted)
        self._ahead.used(used)
        for i in range(0, len(out), 3):
            if out[i] == 6:
                out[i + 2] = bytes.fromhex(out[i + 2])
        reply = [*self.board.exchange(wait_us, out), *self._ahead.give()]
        if reply[7]:
            reply[7] = [(port, data.hex()) for port, data in reply[7]]
        return reply

    def _write(self, posted: list[Any]) -> None:
        for i in range(0, len(posted), 3):
            self.board.i2c_write(posted[i], posted[i + 1], bytes.fromhex(posted[i + 2]))


def _shut(pipe: IO[bytes] | None) -> None:
    if pipe is not None:
        try:
            pipe.close()
        except OSError:
            pass
