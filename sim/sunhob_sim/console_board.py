"""A board on the desk: real MicroPython with a console, a flash that outlives resets, and pins at rest.

Units: bytes, virtual seconds in the firmware. For the installer: no dish hangs on its pins. What it runs is
what was installed, byte for byte. Each start is a process of its own, so that a power cut is one as well.
"""

import base64
import json
import os
import select
import subprocess
import time
from pathlib import Path

from sunhob.errors import LinkError

from . import pins, wasm_home
from .engine import SHIMS, compile_mpy

_SCRIPT = Path(__file__).with_name("engine_node") / "console.mjs"
_SHIM_NAMES = ("machine", "rp2", "time", "wire")
MACHINE = "Raspberry Pi Pico with RP2040"
_BEFORE = """
import sys as _sys, os as _os, js as _js
_sys.path.insert(0, '/shims')
class _Bare: pass
class _In:
    def readinto(self, buf):
        n = 0
        while n < len(buf):
            _js.board.ready(1000000)
            buf[n] = _js.board.take()
            n += 1
        return n
    def read(self, n):
        buf = bytearray(n)
        self.readinto(buf)
        return bytes(buf)
class _Out:
    def write(self, data):
        import binascii
        _js.board.send(str(binascii.hexlify(bytes(data)), 'utf8'))
        return len(data)
sys = _Bare()
for _name in dir(_sys):
    if _name[:2] != '__':
        setattr(sys, _name, getattr(_sys, _name))
sys.platform = 'rp2'
sys.implementation = _Bare()
sys.implementation.name = 'micropython'
sys.implementation.version = %(version)r
sys.implementation._mpy = _sys.implementation._mpy
sys.stdin, sys.stdout = _Bare(), _Bare()
sys.stdin.buffer, sys.stdout.buffer = _In(), _Out()
_sys.modules['sys'] = sys
os = _Bare()
import builtins as _builtins
def _told(do):  # this build has the error numbers of Emscripten, a board those of Linux
    def ask(*args):
        try:
            return do(*args)
        except OSError as err:
            raise OSError({44: 2, 20: 17, 31: 21, 54: 20, 55: 39}.get(err.errno, err.errno))
    return ask
for _name in ('listdir', 'mkdir', 'remove', 'rename', 'rmdir', 'stat'):
    setattr(os, _name, _told(getattr(_os, _name)))
os.ilistdir = _told(lambda *path: iter(list(_os.ilistdir(*path))))
_builtins.open = _told(open)
class _Uname: pass
_uname = _Uname()
_uname.machine = %(machine)r
_uname.release = '.'.join([str(n) for n in %(version)r[:3]])
os.uname = lambda: _uname
os.statvfs = lambda path: (4096, 4096, %(blocks)d, %(blocks)d - _js.board.used() // 4096, 0, 0, 0, 0, 0, 255)
_sys.modules['os'] = os
select = _Bare()
select.POLLIN, select.POLLOUT = 1, 4
class _Poll:
    def register(self, stream, mask):
        self.mask = mask
    def poll(self, ms=-1):
        if self.mask == 4:
            return [1]
        if ms:
            return [1] if _js.board.ready(ms / %(speed)d) else []
        return [1] if _js.board.ready(0) else []
select.poll = _Poll
_sys.modules['select'] = select
binascii = _Bare()
import binascii as _b
binascii.hexlify, binascii.unhexlify = _b.hexlify, _b.unhexlify
def _crc32(data, crc=0):
    return int(_js.board.crc(str(_b.hexlify(bytes(data)), 'utf8'), str(crc)))
def _a2b(data):
    return _b.unhexlify(_js.board.plain(str(data, 'utf8')))
binascii.crc32, binascii.a2b_base64 = _crc32, _a2b
_sys.modules['binascii'] = binascii
import wire as _wire
class _Host:
    def __init__(self):
        self.us = 0
    def exchange(self, wait_us, out):
        if 8 in out[::3]:
            _js.board.end()
        import time as _t
        if wait_us:
            _js.board.ready(wait_us / 1000 / %(speed)d)
        self.us += wait_us
        ms = self.us // 1000 & 0x3fffffff
        return (wait_us, ms, self.us %% 1000, %(pins)d, %(known)d, None, None, None, False)
    def i2c_read(self, a, r, n):
        return None
    def i2c_write(self, a, r, d):
        return False
    def spi(self, low, n):
        return bytes(n)
_wire.start(_Host(), 1)
def _idle():
    _wire.exchange(%(speed)d * 20000)
del sys, os, select, binascii
"""


