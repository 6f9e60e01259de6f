"""What the faults of the further sensors do to their chips and to what those feel. Units: as each severity.

Every begin takes a Live; what is spoilt is there, for a scenario without it is refused (scenario.py).
"""

from __future__ import annotations

import random
from typing import Any

from ..sun_sensor import SunSensor
from .deeds import Deed
from .tray import Live


def _sensor(live: Live) -> SunSensor:
    assert live.bench.fitted.sun is not None
    return live.bench.fitted.sun


def sun(kind: str) -> Deed:
    """Spoil the sun-direction sensor: open, short or dirty of a diode, offset of a pair, frozen, noisy."""

    def begin(live: Live) -> None:
        which = random.Random(live.seed).randrange(10)
        _sensor(live).spoil(kind, live.severity, which)

    return begin


def sun_well(live: Live) -> None:
    _sensor(live).spoil("")


def put(part: str, name: str, value: object = None) -> Deed:
    """Set a field of a fitted part (None stands for the severity); what it was is kept."""

    def begin(live: Live) -> None:
        one = getattr(live.bench.fitted, part)
        live.kept = getattr(one, name)
        setattr(one, name, live.severity if value is None else value)

    return begin


def back(part: str, name: str) -> Deed:
    """The field is as it was."""

    def end(live: Live) -> None:
        setattr(getattr(live.bench.fitted, part), name, live.kept)

    return end


def light_mute(live: Live) -> None:
    live.bench.light.silent = True


def light_speaks(live: Live) -> None:
    live.bench.light.silent = False


def _chips(live: Live) -> list[Any]:
    return [one for one in live.bench.board.devices.values() if hasattr(one, "silent")]


def bus_stuck(live: Live) -> None:
    """Something holds the I2C bus: nothing on it answers."""
    live.kept = [one for one in _chips(live) if not one.silent]
    for one in live.kept:
        one.silent = True


def bus_free(live: Live) -> None:
    for one in live.kept:
        one.silent = False


def expander(silent: bool) -> Deed:
    """Keys and lamps behind the port expander are out of reach, or there again."""

    def do(live: Live) -> None:
        live.bench.board.expander.silent = silent  # type: ignore[attr-defined]

    return do
