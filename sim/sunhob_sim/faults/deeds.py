"""What each kind of fault does to the bench, and how it is taken away. Units: as each severity says.

Every begin takes a Live; those that need undoing keep what they changed in live.kept.
"""

from __future__ import annotations

import dataclasses
import json
import random
from collections.abc import Callable, Mapping
from typing import Any

from sunhob_board.declared.methods import METHODS
from sunhob_board.link import frame

from .. import pins
from ..devices import ds3232
from ..wind import Wind
from .signal import Contact, Signal
from .tray import Live

Deed = Callable[[Live], None]


def nothing(_live: Live) -> None:
    """The fault ends by itself."""


# --- clock ------------------------------------------------------------------------------------------


def chip(live: Live) -> ds3232.DS3232:
    """The clock chip on the bus."""
    found = live.bench.board.devices[ds3232.ADDRESS]
    assert isinstance(found, ds3232.DS3232)
    return found


def clock_silent(live: Live) -> None:
    chip(live).silent = True


def clock_speaks(live: Live) -> None:
    chip(live).silent = False


def clock_frozen(live: Live) -> None:
    chip(live).freeze(live.bench.board.now_us)


def clock_jump(live: Live) -> None:
    chip(live).jump(live.severity)


def clock_drift(live: Live) -> None:
    chip(live).drift(live.severity, live.bench.board.now_us)


def clock_battery(live: Live) -> None:
    chip(live).lose_battery(live.bench.board.now_us)


# --- flash ------------------------------------------------------------------------------------------


def _files(live: Live, part: str) -> list[str]:
    return [path for path in live.bench.board.flash_store.files if part in path]


def flip(part: str) -> Deed:
    """One bit turned over in each file with `part` in its path; shows at the next start of the board."""

    def begin(live: Live) -> None:
        chance = random.Random(live.seed)
        for path in _files(live, part):
            data = bytearray(live.bench.board.flash_store.files[path])
            if data:
                data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
                live.bench.board.flash_store.files[path] = bytes(data)
        restart(live)

    return begin


def vanish(part: str) -> Deed:
    """Files with `part` in their path are gone; the board starts anew without them."""

    def begin(live: Live) -> None:
        for path in _files(live, part):
            del live.bench.board.flash_store.files[path]
        restart(live)

    return begin


def flash_slow(live: Live) -> None:
    live.bench.board.flash_stall_us = int(live.severity * 1000)


def flash_quick(live: Live) -> None:
    live.bench.board.flash_stall_us = 0


def flash_full(live: Live) -> None:
    live.bench.board.flash_store.full = True


def flash_room(live: Live) -> None:
    live.bench.board.flash_store.full = False


# --- sensors ----------------------------------------------------------------------------------------


def signal(channel: int, kind: str) -> Deed:
    """Spoil converter channel 0 (beam), 1 (open cell) or 2 (knob)."""

    def begin(live: Live) -> None:
        live.bench.plant.signals[channel] = Signal(kind, live.severity, live.seed)

    return begin


def signal_good(channel: int) -> Deed:
    def end(live: Live) -> None:
        live.bench.plant.signals[channel] = None

    return end


def probe(index: int, kind: str) -> Deed:
    """Spoil the probe in the contents (0) or at the underside (1)."""

    def begin(live: Live) -> None:
        if live.bench.plant.probes:
            live.bench.plant.probes[index].fault = kind

    return begin


def probe_good(index: int) -> Deed:
    def end(live: Live) -> None:
        if live.bench.plant.probes:
            live.bench.plant.probes[index].fault = None

    return end


def probe_off(index: int) -> Deed:
    """The probe reads `severity` K too much."""

    def begin(live: Live) -> None:
        if live.bench.plant.probes:
            live.bench.plant.probes[index].offset_c = live.severity

    return begin


def probe_true(index: int) -> Deed:
    def end(live: Live) -> None:
        if live.bench.plant.probes:
            live.bench.plant.probes[index].offset_c = 0.0

    return end


# --- drives -----------------------------------------------------------------------------------------


def drive(axis: int, **values: object) -> Deed:
    """Set fields of the plant's axis 0 or 1 (None stands for the severity)."""

    def begin(live: Live) -> None:
        one = live.bench.plant.axes[axis]
        live.kept = {name: getattr(one, name) for name in values}
        for name, value in values.items():
            setattr(one, name, live.severity if value is None else value)

    return begin


def drive_good(axis: int) -> Deed:
    def end(live: Live) -> None:
        for name, value in live.kept.items():
            setattr(live.bench.plant.axes[axis], name, value)

    return end


def slip(axis: int) -> Deed:
    """The rotor jumps by `severity` degrees at once."""

    def begin(live: Live) -> None:
        one = live.bench.plant.axes[axis]
        one.lose(round(live.severity * one.data.steps_per_turn / 360.0))

    return begin


# --- switches ---------------------------------------------------------------------------------------


def contact(pin: int, stuck: int | None) -> Deed:
    """A contact that stays at a level, or (None) bounces at every change."""

    def begin(live: Live) -> None:
        live.bench.plant.contacts[pin] = Contact(stuck, live.severity or 1.0, live.seed)

    return begin


