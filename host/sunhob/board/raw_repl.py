"""The console of a MicroPython board as a program uses it: raw mode, one piece of code at a time.

Units: seconds. Protocol as in MicroPython's documentation, "The MicroPython Interactive Interpreter Mode",
raw and raw-paste mode: Ctrl-A enters; Ctrl-E A Ctrl-A asks for pasting with a window, so that no port runs
over; code, Ctrl-D; then output, Ctrl-D, error text, Ctrl-D.
"""

from __future__ import annotations

import time

from sunhob_board.loader import ESCAPE

from ..errors import LinkError, SunhobError
from ..link import Wire, lost

_PROMPT = b"raw REPL; CTRL-B to exit\r\n>"
_PIECE = 256
_PAUSE_S = 0.01
_QUIET_S = 0.2
_TRY_S = 0.25  # less than the loader listens at each start


class BoardError(SunhobError):
    """What ran on the board raised; the text is the last line of its traceback."""


class RawRepl:
    """wire: an open port whose reads return within a short while; url names it in mistakes."""

    def __init__(self, wire: Wire, url: str) -> None:
        self.wire = wire
        self.url = url
        self._held = bytearray()
        self._paste = True

    def enter(self, timeout_s: float = 5.0) -> None:
        """Stop whatever runs there and take the console; LinkError where none answers.

        A controller that fails at each start is heard by nobody but its loader: it is told its words as well.
        """
        until, tries = time.monotonic() + timeout_s, 0
        while True:
            self._write(ESCAPE + b"\r\x03\x03\r\x01")
            tries += 1
            try:
                self._until(_PROMPT, min(_TRY_S, timeout_s))
            except LinkError:
                if time.monotonic() >= until:
                    raise
                continue
            if tries > 1:
                self._quieten()
            return

    def run(self, code: str, timeout_s: float = 20.0) -> str:
        """Run code there; what it printed. BoardError with the last line of what it raised."""
        self._send(code.encode())
        out = self._until(b"\x04", timeout_s)[:-1]
        error = self._until(b"\x04", timeout_s)[:-1]
        self._until(b">", timeout_s)
        if error.strip():
            raise BoardError(error.decode(errors="replace").strip().splitlines()[-1])
        return out.decode(errors="replace")

    def reset(self) -> None:
        """Restart the board and let the port go once it has the code: there is no answer to wait for."""
        try:
            self._send(b"import machine\nmachine.reset()")
        except LinkError:
            pass
        self.close()

    def close(self) -> None:
        try:
            self.wire.close()
        except OSError:
            pass

    def _send(self, code: bytes) -> None:
        if self._paste:
            self._write(b"\x05A\x01")
            told = self._exactly(2)
            if told == b"R\x01":
                self._pasted(code)
                return
            self._paste = False
            if told != b"R\x00":  # an old board takes it for a piece of code
                self._until(_PROMPT, 3.0)
        for at in range(0, len(code), _PIECE):
            self._write(code[at : at + _PIECE])
            time.sleep(_PAUSE_S)
        self._write(b"\x04")
        if self._exactly(2) != b"OK":
            raise LinkError(f"port {self.url}: the console did not take the code; run it again")

    def _pasted(self, code: bytes) -> None:
        size = int.from_bytes(self._exactly(2), "little")
        room, at = size, 0
        while at < len(code):
            while room == 0 or self._held:
                told = self._exactly(1)
                if told != b"\x01":
                    self._write(b"\x04")
                    raise LinkError(f"port {self.url}: the console broke off; run it again")
                room += size
            part = code[at : at + room]
            self._write(part)
            at, room = at + len(part), room - len(part)
        self._write(b"\x04")
        self._until(b"\x04", 5.0)

    def _until(self, end: bytes, timeout_s: float) -> bytes:
        """What comes up to and with `end`; the timeout runs from the last byte heard."""
        quiet = time.monotonic() + timeout_s
        while True:
            at = self._held.find(end)
            if at >= 0:
                return self._take(at + len(end))
            if self._read():
                quiet = time.monotonic() + timeout_s
            elif time.monotonic() >= quiet:
                raise LinkError(f"port {self.url}: the console does not answer")

    def _quieten(self) -> None:
        """Let the answers to earlier tries go by."""
        quiet = time.monotonic() + _QUIET_S
        while time.monotonic() < quiet:
            if self._read():
                quiet = time.monotonic() + _QUIET_S
        self._held.clear()

    def _exactly(self, count: int) -> bytes:
        quiet = time.monotonic() + 5.0
        while len(self._held) < count:
            if not self._read() and time.monotonic() >= quiet:
                raise LinkError(f"port {self.url}: the console does not answer")
        return self._take(count)

    def _take(self, count: int) -> bytes:
        got = bytes(self._held[:count])
        del self._held[:count]
        return got

    def _read(self) -> bool:
        try:
            got = self.wire.read(max(1, getattr(self.wire, "in_waiting", 1)))
        except OSError as error:
            raise lost(self.url, error) from None
        self._held += got
        return bool(got)

    def _write(self, data: bytes) -> None:
        try:
            self.wire.write(data)
        except OSError as error:
            raise lost(self.url, error) from None
