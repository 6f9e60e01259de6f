"""Many days on end on one board that is never switched off: what grows, what drifts, which edges it passes.

Units: days, seconds, degrees, bytes. Site and cook are invented: four meals a week, clear air. The sky is
made a day at a time and the record dropped as it is read, so that the bench itself does not grow.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sunhob_board.declared import interlocks, modes
from sunhob_board.link import frame

from .bench import Bench
from .cook import Cook
from .scenario import Scenario
from .scenario_parts import Action
from .sky import Site, Sky

DAY_S = 86_400.0
FIRST = date(2027, 12, 29)  # a year from here passes New Year and a leap day
_START_H, _MEAL_MIN = 4, 90  # UTC; the meal begins so long after
_MEAL_DAYS = (0, 1, 3, 5)  # of each week
_TICKS = 1 << 30  # ms until the ticks wrap
_JOURNAL = 128
_SETTINGS = {
    "site": {"latitude_deg": 21.15, "longitude_deg": 79.05, "altitude_m": 310.0},
    "axis2": {"home_deg": 19.15},
    "interlock": {"north_old_h": 0.0},  # the dish stays where it is
    "probe": {"contents": False, "underside": False},
}


@dataclass
class Soak:
    """What a soak found. grown: heap at the end less heap after the second day; lost_deg: worst difference of
    where the axes are and where the board takes them to be; clock_s: its worst clock error; warned_days: how
    long before its end the sun table was told, 0 if it was not due."""

    engine: str
    days: int
    wall_s: float = 0.0
    meals: int = 0
    meals_meant: int = 0
    grown_bytes: int = 0
    heap_bytes: list[int] = field(default_factory=list)
    lost_deg: float = 0.0
    off_sun_deg: float = 0.0
    clock_s: float = 0.0
    events: int = 0
    journal_wraps: int = 0
    tick_wraps: int = 0
    resets: int = 0
    warned_days: int = 0
    told: list[str] = field(default_factory=list)
    edges: list[str] = field(default_factory=list)

    def faults(self) -> list[str]:
        """What falls short, in words."""
        rows = (
            (self.meals != self.meals_meant, f"{self.meals} meals of {self.meals_meant}"),
            (self.grown_bytes > 0, f"the heap grew by {self.grown_bytes} bytes"),
            (self.lost_deg > 0.05, f"the axes drifted by {self.lost_deg:.3f} deg"),
            (self.off_sun_deg > 0.3, f"it stood {self.off_sun_deg:.2f} deg off the sun at full heat"),
            (self.clock_s > 2.0, f"the clock was {self.clock_s:.1f} s out"),
            (self.resets > 0, f"it reset itself {self.resets} times"),
            (self.warned_days < 29, "the end of the sun table was not told a month before"),
            (bool(self.told), "tripped: " + ", ".join(self.told)),
        )
        return [words for wrong, words in rows if wrong]

    def as_dict(self) -> dict[str, Any]:
        """For JSON; units as in the class's words."""
        return {**asdict(self), "faults": self.faults()}


class DaysSky:
    """The sky of any number of days, made one day at a time."""

    def __init__(self, site: Site, start_unix: float, days: int) -> None:
        self.site, self.start_unix, self.duration_s = site, start_unix, days * DAY_S
        self._from = -math.inf
        self._day: Sky | None = None

    def _of(self, t_s: float) -> tuple[Sky, float]:
        if self._day is None or not 0.0 <= t_s - self._from < DAY_S:
            self._from = math.floor(t_s / DAY_S) * DAY_S
            self._day = Sky(self.site, self.start_unix + self._from, DAY_S + 60.0)
        return self._day, t_s - self._from

    def sun_at(self, t_s: float) -> tuple[float, float, float]:
        """As Sky.sun_at."""
        sky, t_s = self._of(t_s)
        return sky.sun_at(t_s)

    def beam_w_m2(self, t_s: float) -> float:
        """As Sky.beam_w_m2."""
        sky, t_s = self._of(t_s)
        return sky.beam_w_m2(t_s)

    def open_w_m2(self, t_s: float) -> float:
        """As Sky.open_w_m2."""
        sky, t_s = self._of(t_s)
        return sky.open_w_m2(t_s)


