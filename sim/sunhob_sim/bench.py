"""Runs one scenario: sky, plant, cook, virtual board and the real firmware on it, then the figures.

Units: us of virtual time at the board's side, seconds from the start of the run elsewhere, degrees, W, J.
"""

import dataclasses
import json
import struct
import time
import zlib
from collections.abc import Callable
from contextlib import nullcontext
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

import numpy as np
from sunhob import display_words
from sunhob.code_list import NAME, code_list
from sunhob.firmware_marks import in_full
from sunhob.heat_table import build_heat_table
from sunhob.report_story import words_of
from sunhob.run_result import RunResult, utc_text
from sunhob.settings import Cooker, board_bytes
from sunhob.sun_table import STEP_DAYS, build_table
from sunhob_board.core import panel as keys
from sunhob_board.declared import modes
from sunhob_board.link import frame
from sunhob_board.selfcheck import proof

from . import pins
from .bench_figures import finish
from .bench_sky import sky_of
from .board_host import VirtualBoard
from .cook import Cook
from .devices import ads1115, ds3232, spare_probes, ssd1306
from .devices.ads1115 import ADS1115
from .devices.ds3232 import DS3232, RAM
from .devices.max31855 import MAX31855
from .devices.ssd1306 import SSD1306
from .engine import firmware_dir, make_engine, package_mpy
from .esp32_board import Esp32Board
from .faults.plan import planned_of
from .faults.tray import Tray
from .fitted import Fitted
from .flash_store import FlashStore
from .one_core import one_core
from .plant import Plant
from .plant_geometry import TrueMount
from .plant_settings import true_mount
from .pot_setup import hob_of
from .scenario import Scenario, cooker_of
from .truth import separation_deg

BOARDS = {"pico": VirtualBoard, "esp32": Esp32Board}
Progressed = Callable[[float], None]
Traced = Callable[[int, int], None]
_HEAP_EVERY_S = 600.0
_TABLE_PAST_DAYS = 30
_BUTTON_PINS = ((keys.LEAVE, pins.LEAVE), (keys.ASIDE, pins.ASIDE), (keys.ARM, pins.ARM),
                (keys.CONFIRM, pins.CONFIRM))
_RAIL_V = 3.3
_VOLTS = _RAIL_V / 65535
CODE = "/lib/"  # where the board keeps its program
_NEVER_S = float("inf")
_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


class Uplink:
    """The host's end of the link: splits lines, checks them, keeps the events with their true time."""

    def __init__(self, start: datetime) -> None:
        self.start = start
        self.now: Callable[[], int] = lambda: 0
        self.events: list[dict[str, Any]] = []
        self.replies: list[dict[str, Any]] = []
        self.bad = 0
        self._rest = b""

    def __call__(self, _port: int, data: bytes) -> None:
        *lines, self._rest = (self._rest + bytes(data)).split(b"\n")
        for line in lines:
            body = frame.decode(line)
            if body is None:
                self.bad += 1
                continue
            message = json.loads(body)
            if message.get("method") == "event":
                self._event(message["params"])
            elif "id" in message:
                self.replies.append(in_full(message))

    def _event(self, params: dict[str, Any]) -> None:
        seconds = self.now() / 1e6
        name, a, b = params["e"], params["a"], params["b"]
        when = utc_text(self.start + timedelta(seconds=seconds))
        self.events.append({"at_utc": when, "t_s": round(seconds, 3), "name": name, "a": a, "b": b,
                            "detail": words_of(name, a, b)})


class Bridge:
    """Between the virtual board and the plant, with the cook's hands on the controls in between."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.cook: Cook | None = None
        self.tray: Tray | None = None
        self.outputs, self.motion = plant.outputs, plant.motion
        self.inputs, self.adc = plant.inputs, plant.pin_adc

    def attach(self, board: VirtualBoard) -> None:
        """The board's own step queues drive the plant's axes."""
        self.plant.attach(board)

    def advance(self, to_us: int) -> None:
        self.plant.advance(to_us)
        if self.cook is not None and self.cook.next_s * 1e6 <= to_us + 1:
            self.cook.step(to_us / 1e6)
            self.hands()
        if self.tray is not None and self.tray.next_s * 1e6 <= to_us + 1:
            self.tray.step(to_us / 1e6)
            self.hands()

    def hands(self) -> None:
        """Put the cook's controls on the pins."""
        assert self.cook is not None
        cook, plant = self.cook, self.plant
        if plant.hob is not None:
            plant.hob.follow(plant, now=True)  # up to here the world was as it had been
        for bit, pin in _BUTTON_PINS:
            plant.set_input(pin, 0 if cook.mask & bit else 1)
        plant.set_input(pins.STOP_CHAIN, 1 if cook.mask & keys.CHAIN else 0)
        plant.set_input(pins.POT, 0 if cook.mask & keys.POT else 1)
        plant.turn_knob(cook.knob_percent)
        plant.covered = cook.covered
        if plant.hob is not None:
            plant.hob.place(plant, bool(cook.mask & keys.POT))

    def next_edge_us(self) -> int | None:
        due_us = self.plant.next_edge_us()
        for one in (self.cook, self.tray):
            at_s = _NEVER_S if one is None else one.next_s
            if at_s != _NEVER_S:
                at_us = round(at_s * 1e6)
                due_us = at_us if due_us is None or at_us < due_us else due_us
        return due_us


