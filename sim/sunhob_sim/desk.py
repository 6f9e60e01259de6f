"""A bare virtual board on a serial port of this machine: what `sunhob board install` is tried on.

Units: bytes, seconds of wall time. Real MicroPython with its console and a flash that is kept (see
console_board); no dish hangs on its pins. The port is a pseudo-terminal, or a TCP port.
"""

import contextlib
import os
import select
import signal
import socket
import sys
import tempfile
from pathlib import Path
from typing import Annotated, Any

import typer
from sunhob.board.image import KINDS
from sunhob.errors import UserError

from .console_board import ConsoleBoard

MACHINES = {"pico": "Raspberry Pi Pico with RP2040", "pico2": "Raspberry Pi Pico2 with RP2350",
            "esp32": "Generic ESP32 module with ESP32"}
_TAKE = 4096
_WAIT_S = 0.02


class Terminal:
    """A pseudo-terminal with this program at its far end. name: what a host opens.

    link: a name of one's own for it, that outlives each run. What nobody reads is dropped, as by a board's
    USB port.
    """

    def __init__(self, link: Path | None = None) -> None:
        import pty
        import tty

        self._end, self._held_open = pty.openpty()  # held, so that a host may come and go
        tty.setraw(self._held_open)
        os.set_blocking(self._end, False)
        self.name = os.ttyname(self._held_open)
        self.link = link
        if link is not None:
            if link.is_symlink():
                link.unlink()
            elif link.exists():
                raise UserError(f"--link {link}: is there and is no link; give another name")
            try:
                link.symlink_to(self.name)
            except OSError as error:
                why = f"cannot be made ({error.strerror}); give another name"
                raise UserError(f"--link {link}: {why}") from None
            self.name = str(link)

    def hears_on(self) -> int:
        """What select() watches for a word of the host: a file number."""
        return self._end

    def take(self, wait_s: float) -> bytes:
        """What the host has written."""
        if not select.select([self._end], [], [], wait_s)[0]:
            return b""
        with contextlib.suppress(BlockingIOError):
            return os.read(self._end, _TAKE)
        return b""

    def give(self, data: bytes) -> None:
        """Bytes for the host."""
        with contextlib.suppress(BlockingIOError):
            os.write(self._end, data)

    def close(self) -> None:
        """The cable is out."""
        os.close(self._end)
        os.close(self._held_open)
        if self.link is not None:
            self.link.unlink(missing_ok=True)


class Socket:
    """A TCP port of this machine, for one host after another."""

    def __init__(self, number: int) -> None:
        self._listener = socket.create_server(("127.0.0.1", number))
        self._caller: socket.socket | None = None
        self.name = f"socket://localhost:{self._listener.getsockname()[1]}"

    def hears_on(self) -> int:
        """See Terminal."""
        return (self._caller or self._listener).fileno()

    def take(self, wait_s: float) -> bytes:
        """See Terminal."""
        wanted: socket.socket = self._caller or self._listener
        if not select.select([wanted], [], [], wait_s)[0]:
            return b""
        if self._caller is None:
            self._caller, _ = self._listener.accept()
            return b""
        try:
            got = self._caller.recv(_TAKE)
        except OSError:
            got = b""
        if not got:
            self._hang_up()
        return got

    def give(self, data: bytes) -> None:
        """See Terminal."""
        try:
            if self._caller is not None:
                self._caller.sendall(data)
        except OSError:
            self._hang_up()

    def _hang_up(self) -> None:
        if self._caller is not None:
            self._caller.close()
        self._caller = None

    def close(self) -> None:
        """See Terminal."""
        self._hang_up()
        self._listener.close()


def serve_once(board: ConsoleBoard, port: Any, wait_s: float = _WAIT_S) -> None:
    """Carry what waits on either side over to the other."""
    select.select([port.hears_on(), *board.speaks_on()], [], [], wait_s)
    data = port.take(0.0)
    if data:
        board.write(data)
    out = board.said()
    if out:
        port.give(out)


def _version(text: str) -> tuple[int, int, int, str]:
    given = text.split(".")
    parts = [*given, "0"][:3]
    if len(given) < 2 or not all(part.isdigit() for part in parts):
        raise UserError(f"--micropython {text}: is no version; write it as 1.27.0")
    return int(parts[0]), int(parts[1]), int(parts[2]), ""


def desk_command(
    kind: Annotated[str, typer.Option("--board", help="Kind of board: " + ", ".join(MACHINES))] = "pico",
    flash: Annotated[Path | None, typer.Option(
        "--flash", help="Folder that keeps its flash; else a new one each time.")] = None,
    link: Annotated[Path | None, typer.Option("--link", help="A name of your own for the port.")] = None,
    tcp: Annotated[int | None, typer.Option("--tcp", min=0, max=65535,
                                            help="A TCP port in place of a serial one; 0: any.")] = None,
    micropython: Annotated[str, typer.Option(
        "--micropython", help="Version that it says it runs.")] = "1.27.0",
    blocks: Annotated[int, typer.Option("--blocks", min=1, help="Size of its flash in 4096 bytes.")] = 352,
) -> None:
    """A bare virtual board on a serial port of this machine, to try `sunhob board install` on; no dish.

    Ctrl-C cuts its power and pulls its cable; with --flash and --link the next run goes on from there."""
    if kind not in KINDS:
        raise UserError(f"--board {kind}: is none; give one of {', '.join(MACHINES)}")
    version = _version(micropython)
    if tcp is None and sys.platform == "win32":
        raise UserError("bench desk: this system has no pseudo-terminals; give --tcp PORT")
    with tempfile.TemporaryDirectory() as bare:
        folder = flash or Path(bare)
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UserError(f"--flash {folder}: can be no folder ({error.strerror}); give another") from None
        board = ConsoleBoard(folder, version, MACHINES[kind], blocks, speed=1)
        port = Socket(tcp) if tcp is not None else Terminal(link)
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            typer.echo(f"Virtual {kind} on {port.name}; try: sunhob board install --port {port.name}\n"
                       "Ctrl-C cuts its power.")
            sys.stdout.flush()  # its name is wanted now, into a file or a pipe as well
            board.open()
            while True:
                serve_once(board, port)
        except KeyboardInterrupt:
            pass
        finally:
            port.close()
            board.off()