def _table_days(days: int) -> int:
    """A sun table that outlives the run, and ends within a month of it."""
    return max(days + 2, days // 2 + 30)


class Days:
    """A bench that lives day after day; step() is one of them."""

    def __init__(self, days: int, engine: str, first: date = FIRST) -> None:
        self.start = datetime(first.year, first.month, first.day, _START_H, tzinfo=UTC)
        self.scenario = Scenario.model_validate({
            "name": "soak", "start": self.start, "hours": 24, "settings": _SETTINGS,
            "base": {"table_days": _table_days(days)},
        })
        self.found = Soak(engine, days)
        self.bench = Bench(self.scenario, engine)
        plant, board = self.bench.plant, self.bench.board
        plant.hob = None  # the pot is no part of this, and its heat would cost half of the time
        plant.sky = DaysSky(plant.sky.site, plant.sky.start_unix, days)  # type: ignore[assignment]
        self.first_ticks = _TICKS - int(min(days, 12) * DAY_S * 500)
        board.first_ticks_ms = self.first_ticks
        self.engine = self.bench.engine
        self.number = 0
        self.engine.boot()

    def _until(self, t_s: float) -> None:
        board, cycle = self.bench.board, self.engine.cycle
        while board.now_us < t_s * 1e6:
            cycle()

    def _deeds(self, meal: bool) -> None:
        at = self.start + timedelta(days=self.number)
        deeds: list[tuple[float, str, float | None]] = [(2, "home", None)] if self.number == 0 else []
        if meal:
            deeds += [(_MEAL_MIN - 1, "knob", 100.0), (_MEAL_MIN, "arm", None),
                      (_MEAL_MIN + 20, "knob", 60.0), (_MEAL_MIN + 40, "leave", None)]
        rows = tuple(Action(at=(at + timedelta(minutes=m)).isoformat(), do=do, value=value)
                     for m, do, value in deeds)
        old = self.bench.cook
        cook = Cook(self.scenario.model_copy(update={"action": rows}), old.send, old.sight, old.accels,
                    old.approach)
        cook.knob_percent, cook.covered, cook.mask = old.knob_percent, old.covered, old.mask
        self.bench.cook = self.bench.bridge.cook = cook

    def step(self) -> None:
        """One day: a meal if it is the day for it, then the night; then everything is looked at."""
        meal, base_s = self.number % 7 in _MEAL_DAYS, self.number * DAY_S
        self._deeds(meal)
        if meal:
            self._until(base_s + 60.0 * (_MEAL_MIN + 19))
            self.found.meals_meant += 1
            self.found.off_sun_deg = max(self.found.off_sun_deg, self.bench.plant.separation_deg())
        self._until(base_s + DAY_S - 5.0)
        self._look()
        self._until(base_s + DAY_S)
        self._forget()
        self.number += 1

    def _look(self) -> None:
        bench, found = self.bench, self.found
        bench.uplink.replies.clear()
        asked_us = bench.board.now_us
        bench.board.uart_send(frame.encode(b'{"jsonrpc": "2.0", "id": 1, "method": "status"}'))
        while not bench.uplink.replies:
            self.engine.cycle()
        told = bench.uplink.replies[-1]["result"]
        true_deg = bench.plant.axes_deg
        lost = max(abs(told[f"axis{k + 1}_deg"] - true_deg[k]) for k in (0, 1))
        found.lost_deg = max(found.lost_deg, lost)
        true_s = (self.start - datetime(2000, 1, 1, tzinfo=UTC)).total_seconds() + asked_us / 1e6
        found.clock_s = max(found.clock_s, abs(told["day"] * DAY_S + told["ms"] / 1000.0 - true_s))
        found.heap_bytes.append(self.engine.heap_bytes())
        for event in bench.uplink.events:
            found.events += 1
            found.meals += event["name"] == "mode" and event["b"] == modes.COOKING
            if event["name"] == "trip":
                self._tripped(interlocks.ROWS[event["a"]][0], event)

    def _tripped(self, name: str, event: dict[str, Any]) -> None:
        if name == "table_ageing":
            self.found.warned_days = event["b"]
        elif interlocks.ROWS[interlocks.INDEX[name]][4] or name in ("clock_unset", "table_expired"):
            self.found.told.append(f"{event['at_utc']} {name}")

    def _forget(self) -> None:
        """The bench keeps nothing of the day."""
        bench = self.bench
        bench.uplink.events.clear()
        for row in bench.plant._rows.values():
            del row[:-2]
        before = self.start + timedelta(days=self.number)
        after = before + timedelta(days=1)
        if after.month != before.month:
            self.found.edges.append(f"{after:%Y-%m}")
        if (after.month, after.day) == (2, 29):
            self.found.edges.append(f"{after:%Y-%m-%d}")

    def close(self) -> Soak:
        """End it; what it found."""
        found = self.found
        found.resets = len(self.engine.resets)
        found.tick_wraps = (self.first_ticks + self.bench.board.now_us // 1000) // _TICKS
        found.journal_wraps = found.events // _JOURNAL
        settled = found.heap_bytes[min(1, len(found.heap_bytes) - 1):]
        if settled:
            found.grown_bytes = min(settled[-2:]) - settled[0]
        self.bench.close()
        return found


def soak(days: int, engine: str = "cpython", progressed: Callable[[float], None] | None = None,
         first: date = FIRST) -> Soak:
    """So many days on end. `progressed` is told days done."""
    began = time.perf_counter()
    run = Days(days, engine, first)
    try:
        for number in range(days):
            run.step()
            if progressed is not None:
                progressed(number + 1)
    finally:
        found = run.close()
    found.wall_s = time.perf_counter() - began
    return found


def soak_text(found: Soak) -> str:
    """The figures in words, one a line."""
    rows = {key: value for key, value in found.as_dict().items() if key not in ("heap_bytes", "faults")}
    return "\n".join(f"{key}: {json.dumps(value)}" for key, value in rows.items())
