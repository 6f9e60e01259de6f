"""The host's end of the link: ask the board of a dish, hear what it tells.

Units: seconds on the host (`_s`), the board's own in the keys of what it answers.
One line = JSON text, ' #', eight upper-case hex digits of CRC-32/ISO-HDLC of the text, line feed.
A board tells its sentences by marks; whoever listens here has them in full.
"""

from __future__ import annotations

import errno
import json
import os
import random
import time
from binascii import crc32
from collections.abc import Callable
from importlib import import_module, metadata
from typing import Any, Protocol
from urllib.parse import urlsplit

import serial
from serial.tools.list_ports import comports
from sunhob_board.declared.methods import METHODS

from .errors import LinkError, UserError
from .firmware_marks import in_full

MAX_LINE = 4096
MAX_REQUEST = 512
_TRY_S = 1.5
_KNOCK_S = 0.25  # between two hellos: a board that starts takes the first for its console's
_READ_S = 0.05
_TAIL = 10
_TAKEN = (errno.EAGAIN, errno.EBUSY)
_REPEATABLE = frozenset({"hello", "status", "leave", "log"})  # asking twice does no harm
# served whatever the tables say
_MAY_DIFFER = frozenset({"hello", "status", "leave", "aside", "log", "console"})

Told = Callable[[dict[str, Any]], None]


class BoardRefused(UserError):
    """The board understood and would not. code: the number of JSON-RPC 2.0, -32000 for "not now"."""

    def __init__(self, code: int, text: str) -> None:
        super().__init__(text)
        self.code = code


class Wire(Protocol):
    """What a line needs of a port: `read` waits a short while and may return nothing."""

    def read(self, size: int, /) -> bytes: ...

    def write(self, data: bytes, /) -> int | None: ...

    def close(self) -> None: ...


def table_id() -> str:
    """CRC of the method table this host was built with, eight hex digits."""
    return f"{crc32(repr([(row[0], row[1]) for row in METHODS]).encode()):08X}"


def encode(message: dict[str, Any]) -> bytes:
    """The whole line for a message, line feed included."""
    body = json.dumps(message, allow_nan=False, separators=(",", ":")).encode("ascii")
    return body + f" #{crc32(body):08X}\n".encode("ascii")


def decode(line: bytes) -> dict[str, Any] | None:
    """The message in a line without its line feed, or None if it is harmed or no line of the link."""
    line = line.removesuffix(b"\r")
    body, tail = line[:-_TAIL], line[-_TAIL:]
    if len(line) <= _TAIL or tail != f" #{crc32(body):08X}".encode("ascii"):
        return None
    try:
        message = json.loads(body)
    except (ValueError, RecursionError):
        return None
    return message if isinstance(message, dict) else None


class Splitter:
    """Bytes in, whole lines out; never holds more than one line. overlong: lines thrown away."""

    def __init__(self, limit: int = MAX_LINE) -> None:
        self.limit = limit
        self.overlong = 0
        self._held = bytearray()
        self._skip = False

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that `data` completes, without their line feeds; empty lines are left out."""
        lines: list[bytes] = []
        *whole, rest = data.split(b"\n")
        for part in whole:
            self._add(part)
            if self._skip:
                self.overlong += 1
            elif self._held.strip():
                lines.append(bytes(self._held))
            self._held.clear()
            self._skip = False
        self._add(rest)
        return lines

    def _add(self, part: bytes) -> None:
        if len(self._held) + len(part) > self.limit:
            self._held.clear()
            self._skip = True
        elif not self._skip:
            self._held += part


def open_wire(url: str) -> Wire:
    """A serial port, `socket://host:port`, or `bench:SCENARIO` for a virtual board. Raises LinkError."""
    if url.startswith("bench:"):
        return _open_bench(url.removeprefix("bench:"))
    if url.startswith("socket://"):
        _check_socket(url)
    try:
        wire: Wire = serial.serial_for_url(url, baudrate=115_200, timeout=_READ_S, write_timeout=2.0,
                                           exclusive=True)
    except (OSError, ValueError) as error:
        if getattr(error, "errno", None) in _TAKEN:
            raise LinkError(f"port {url}: another program has it open; end that one first") from None
        raise LinkError(f"port {url}: cannot be opened ({_why(error)}); {_ports_here()}") from None
    return wire


def _why(error: Exception) -> str:
    """What the system says, without what pyserial says about it twice; it keeps the number in the cause."""
    one: BaseException | None = error
    while one is not None:
        number = getattr(one, "errno", None) or next(iter(one.args), None)
        if isinstance(number, int) and not isinstance(number, bool):
            return "it is no serial port" if number == errno.ENOTTY else os.strerror(number)
        one = one.__context__
    return " ".join(str(error).split())


def lost(url: str, error: Exception, doing: str = "") -> LinkError:
    """What to raise where an open port goes away, with the system's own word for it where there is one."""
    why = _why(error)
    told = "" if "readiness to read" in why else f" ({why})"  # pyserial's guess: it read nothing, that is all
    return LinkError(f"port {url}: lost{doing}{told}; look at the cable")


