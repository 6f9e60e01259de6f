"""Putting a cooker's controller on a board, with a bar while it lasts and words for what was done. Units: s.

What `sunhob board install` does, for whoever else installs.
"""

from __future__ import annotations

import time
from typing import Any

from rich.console import Console
from rich.progress import Progress

from .. import link
from ..settings import Cooker
from .image import Kind, all_files
from .install import Install


def progress() -> Progress:
    """A bar on standard error; nothing where that is no terminal."""
    screen = Console(stderr=True)
    return Progress(console=screen, transient=True, disable=not screen.is_terminal)


def put(port: str, cooker: Cooker, board: str | None = None, replace: bool = False) -> dict[str, Any]:
    """Bring the board on a port to this firmware and this cooker's settings and tables; what Install tells,
    and the `seconds` it took. Raises as Install does."""
    began = time.monotonic()
    with progress() as bar:
        row = bar.add_task("reaching the board", total=None)

        def tell(what: str, done: int, total: int) -> None:
            bar.update(row, description=what, completed=done, total=total or None)

        def make(kind: Kind) -> dict[str, bytes]:
            tell("making code and tables", 0, 0)
            return all_files(kind, cooker)

        answer = Install(port, link.open_wire, tell).run(make, board, replace)
    return {**answer, "seconds": round(time.monotonic() - began, 3)}


def put_words(port: str, answer: dict[str, Any]) -> str:
    """One line for what put() did."""
    what = (f"{answer['sent']} files sent ({answer['bytes_sent']} bytes), {answer['copied']} copied on the "
            f"board, {answer['kept']} as they were" if answer["tried"] else "nothing had changed")
    return (f"{port}: {answer['board']}, MicroPython {answer['micropython']}: {what}; firmware "
            f"{answer['hello']['firmware']} runs well from {answer['hello']['folder']}; "
            f"{answer['seconds']:.1f} s")
