"""Faults inside the controller: what rots in flash and memory, outputs held, a wrong reference.

Units: as each severity says. Memory is reached on the cpython engine alone, where the firmware lives in this
process; on micropython a fault of memory does nothing.
"""

from __future__ import annotations

import random
from typing import Any

from .. import pins
from .tray import Live


class StuckBlock(bytearray):
    """Memory whose bit 3 of every cell is 1, whatever is written."""

    def __setitem__(self, at: Any, value: Any) -> None:
        super().__setitem__(at, bytes(cell | 8 for cell in value))


def rot(part: str) -> Any:
    """One bit turned over in one file with `part` in its path, while the board runs on."""

    def begin(live: Live) -> None:
        chance = random.Random(live.seed)
        files = live.bench.board.flash_store.files
        path = chance.choice(sorted(path for path in files if part in path))
        data = bytearray(files[path])
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        files[path] = bytes(data)

    return begin


def _app(live: Live) -> Any:
    return getattr(live.bench.engine, "app", None)


def table_in_memory(live: Live) -> None:
    """One bit of the sun table's copy in memory turns over."""
    app = _app(live)
    if app is None or app.sun is None:
        return
    chance = random.Random(live.seed)
    data = bytearray(app.table._data)
    data[chance.randrange(20, len(data))] ^= 1 << chance.randrange(8)
    app.table._data = bytes(data)


def memory_stuck(live: Live) -> None:
    """Free memory has a bit that is stuck."""
    app = _app(live)
    if app is not None:
        app.checks.memory.lend = StuckBlock


def held(pin: int, level: int) -> Any:
    """An output is held at a level by something else, for good."""

    def begin(live: Live) -> None:
        live.bench.plant.hold_output(pin, level)
        if pin == pins.MOTOR_ENABLE and not level:  # drives without power move nothing
            for axis in live.bench.plant.axes:
                axis.dead = True

    return begin


def reference_off(live: Live) -> None:
    """The light converter reads `severity` of the true voltage."""
    live.bench.reference = live.severity


def reference_good(live: Live) -> None:
    live.bench.reference = 1.0