def sight_of(plant: Plant) -> tuple[float, float]:
    """Turn of axis 1 and axis 2 [deg] that would bring the true dish onto the true sun."""
    x, y, z = plant.mount.frame().T @ np.array(plant.sky.sun_at(plant.now_us / 1e6))
    one = float(np.degrees(np.arctan2(x, y))) - plant.mount.zero_deg[0]
    two = float(np.degrees(np.arcsin(np.clip(z, -1.0, 1.0)))) - plant.mount.zero_deg[1]
    now_one, now_two = plant.axes_deg
    low, high = plant.axes[0].data.low_deg, plant.axes[0].data.high_deg
    turn = (one - now_one + 180.0) % 360.0 - 180.0
    if not low <= now_one + turn <= high:
        turn += 360.0 if now_one + turn < low else -360.0
    return turn, two - now_two


def table_of(start: datetime, days: int) -> bytes:
    """A sun table whose last day is the one `days` - 1 after the start's."""
    rows = -(-(days + _TABLE_PAST_DAYS) // STEP_DAYS)
    first = start.date() + timedelta(days=days - rows * STEP_DAYS)
    return build_table(first, (rows * STEP_DAYS - 1) / 365.25)


def flash_of(cooker: Cooker, start: datetime, table_days: int = 700, kind: str = "pico") -> FlashStore:
    """The board's flash as the installer leaves it: settings in slot a, tables, program and its list."""
    body = board_bytes(cooker)
    tail = struct.pack("<HH", 1, len(body)) + body
    settings = struct.pack("<I", zlib.crc32(tail)) + tail
    program = package_mpy(firmware_dir("sunhob_board"), kind)
    words = {f"/data/{display_words.NAME}": display_words.words_file()} if cooker.cook.display else {}
    return FlashStore({"/data/settings.a": settings, "/data/sun.tab": table_of(start, table_days),
                       "/data/heat.tab": build_heat_table(cooker), **words,
                       f"/data/{NAME}": code_list(program),
                       **{CODE + path: body for path, body in program.items()}})


def clock_of(scenario: Scenario) -> DS3232:
    """The clock chip: off by the scenario's error, or never set. A set one has been used before: its RAM
    holds that the watchdog was proven today."""
    seconds = (scenario.start - _EPOCH).total_seconds() + scenario.base.clock_error_s
    chip = DS3232(seconds)
    chip.write(RAM + proof.OFFSET, proof.record(proof.PROVEN, int(seconds // 86400)), 0)
    if not scenario.base.clock_set:
        chip.lose_battery(0)
    return chip


def mount_of(scenario: Scenario, cooker: Cooker) -> TrueMount:
    """How a scenario's dish truly stands: as its cooker has it, and its base beside that."""
    base = scenario.base
    plain = {f"{s}.{k}": v for s, part in cooker.as_dict().items() for k, v in part.items()}
    return true_mount(plain, base.north_deg, base.tilt_east_deg, base.tilt_north_deg, base.axis2_zero_deg)


class Bench:
    """One scenario wired up: step() runs the firmware, finish() gives the result."""

    def __init__(self, scenario: Scenario, engine_name: str, traced: Traced | None = None) -> None:
        self.scenario = scenario
        self.cooker = cooker_of(scenario)
        self.sky = sky_of(scenario, self.cooker)
        self.plant = self._plant(traced)
        self.uplink = Uplink(scenario.start)
        self.bridge = Bridge(self.plant)
        self.reference = 1.0  # what the light converter's own reference makes of a volt
        self.light = ADS1115(lambda _us: self, noise_steps=1)
        self.probes = [MAX31855(partial(self._probe_c, k), seed=scenario.seed + k) for k in (0, 1)]
        self.display = SSD1306(scenario.seed) if self.cooker.cook.display else None
        on_bus = {ds3232.ADDRESS: clock_of(scenario), ads1115.ADDRESS: self.light}
        self.fitted = Fitted(self.plant, scenario.seed)
        on_bus.update(self.fitted.devices)
        if self.display is not None:
            on_bus[ssd1306.ADDRESS] = self.display
        if self.cooker.sensor.air:
            on_bus[spare_probes.AIR_ADDRESS] = spare_probes.TMP102(lambda _us: scenario.air.temp_c)
        for k in range(self.cooker.sensor.spare_probes):  # nothing stands on the other cookers here
            on_bus[spare_probes.POT_ADDRESS + k] = spare_probes.MCP9600(lambda _us: scenario.air.temp_c)
        self.board = BOARDS[scenario.board](
            self.bridge, on_bus,
            flash_of(self.cooker, scenario.start, scenario.base.table_days, scenario.board), self.uplink,
            spi_devices={pins.SELECT_CONTENTS: self.probes[0], pins.SELECT_UNDERSIDE: self.probes[1]})
        self.uplink.now = lambda: self.board.now_us
        accels = (self.cooker.axis1.accel_deg_s2, self.cooker.axis2.accel_deg_s2)
        self.cook = Cook(scenario, self.board.uart_send, lambda: sight_of(self.plant), accels,
                         (self.cooker.axis1.approach, self.cooker.axis2.approach), self._bump, self._at_pot,
                         self._turn_screw)
        self.bridge.cook = self.cook
        self.bridge.tray = self.tray = Tray(self, planned_of(scenario))
        self.bridge.hands()
        self.engine = make_engine(engine_name, self.board)
        self.engine_name = engine_name
        self.heap_peak = self.cycles = 0
        self.wall_s = 0.0

    def __getitem__(self, k: int) -> float:
        """Volts at input k of the first converter: tube, open cell, knob, rail."""
        return (_RAIL_V if k == 3 else self.plant.counts(k) * _VOLTS) * self.reference

    def _probe_c(self, index: int, now_us: int) -> float | str:
        return self.plant.probe_c(index, now_us)

    def _plant(self, traced: Traced | None) -> Plant:
        one = self.scenario
        return Plant(self.cooker.as_dict(), self.sky, mount_of(one, self.cooker), one.air.wind_m_s,
                     one.air.gust_m_s, one.seed, hob=hob_of(one, self.cooker, traced))

    def _at_pot(self, do: str, value: float | None) -> None:
        hob = self.plant.hob
        if hob is not None:
            hob.follow(self.plant, now=True)
            hob.deed(do, value)

    def _turn_screw(self, deg: float) -> None:
        if self.cooker.axis2.drive == "hand":
            self.plant.set_axis(1, deg)

    def _bump(self, deg: float) -> None:
        now = self.plant.mount
        self.plant.stand(dataclasses.replace(now, north_deg=now.north_deg + deg))

    def run(self, progressed: Progressed | None = None, quiet_s: float = float("inf")) -> None:
        """Boot and cycle the firmware to the end of the scenario, or until it has rested for quiet_s seconds
        with nothing to come: parked or locked, no deed and no fault due, and the sun so far off till the end
        that no light is loose."""
        began = time.perf_counter()
        end_us = int(self.scenario.seconds * 1e6)
        next_us = 0.0
        self.engine.boot()
        board, cycle = self.board, self.engine.cycle
        while board.now_us < end_us:
            cycle()
            self.cycles += 1
            if board.now_us >= next_us:
                next_us = board.now_us + 1e6 * min(_HEAP_EVERY_S, quiet_s / 10.0)
                self.heap_peak = max(self.heap_peak, self.engine.heap_bytes())
                if progressed is not None:
                    progressed(board.now_us / 1e6)
                if self._rests(quiet_s):
                    break
        self.heap_peak = max(self.heap_peak, self.engine.heap_bytes())
        self.wall_s = time.perf_counter() - began
        if progressed is not None:
            progressed(self.scenario.seconds)

    def _rests(self, quiet_s: float) -> bool:
        """Whether nothing has happened for so long, and nothing more is to happen."""
        told = self.uplink.events
        if not told or self.cook.next_s != float("inf") or self.tray.next_s != float("inf"):
            return False
        mode = next((e["b"] for e in reversed(told) if e["name"] in ("mode", "boot")), None)
        if told[-1]["name"] == "boot" or mode in (modes.PARKED, modes.LOCKED):
            since_s = max(told[-1]["t_s"], *(d["t_s"] for d in (*self.cook.done, *self.tray.told)), 0.0)
            return self.board.now_us / 1e6 - since_s > quiet_s and self._dark_to_the_end()
        return False

    def _dark_to_the_end(self) -> bool:
        """Whether a dish left as it stands gathers no loose light in all that is left of the run."""
        plant = self.plant
        if plant.moving or plant.covered:
            return not plant.moving
        end_s = self.scenario.seconds
        left_s = np.append(np.arange(self.board.now_us / 1e6, end_s, 60.0), end_s)
        away_deg = separation_deg(np.array(plant.enu()), self.sky.sun_array(left_s))
        return bool(away_deg.min() > plant.flat["dish.loose_clear_deg"] + 0.5)

    def close(self) -> None:
        self.engine.close()


def run_scenario(scenario: Scenario, engine_name: str = "micropython",
                 progressed: Progressed | None = None, traced: Traced | None = None,
                 alone: bool = False) -> RunResult:
    """Run a scenario to its end on the named engine.

    `progressed` is told simulated seconds; `traced` (parts done, parts in all) of a ray trace that is new;
    `alone`: no other run shares the machine, so that both processes of MicroPython's may share a core.
    """
    bench = Bench(scenario, engine_name, traced)
    try:
        with one_core() if alone and engine_name == "micropython" else nullcontext():
            bench.run(progressed)
        return finish(bench)
    finally:
        bench.close()
