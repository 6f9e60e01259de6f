"""The way to a board's own console: asked of a controller that runs, or taken where none does.

Units: seconds.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from ..errors import LinkError, UserError
from ..link import BoardRefused, Dish, Wire, open_wire
from .raw_repl import RawRepl

Opener = Callable[[str], Wire]
HEARD_S = 2.0  # in which a controller that runs has answered
BACK_S = 12.0  # in which a board that restarts is on its port again


def take_console(url: str, opener: Opener = open_wire,
                 first: Callable[[dict[str, Any]], None] = lambda hello: None) -> RawRepl:
    """The board's console: asked of a running controller, or taken where there is none.

    first: called with the hello of a controller that runs, before it is stopped.
    LinkError where nothing answers, UserError with the board's words where it will not now.
    """
    wire = opener(url)
    if _ask_for_console(wire, url, first):
        wire.close()
        wire = again(url, opener)
        until = time.monotonic() + BACK_S
        while True:
            repl = RawRepl(wire, url)
            try:
                repl.enter(2.0)
                return repl
            except LinkError:
                repl.close()
                if time.monotonic() >= until:
                    raise LinkError(f"port {url}: the controller let go, but its console is not on this "
                                    "port; use the board's own USB socket (it starts again soon)") from None
                wire = again(url, opener)
    repl = RawRepl(wire, url)
    try:
        repl.enter()
    except LinkError as error:
        repl.close()
        if "lost" in str(error):
            raise
        raise LinkError(f"port {url}: neither a controller nor a MicroPython console answers; is this the "
                        "board's port, and is MicroPython on it?") from None
    return repl


def _ask_for_console(wire: Wire, url: str, first: Callable[[dict[str, Any]], None]) -> bool:
    """True once a running controller has agreed to give the console."""
    dish = Dish(url, wire=wire)
    try:
        hello = dish.hello(HEARD_S)
    except LinkError as error:
        if "lost" in str(error):
            raise
        return False
    try:
        first(hello)
        dish.call("console")
    except BoardRefused as error:
        dish.close()
        raise UserError(f"port {url}: {error}") from None
    except UserError:
        dish.close()
        raise
    return True


def again(url: str, opener: Opener) -> Wire:
    """The port once more after a restart: a USB port goes away and comes back."""
    until = time.monotonic() + BACK_S
    while True:
        time.sleep(0.05)
        try:
            return opener(url)
        except LinkError:
            if time.monotonic() >= until:
                raise