class ConsoleBoard:
    """A port (read, write, close, in_waiting) to a board whose flash outlives each end.

    lines: times the host has written; cut_at: the write before which the cable, and with it the power, goes.
    """

    def __init__(self, folder: Path, version: tuple[int, int, int, str] = (1, 27, 0, ""),
                 machine: str = MACHINE, blocks: int = 352, speed: int = 40) -> None:
        self.file = folder / "flash.json"
        if not self.file.exists():
            self.file.write_text("{}")
        node, build = wasm_home.ensure()
        boot = folder / "boot.json"
        known = {**pins.AT_REST}
        told = {"version": version, "machine": machine, "blocks": blocks, "speed": speed,
                "pins": sum(level << pin for pin, level in known.items()),
                "known": sum(1 << pin for pin in known)}
        shims = {f"/shims/{name}.mpy": base64.b64encode(compile_mpy(SHIMS / f"{name}.py", name)).decode()
                 for name in _SHIM_NAMES}
        boot.write_text(json.dumps({"shims": shims, "before": _BEFORE % told}))
        module = (build / "micropython.mjs").as_uri()
        self._command = [str(node), str(_SCRIPT), module, str(self.file), str(boot)]
        self._process: subprocess.Popen[bytes] | None = None
        self._text = b""
        self._held = bytearray()
        self.lines = 0
        self.starts = 0
        self.cut_at: int | None = None
        self.there = True  # whether the cable is in

    # --- the port ---------------------------------------------------------------------------
    def open(self, _url: str = "") -> "ConsoleBoard":
        """The port, as sunhob.link.open_wire gives one."""
        if not self.there:
            raise LinkError("port: cannot be opened; look at the cable")
        self._run()
        self._held.clear()
        return self

    def read(self, size: int = 1, /) -> bytes:
        self._hear(0.0 if self._held else 0.02)
        got = bytes(self._held[:size])
        del self._held[: len(got)]
        return got

    def said(self) -> bytes:
        """All that waits to be read, at once."""
        self._hear(0.0)
        got = bytes(self._held)
        self._held.clear()
        return got

    def speaks_on(self) -> list[int]:
        """What select() watches for more of it: a file number, none while the board is off."""
        return [self._process.stdout.fileno()] if self._process and self._process.stdout else []

    @property
    def in_waiting(self) -> int:
        self._hear(0.0)
        return max(1, len(self._held))

    def write(self, data: bytes, /) -> int:
        if not self.there:
            raise OSError("the cable is out")
        if self.cut_at is not None and self.lines >= self.cut_at:
            self.cut_power()
            self.there = False
            raise OSError("the cable is out")
        self.lines += 1
        self._run()
        self._say(data.hex().encode() + b"\n")
        return len(data)

    def close(self) -> None:
        """Let the port go; the board runs on."""

    # --- the board ------------------------------------------------------------------------------
    def plug(self) -> None:
        """Put the cable back in."""
        self.cut_at, self.there = None, True

    def cut_power(self) -> None:
        """End the board where it is; the flash stays as it is at this moment."""
        if self._process is not None and self._process.poll() is None:
            self._say(b"P\n")
            self._process.wait(timeout=30)
        self._hear(0.0, again=False)
        self._end()

    def flash(self) -> dict[str, bytes]:
        """The files after a power cut."""
        self.cut_power()
        kept = json.loads(self.file.read_text())
        return {path: base64.b64decode(body) for path, body in kept.items() if not path.endswith("/")}

    def put_flash(self, files: dict[str, bytes]) -> None:
        """Files for a board that is off."""
        kept = {path: base64.b64encode(body).decode() for path, body in files.items()}
        self.file.write_text(json.dumps(kept))

    def run_for(self, seconds: float) -> None:
        """Let it run so long [wall s]."""
        self._run()
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self._hear(0.05)
            self._run()

    def off(self) -> None:
        self.cut_power()

    # --- inside ---------------------------------------------------------------------------------
    def _run(self) -> None:
        """A board with power runs: after a reset it starts again."""
        if self._process is not None and self._process.poll() is None:
            return
        self._end()
        r, w = os.pipe()
        os.set_blocking(r, False)
        self._process = subprocess.Popen(self._command, stdin=r, stdout=subprocess.PIPE)
        os.close(r)
        self._in = w
        self.starts += 1

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        if process.poll() is None:
            process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()
        os.close(self._in)
        self._text = b""

    def _say(self, line: bytes) -> None:
        while line:
            try:
                line = line[os.write(self._in, line):]
            except BrokenPipeError:
                return

    def _hear(self, wait_s: float, again: bool = True) -> None:
        """Take what the board says; one that has ended by itself starts again."""
        process = self._process
        if process is None or process.stdout is None:
            time.sleep(wait_s)
            return
        fd = process.stdout.fileno()
        while select.select([fd], [], [], wait_s)[0]:
            got = os.read(fd, 65536)
            if not got:
                process.wait()
                self._end()
                if again and self.there:
                    self._run()
                return
            self._text += got
            wait_s = 0.0
        *lines, self._text = self._text.split(b"\n")
        for line in lines:
            self._held += bytes.fromhex(line.decode())
