"""Runs one episode and judges it from the plant's true state. Units: seconds, degrees."""

from __future__ import annotations

import math
import time
from collections import Counter
from dataclasses import asdict, dataclass, fields
from typing import Any

from ..bench import Bench
from ..faults.plan import planned_of
from ..judge_loose import stranded
from ..judge_told import halted_s, hazards_of, one_axis
from ..scenario import Scenario, parse
from ..truth import build
from .draw import episode_text, without
from .to_safe import ToSafe, expected, to_safe

_QUIET_S = 900.0
NO_FAULT, TOGETHER = "no fault", "together"


@dataclass
class Row:
    """One episode's outcome: a line of the result file. hazards and faults are joined by '+'.

    engine: 'single' where the firmware reckoned in a board's single floats. because: of a hazard, the faults
    that each bring it alone, joined by '+'; 'together' if only all do, 'no fault' if it comes without any.
    stranded, cannot_leave: stays in loose light that no drive could end, or not the one left, alarm and times
    told. detected: the board told of something amiss after the fault, first of `sign`. The times are those of
    to_safe.ToSafe [s]. told: events after the fault.
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
    because: str
    stranded: int
    cannot_leave: int
    detected: bool
    sign: str
    noticed_s: float
    pot_s: float
    light_s: float
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
    row = _row(scenario, engine)
    try:
        waits = bench.cooker.cook.return_after_cloud  # it may come back by itself much later
        bench.run(None, math.inf if waits else _QUIET_S)
        _judge(row, bench)
    except Exception as error:
        lines = str(error).strip().splitlines() or [""]
        row.hazards, row.detail = "crash", f"{type(error).__name__}: {lines[-1]}"
    finally:
        bench.close()
    row.wall_s = round(time.perf_counter() - began, 3)
    return row


def run_episode(seed: int, faults: tuple[str, ...], engine: str = "cpython") -> Row:
    """The episode that this seed and these faults draw; a hazard is tried again with fewer faults."""
    text = episode_text(seed, faults)
    row = run_text(text, engine)
    row.seed = seed
    if row.hazards:
        row.because = _because(text, faults, row)
    return row


def _because(text: str, faults: tuple[str, ...], row: Row) -> str:
    kinds = set(row.hazards.split("+"))

    def alone(kept: tuple[str, ...]) -> bool:
        gone = tuple(name for name in faults if name not in kept)
        return bool(kinds & set(run_text(without(text, gone), row.engine).hazards.split("+")))

    if not faults or alone(()):
        return NO_FAULT
    if len(faults) == 1:
        return faults[0]
    return "+".join(name for name in faults if alone((name,))) or TOGETHER


def _row(scenario: Scenario, engine: str) -> Row:
    plan = planned_of(scenario)
    nothing = ToSafe()
    return Row(
        seed=scenario.seed,
        faults="+".join(one.fault.name for one in plan),
        engine=engine,
        latitude_deg=float(scenario.settings.get("site", {}).get("latitude_deg", 0.0)),
        start=scenario.start.isoformat(),
        fault_at_s=round(min((one.start_s for one in plan), default=0.0), 1),
        severity=plan[0].severity if plan else 0.0,
        hazards="", detail="", because="", stranded=0, cannot_leave=0, detected=False, sign="",
        told=0, wall_s=0.0,
        noticed_s=nothing.noticed_s, pot_s=nothing.pot_s, light_s=nothing.light_s, loose_s=nothing.loose_s,
    )


def _judge(row: Row, bench: Bench) -> None:
    """Fill in what the plant's true state and the board's events say."""
    true = build(bench.plant)
    found = hazards_of(bench, true)
    row.hazards = "+".join(sorted({one["kind"] for one in found}))
    row.detail = "; ".join(f"{one['at_utc']} {one['kind']}: {one['detail']}" for one in found[:3])
    apart = Counter(one["kind"] for one in stranded(true, None, halted_s(bench), one_axis(bench)))
    row.stranded, row.cannot_leave = apart["stranded"], apart["cannot_leave"]
    safe = to_safe(true, bench.uplink.events, row.fault_at_s, expected(bench.scenario))
    row.detected, row.sign = bool(safe.sign), safe.sign
    for name in ("noticed_s", "pot_s", "light_s", "loose_s"):
        setattr(row, name, round(getattr(safe, name), 1))
    row.told = sum(e["t_s"] >= row.fault_at_s for e in bench.uplink.events)


def replay_command(row: Row) -> str:
    """The one command that runs this episode again."""
    names = "".join(f" --fault {name}" for name in row.faults.split("+") if name)
    return f"sunhob bench episode {row.seed}{names} --engine {row.engine}"
