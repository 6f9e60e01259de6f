"""A person at the board's console, through pyserial's terminal. Units: seconds."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from serial.tools.miniterm import Miniterm

from ..errors import LinkError
from ..link import Wire
from .reach import Opener, take_console

_LOOK_S = 0.05


class Screen(Miniterm):  # type: ignore[misc]
    """pyserial's terminal, which ends in place of a traceback. lost: the port went away."""

    alive: bool | None
    lost = False

    def reader(self) -> None:
        """Show what the board says, until it ends."""
        try:
            while self.alive:
                data = self.serial.read(max(1, getattr(self.serial, "in_waiting", 1)))
                if data:
                    self.console.write(self.rx_decoder.decode(data))
        except (OSError, TypeError):  # pyserial reads None from a port that was closed under it
            self._ended()

    def writer(self) -> None:
        """Send what is typed, until it ends."""
        try:
            super().writer()
        except (OSError, TypeError):
            self._ended()

    def _ended(self) -> None:
        self.lost = True
        self.alive = False


def talk(wire: Wire) -> bool:
    """Carry keys and screen until Ctrl-]; False if the port went away before."""
    port: Any = wire
    screen = Screen(port, echo=False, eol="cr")
    screen.set_rx_encoding("utf-8")
    screen.set_tx_encoding("utf-8")
    screen.start()
    try:
        while screen.alive:  # not joined: a thread that waits for a key outlives a cable that goes
            time.sleep(_LOOK_S)
        screen.receiver_thread.join()
    finally:
        screen.alive = False
        screen.console.cleanup()
    return not screen.lost


def at_console(url: str, opener: Opener, told: Callable[[str], None],
               talks: Callable[[Wire], bool] = talk) -> None:
    """Take a board's console for whoever talks over it, then start its controller again.

    talks: carries both ways until it is done, False if the port went away. LinkError then."""
    repl = take_console(url, opener)
    try:
        repl.run("t = globals().get('back')\nif t:\n    t.deinit()")
        repl.wire.write(b"\r\x02")
        told(f"Console of {url}; Ctrl-] ends it. The controller does not run meanwhile.")
        if not talks(repl.wire):
            raise LinkError(f"port {url}: lost; look at the cable. Switch the board off and on: until then "
                            "its controller does not run")
        repl.enter()
    finally:
        repl.reset()