def contact_good(pin: int) -> Deed:
    def end(live: Live) -> None:
        live.bench.plant.contacts.pop(pin, None)

    return end


# --- supply and controller --------------------------------------------------------------------------


def restart(live: Live) -> None:
    """The controller resets at this instant."""
    live.bench.board.reset_soon()


def brown_outs(live: Live) -> None:
    """A storm of `severity` short outages, three seconds apart."""
    left = round(live.severity)
    if live.kept is None:
        live.kept = left
    if live.kept > 0:
        live.kept -= 1
        live.bench.board.cut_power(0.4)
        live.again(3.0, brown_outs)


def power_cut(live: Live) -> None:
    """No supply for `severity` seconds: nothing turns, sounds or lights."""
    live.bench.plant.supply = False
    live.bench.board.cut_power(live.severity)
    live.again(live.severity, power_back)


def power_back(live: Live) -> None:
    live.bench.plant.supply = True


def loop_late(live: Live) -> None:
    """The processor is kept busy for `severity` ms, once."""
    live.bench.board.stall_us = int(live.severity * 1000)


def loop_late_often(live: Live) -> None:
    live.bench.board.stall_us = int(live.severity * 1000)
    live.again(2.0, loop_late_often)


# --- surroundings -----------------------------------------------------------------------------------


def gust(live: Live) -> None:
    """A mean wind of `severity` m/s, gusting half as much again."""
    bench = live.bench
    live.kept = bench.plant.wind
    bench.plant.gusted = True
    bench.plant.wind = Wind(live.severity, 1.5 * live.severity, bench.scenario.seconds, live.seed)


def calm(live: Live) -> None:
    live.bench.plant.wind = live.kept


def base_pushed(live: Live) -> None:
    """Somebody knocks the base round by `severity` degrees."""
    plant = live.bench.plant
    plant.stand(dataclasses.replace(plant.mount, north_deg=plant.mount.north_deg + live.severity))


def base_tipped(live: Live) -> None:
    """One foot sinks: the base leans by `severity` degrees."""
    plant = live.bench.plant
    plant.stand(dataclasses.replace(plant.mount, tilt_east_deg=plant.mount.tilt_east_deg + live.severity))


def pot_gone(live: Live) -> None:
    live.bench.cook.hold_pot(False)


def pot_back(live: Live) -> None:
    live.bench.cook.hold_pot(True)


# --- link -------------------------------------------------------------------------------------------


def _send(live: Live, data: bytes) -> None:
    live.bench.board.uart_send(data)


def garbage(live: Live) -> None:
    """Random bytes, `severity` a second."""
    chance = live.kept or random.Random(live.seed)
    live.kept = chance
    _send(live, chance.randbytes(max(1, round(live.severity * 0.5))))
    live.again(0.5, garbage)


def _request(method: str, params: Mapping[str, object], number: int = 1) -> bytes:
    body = {"jsonrpc": "2.0", "id": number, "method": method, "params": params}
    return frame.encode(json.dumps(body).encode("ascii"))


def flood(live: Live) -> None:
    """Good requests, `severity` a second."""
    for number in range(max(1, round(live.severity * 0.2))):
        _send(live, _request("status", {}, number))
    live.again(0.2, flood)


def half_lines(live: Live) -> None:
    """Good lines cut off somewhere."""
    chance = live.kept or random.Random(live.seed)
    live.kept = chance
    line = _request("leave", {})
    _send(live, line[: chance.randrange(1, len(line) - 1)])
    live.again(1.0 / live.severity, half_lines)


def replay(live: Live) -> None:
    """Everything a host ever asked, again: heat, cook, aside, a clock of long ago."""
    asked: tuple[tuple[str, dict[str, object]], ...] = (
        ("heat", {"percent": 100}), ("cook", {"percent": 100}), ("aside", {}),
        ("set", {"what": "time", "day": 9000, "ms": 1000}),
    )
    for method, params in asked:
        _send(live, _request(method, params))
    live.again(20.0, replay)


def hostile(live: Live) -> None:
    """A host that asks for whatever the link knows, with values of its own choice."""
    chance = live.kept or random.Random(live.seed)
    live.kept = chance
    rows: Any = METHODS
    for method, parameters, *_rest in rows:
        params: dict[str, object] = {}
        for name, kind, low, high, _unit, _needed in parameters:
            if kind == "choice":
                params[name] = chance.choice([*low, "x"])
            elif kind == "bool":
                params[name] = chance.random() < 0.5
            else:
                params[name] = chance.choice([low, high, (low + high) // 2, high + 1, -1, None])
        if method != "leave":
            _send(live, _request(method, params))
    live.again(1.0 / live.severity, hostile)


def link_cut(live: Live) -> None:
    board = live.bench.board
    live.kept = board.on_uart
    board.on_uart = lambda _port, _data: None


def link_mended(live: Live) -> None:
    live.bench.board.on_uart = live.kept


PINS = {"home1": pins.HOME[0], "home2": pins.HOME[1], "leave": pins.LEAVE, "aside": pins.ASIDE,
        "arm": pins.ARM, "confirm": pins.CONFIRM, "pot": pins.POT, "chain": pins.STOP_CHAIN}