def _ports_here() -> str:
    there = sorted(one.device for one in comports())
    ports = f"serial ports here: {', '.join(there)}" if there else "there is no serial port here"
    return f"look at the cable and the name; {ports}"


def _check_socket(url: str) -> None:
    """pyserial's own words for a bad address would not help anybody."""
    try:
        parts = urlsplit(url)
        good = bool(parts.hostname) and parts.port is not None
    except ValueError:
        good = False
    if not good:
        raise LinkError(f"port {url}: is no address; write socket://HOST:PORT with a PORT of 1 to 65535")


def _open_bench(scenario: str) -> Wire:
    try:
        opener = import_module("sunhob_sim.live").open_port
    except (ImportError, AttributeError):
        raise LinkError(f"port bench:{scenario}: this installation has no live bench") from None
    wire: Wire = opener(scenario)
    return wire


class Dish:
    """One board on one port. events, telemetry: called with what the board tells while it is listened to.

    bad_lines: lines heard that were harmed or no lines of the link.
    """

    def __init__(self, url: str, events: Told | None = None, telemetry: Told | None = None,
                 wire: Wire | None = None) -> None:
        self.url = url
        self.events = events
        self.telemetry = telemetry
        self.bad_lines = 0
        self._wire = wire if wire is not None else open_wire(url)
        self._splitter = Splitter()
        self._id = random.randrange(1, 1 << 20)  # so that no answer to an earlier program is taken for ours
        self._hello: dict[str, Any] | None = None
        self._write(b"\n")  # closes whatever half line the board may still hold

    def __enter__(self) -> Dish:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._wire.close()

    def hello(self, timeout_s: float = 4.0) -> dict[str, Any]:
        """Versions and table of the board, asked once."""
        if self._hello is None:
            self._hello = self._ask("hello", {}, timeout_s)
        return self._hello

    def call(self, method: str, timeout_s: float = 4.0, **params: Any) -> dict[str, Any]:
        """The board's answer. Raises BoardRefused, or LinkError when none comes within `timeout_s`.

        What moves or changes anything, leaving excepted, is asked only of a board with this very table.
        """
        if method not in _MAY_DIFFER:
            self._same_table(timeout_s)
        return self._ask(method, params, timeout_s)

    def listen(self, seconds: float) -> None:
        """Hand on events and telemetry for a while [s]."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self._hear(None)

    def _same_table(self, timeout_s: float) -> None:
        board = self.hello(timeout_s)
        if board.get("table") != table_id():
            raise LinkError(
                f"port {self.url}: the board speaks table {board.get('table')} "
                f"(firmware {board.get('firmware')}), this program {table_id()} "
                f"({metadata.version('sunhob')}): put the matching firmware on the board; "
                "status and leave work meanwhile")

    def _ask(self, method: str, params: dict[str, Any], timeout_s: float) -> dict[str, Any]:
        until = time.monotonic() + timeout_s
        mine: set[int] = set()
        while True:
            self._id += 1
            mine.add(self._id)
            line = encode({"jsonrpc": "2.0", "method": method, "params": params, "id": self._id})
            if len(line) > MAX_REQUEST:
                raise UserError(f"{method}: the request has {len(line)} bytes, at most {MAX_REQUEST}")
            self._write(line)
            wait_s = _KNOCK_S if method == "hello" else _TRY_S
            again = until if method not in _REPEATABLE else min(until, time.monotonic() + wait_s)
            while time.monotonic() < again:
                reply = self._hear(mine)
                if reply is not None:
                    return self._open(reply)
            if time.monotonic() >= until:
                heard = f", {self.bad_lines} harmed lines heard" if self.bad_lines else ""
                raise LinkError(
                    f"port {self.url}: no answer to {method} within {timeout_s:g} s{heard}; "
                    "is the board on, is this its port, and is the controller on it (sunhob board install)?")

    @staticmethod
    def _open(reply: dict[str, Any]) -> dict[str, Any]:
        error = reply.get("error")
        if isinstance(error, dict):
            raise BoardRefused(int(error.get("code", 0)), f"the board refuses: {error.get('message', '')}")
        result = reply.get("result")
        return result if isinstance(result, dict) else {"result": result}

    def _hear(self, mine: set[int] | None) -> dict[str, Any] | None:
        """Read once; hand on what is told; the reply to one of `mine` if it is there."""
        found = None
        for line in self._splitter.feed(self._read()):
            message = decode(line)
            if message is None:
                self.bad_lines += 1
            elif "method" in message:
                self._tell(in_full(message))
            elif mine and message.get("id") in mine and ("result" in message or "error" in message):
                found = in_full(message)
        return found

    def _tell(self, message: dict[str, Any]) -> None:
        told = {"event": self.events, "telemetry": self.telemetry}.get(str(message["method"]))
        params = message.get("params")
        if told is not None and isinstance(params, dict):
            told(params)

    def _read(self) -> bytes:
        try:
            return self._wire.read(max(1, min(MAX_LINE, getattr(self._wire, "in_waiting", 1))))
        except OSError as error:
            raise lost(self.url, error, " while reading") from None

    def _write(self, data: bytes) -> None:
        try:
            self._wire.write(data)
        except OSError as error:
            raise lost(self.url, error, " while writing") from None
