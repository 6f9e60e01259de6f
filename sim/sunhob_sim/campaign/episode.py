"""Runs one episode and judges it from the plant's true state. Units: seconds, degrees."""

from __future__ import annotations

import json
import math
import time
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np
from sunhob_board.declared.interlocks import INDEX

from ..bench import Bench
from ..bench_figures import halted_s, hazards_of
from ..faults.plan import planned_of
from ..judge import MARGIN_DEG, Limits, episodes, stranded
from ..scenario import Scenario, parse
from ..truth import Truth, build
from .draw import episode_text

_QUIET_S = 900.0
_EVERY_DAY = ("sun_low", "park_bright", "attendance")  # trips that need no fault
_SIGNS = ("boot", "stop_chain", "no_path", "north_refused")


@dataclass
class Row:
    """One episode's outcome: a line of the result file. hazards and faults are joined by '+'.

    detected: the board tripped or restarted after the fault. loose_s: the longest time the light was loose
    after it [s]. told: events after it.
    """

    seed: int
    faults: str
    engine: str
    latitude_deg: float
    start: str
    fault_at_s: float
    severity: float
    hazards: str
    detail: str
    stranded: int
    detected: bool
    loose_s: float
    told: int
    wall_s: float

    def as_dict(self) -> dict[str, Any]:
        """For CSV and JSON."""
        return asdict(self)


COLUMNS = tuple(field.name for field in fields(Row))


def run_text(text: str, engine: str = "cpython") -> Row:
    """Run the scenario of this text; a crash of firmware or bench is a hazard of kind 'crash'."""
    scenario = parse(text, "episode")
    began = time.perf_counter()
    bench = Bench(scenario, engine)
    try:
        waits = bench.cooker.cook.return_after_cloud  # it may come back by itself much later
        bench.run(None, math.inf if waits else _QUIET_S)
        return _judged(bench, scenario, time.perf_counter() - began)
    except Exception as error:
        lines = str(error).strip().splitlines() or [""]
        return _row(
            scenario,
            engine,
            ["crash"],
            f"{type(error).__name__}: {lines[-1]}",
            [],
            0.0,
            0,
            time.perf_counter() - began,
        )
    finally:
        bench.close()


def run_episode(seed: int, faults: tuple[str, ...], engine: str = "cpython") -> Row:
    """The episode that this seed and these faults draw."""
    row = run_text(episode_text(seed, faults), engine)
    row.seed = seed
    return row


def _judged(bench: Bench, scenario: Scenario, wall_s: float) -> Row:
    true = build(bench.plant)
    found = hazards_of(bench, true)
    at_s = min((one.start_s for one in planned_of(scenario)), default=0.0)
    later = [e for e in bench.uplink.events if e["t_s"] >= at_s]
    kinds = sorted({one["kind"] for one in found})
    detail = "; ".join(f"{one['at_utc']} {one['kind']}: {one['detail']}" for one in found[:3])
    left = len(stranded(true, None, halted_s(bench)))
    return _row(scenario, bench.engine_name, kinds, detail, later, _loose_s(true, at_s), left, wall_s)


def _loose_s(true: Truth, from_s: float) -> float:
    """The longest time in s, after `from_s`, between the dial's end and loose-clear with the sun on it."""
    limits = Limits.of(true.flat)
    off = (true.separation_deg > limits.dial_deg + MARGIN_DEG) & (
        true.separation_deg < limits.loose_clear_deg
    )
    lit = (true.sun_elevation_deg > 0.0) & (true.dni_w_m2 > 50.0) & (true.held["covered"] < 0.5)
    spans = [true.t_s[b] - true.t_s[a] for a, b in episodes(off & lit & (true.t_s >= from_s))]
    return float(np.max(spans)) if spans else 0.0


def _sign(event: dict[str, Any]) -> bool:
    if event["name"] == "trip":
        return event["a"] not in [INDEX[name] for name in _EVERY_DAY]
    return event["name"] in _SIGNS


def _row(
    scenario: Scenario,
    engine: str,
    kinds: list[str],
    detail: str,
    later: list[dict[str, Any]],
    loose_s: float,
    left: int,
    wall_s: float,
) -> Row:
    plan = planned_of(scenario)
    site = scenario.settings.get("site", {})
    return Row(
        seed=scenario.seed,
        faults="+".join(one.fault.name for one in plan),
        engine=engine,
        latitude_deg=float(site.get("latitude_deg", 0.0)),
        start=scenario.start.isoformat(),
        fault_at_s=round(min((one.start_s for one in plan), default=0.0), 1),
        severity=plan[0].severity if plan else 0.0,
        hazards="+".join(kinds),
        detail=detail,
        stranded=left,
        detected=any(_sign(e) for e in later),
        loose_s=round(loose_s, 1),
        told=len(later),
        wall_s=round(wall_s, 3),
    )


def replay_command(row: Row) -> str:
    """The one command that runs this episode again."""
    names = "".join(f" --fault {name}" for name in row.faults.split("+") if name)
    return f"sunhob bench episode {row.seed}{names} --engine {row.engine}"


def plain(row: Row) -> str:
    """One line of JSON."""
    return json.dumps(row.as_dict())
