"""The board or the bench that is aligned, its sight and its time, behind one face. Units: s, UTC."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from importlib import import_module
from typing import Any

import typer
from rich.console import Console

from sunhob.errors import LinkError, SunhobError, UserError
from sunhob.link import Dish

from .sight import BenchSight, KeySight, Sight

SIGHTS = ("keys", "bench")


class Live:
    """dish, cooker, sight; wait(s) and rest(s, why) let time pass, utc() tells it, tell() says a line.

    installed: a bench's board begins with this cooker's settings, not with its scenario's.
    """

    def __init__(self, url: str, sight: str | None, cooker: Any, installed: bool = False) -> None:
        bench = url.startswith("bench:")
        sight = sight or ("bench" if bench else "keys")
        if sight not in SIGHTS:
            raise UserError(f"--sight = {sight}: is not one of {', '.join(SIGHTS)}")
        if sight == "bench" and not bench:
            raise UserError("--sight bench: only a bench knows its own sun; give --sight keys")
        wire = None
        if bench:
            try:
                opener = import_module("sunhob_sim.live").open_port
            except ImportError:
                raise LinkError(f"port {url}: this installation has no live bench") from None
            wire = opener(url.removeprefix("bench:"), speed=0.0 if sight == "bench" else 1.0,
                          cooker=str(cooker.path or "") if installed else "")
            wire.cover(True)
            cooker = wire.bench.cooker if cooker.invented else cooker
        self._bench = wire
        self.cooker = cooker
        self.dish = Dish(url, wire=wire)
        self.sight: Sight = BenchSight(wire) if sight == "bench" else KeySight(self.tell)

    def tell(self, words: str) -> None:
        """One line for the person, on standard error."""
        typer.echo(words, err=True)

    def wait(self, seconds: float) -> None:
        """Let so much of the board's time pass."""
        if self._bench is not None:
            self._bench.run_for(seconds)
        else:
            self.dish.listen(seconds)

    def rest(self, seconds: float, why: str) -> None:
        """A long wait, its end told while it lasts."""
        if self._bench is not None:
            self._bench.run_for(seconds)
            return
        with Console(stderr=True).status(f"Waiting for {why}. Ctrl-C ends; what was taken is kept."):
            until = time.monotonic() + seconds
            while (left := until - time.monotonic()) > 0.0:
                self.dish.listen(min(5.0, left))

    def utc(self) -> datetime:
        """The time this computer, or the bench, holds for true."""
        return self._bench.utc() if self._bench is not None else datetime.now(UTC)

    def leave(self) -> None:
        """Send the dish to its park; nothing is raised, for this is the way out."""
        with suppress(SunhobError):
            self.dish.call("leave")


@contextmanager
def session(url: str, sight: str | None, cooker: Any, installed: bool = False) -> Iterator[Live]:
    """Open the port for an alignment, and close it. installed: see Live."""
    live = Live(url, sight, cooker, installed)
    try:
        yield live
    finally:
        live.dish.close()
