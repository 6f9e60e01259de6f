"""The firmware on MicroPython's own unix port, where the machine has one (Debian 13 brings it). Units: bytes.

Twice as fast as the WebAssembly build, for nothing lies between the interpreter and its pipes. Its objects
are of 64 bits on most machines: its heap tells of growth, not of a board's size.
"""

import os
import shutil
import tempfile
import weakref
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sunhob.errors import UserError

from .board_host import VirtualBoard
from .engine_pipe import PipedEngine

COMMAND = "SUNHOB_MICROPYTHON"
_RUNNER = Path(__file__).with_name("engine_unix") / "runner.py"
_HEAP = "2m"


def interpreter() -> str | None:
    """The MicroPython that the environment names, or that is on the path."""
    return shutil.which(os.environ.get(COMMAND) or "micropython")


class UnixEngine(PipedEngine):
    """See engine_pipe.PipedEngine; its files lie in a folder of their own while it lives."""

    name = "unix"
    collect_bytes = 2 * PipedEngine.collect_bytes  # objects are twice as large

    def __init__(self, board: VirtualBoard, folder: Path) -> None:
        super().__init__(board, folder)
        found = interpreter()
        if found is None:
            raise UserError(f"engine unix: no program named {os.environ.get(COMMAND) or 'micropython'} is on "
                            f"the path; install MicroPython's unix port, or let {COMMAND} name it")
        self._interpreter = found
        self.root = tempfile.mkdtemp(prefix="sunhob-unix-")
        weakref.finalize(self, shutil.rmtree, self.root, ignore_errors=True)
        self._written: Mapping[str, bytes] = {}

    def _command(self) -> list[str]:
        return [self._interpreter, "-X", f"heapsize={_HEAP}", str(_RUNNER)]

    def _framed(self, line: bytes) -> bytes:
        return b"%08d" % len(line) + line  # it reads a byte a system call till the end of a line

    def _hand_over(self, files: Mapping[str, bytes]) -> dict[str, Any]:
        for name, body in files.items():
            if self._written.get(name) != body:
                path = Path(self.root + name)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(body)
        self._written = dict(files)
        return {}
