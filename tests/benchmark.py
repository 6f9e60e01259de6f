"""The figures the product aims at, measured and printed: a table on the terminal, JSON in out/bench.json.

Units stand in every row. Run as `make bench`, or `make bench BENCH="holding trim"` for some of it; each
measure is shown and written as soon as it is done. Nothing here is a test, and no test asserts a time.
With --full, what is shortened otherwise (its row says so) runs at its full length.
"""

import argparse
import json
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import benchmark_code
import benchmark_heat
import benchmark_month as month
import benchmark_tick
import benchmark_trim
import numpy as np
import optics_brute
import test_align
import test_pulse_home
from joblib import cpu_count
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from sunhob.leave_times import leave_times
from sunhob.optics.geometry import optics_of
from sunhob.optics.intercept import intercept
from sunhob.settings import load_cooker
from sunhob.sun_compare import table_worst
from sunhob.sun_table import build_table
from sunhob_board.sun.position import Sun
from sunhob_board.sun.table import SunTable
from sunhob_sim import mount_days
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import run_scenario
from sunhob_sim.bench_figures import finish
from sunhob_sim.campaign import run as campaign
from sunhob_sim.pot import Pot
from sunhob_sim.pot_light import PotLight
from sunhob_sim.sky import enu
from sunhob_sim.soak import soak

OUT = Path("out/bench.json")


@dataclass
class Row:
    """One figure: what, value, unit, the goal as a pair (sense, value) or None."""

    what: str
    value: float
    unit: str
    goal: tuple[str, float] | None = None

    @property
    def reached(self) -> bool:
        """Whether the goal is met; a row without one always is."""
        if self.goal is None:
            return True
        return self.value <= self.goal[1] if self.goal[0] == "<=" else self.value >= self.goal[1]

    @property
    def ratio(self) -> float | None:
        """How many times better than the goal; below 1 it falls short."""
        if self.goal is None or not self.value or not self.goal[1]:
            return None
        return self.goal[1] / self.value if self.goal[0] == "<=" else self.value / self.goal[1]


def sun_table() -> list[Row]:
    data = build_table(date(2026, 1, 1), 20)
    worst = table_worst(SunTable(data))
    return [
        Row("sun table: worst separation from SPA", float(worst["worst_separation_deg"]), "deg",
            ("<=", 0.001)),
        Row("sun table: 20 years", len(data), "bytes", ("<=", 16 * 1024)),
    ]


def sun_position(count: int = 20_000) -> list[Row]:
    table = SunTable(build_table(date(2026, 1, 1), 1))
    sun = Sun(table, 24_600_000, 73_700_000, 600, 94_300, 20)
    day = table.first_day + 60
    start = time.perf_counter()
    for i in range(count):
        sun.update(day, i * 4000)
    rows = [Row("sun position, CPython", (time.perf_counter() - start) / count * 1e6, "us")]
    return [*rows, Row("sun position, MicroPython (WebAssembly)", month.sun_position_us(count), "us")]


def leave() -> list[Row]:
    """Worst seconds of the year until the pot is out of the light and until parked, default cooker."""
    found = leave_times(load_cooker(None))
    return [Row("leave at the worst hour of the year: pot clear", found.pot_clear_s, "s", ("<=", 20.0)),
            Row("leave at the worst hour of the year: parked", found.parked_s, "s", ("<=", 90.0)),
            Row("leave: hours of the year with no way off", len(found.no_way), "", ("<=", 0.0))]


def heat() -> list[Row]:
    """The heat table on board, and heat asked of it against rays traced afresh where it then aims."""
    trail_us, lag_us = benchmark_heat.micropython_us()
    off = benchmark_heat.dial_errors()
    return [Row("heat table", benchmark_heat.table_bytes(), "bytes"),
            Row("heat along a trail, MicroPython (WebAssembly)", trail_us, "us"),
            Row("lag of a heat, MicroPython (WebAssembly)", lag_us, "us"),
            Row("heat asked against delivered, steady sun, rms", float((off**2).mean() ** 0.5),
                "of full heat", ("<=", 0.05)),
            Row("heat asked against delivered, worst", float(abs(off).max()), "of full heat")]


def heap() -> list[Row]:
    """Heap in use after a collection at the same hour of the first and the last day, on MicroPython."""
    span, grown, eaten, meals = month.heap_growth("--full" in sys.argv[1:])
    return [Row(f"heap growth on MicroPython over {span}", grown, "bytes", ("<=", 0.0)),
            Row("heap growth: meals cooked", eaten, "", (">=", meals))]


def days_on_end() -> list[Row]:
    """Days on end on one board that is never switched off; a year with --full."""
    days = 365 if "--full" in sys.argv[1:] else 2
    found = soak(days, "micropython")
    return [Row(f"soak of {days} days, MicroPython: simulated per wall second",
                days * 86_400 / found.wall_s, "s/s"),
            Row("soak: heap growth", found.grown_bytes, "bytes", ("<=", 0.0)),
            Row("soak: axes out of place", found.lost_deg, "deg", ("<=", 0.05)),
            Row("soak: what falls short", len(found.faults()), "", ("<=", 0.0))]


def episodes() -> list[Row]:
    """The same episodes of a campaign on one core, then on two whose processes are warm."""
    jobs, took_s = campaign.single_jobs(48 if "--full" in sys.argv[1:] else 16, 1), []
    for cores in (1, 2):
        list(campaign.run_jobs(campaign.single_jobs(2 * cores, 900, ["restart"]), cores))
        began = time.perf_counter()
        list(campaign.run_jobs(jobs, cores))
        took_s.append(time.perf_counter() - began)
    return [Row("campaign: episodes per second on one core", len(jobs) / took_s[0], "1/s"),
            Row("campaign: episodes per second on two cores", len(jobs) / took_s[1], "1/s"),
            Row("campaign: two cores against one", took_s[0] / took_s[1], "times")]


def day(engine: str, name: str, goal: float) -> list[Row]:
    """One shipped day on one engine, and where its time goes: what it costs in this process, without the
    other one that runs MicroPython, and how often the firmware wakes and turns to the bench."""
    began = time.process_time()
    result = run_scenario(scenarios.load(name), engine, None, alone=True)
    own_s, hours = time.process_time() - began, result.simulated_s / 3600.0
    rows = [
        Row(f"{name}, {engine}: processor time of the bench's own process", own_s, "s"),
        Row(f"{name}, {engine}: cycles of the firmware", result.firmware["cycles"] / hours, "1/h"),
        Row(f"{name}, {engine}: exchanges with it", result.firmware["exchanges"] / hours, "1/h"),
        Row(f"{name}, {engine}: simulated per wall second", result.simulated_s / result.wall_s, "s/s",
            (">=", goal)),
        Row(f"{name}, {engine}: pointing p95", result.tracking["p95_deg"], "deg",
            ("<=", 0.05) if name == "demo" else None),
        Row(f"{name}, {engine}: heat asked against delivered, rms", result.heat["dial_error_rms"],
            "of full heat", ("<=", 0.05)),
        Row(f"{name}, {engine}: hazards", len(result.hazards), "", None),
    ]
    if engine == "micropython":
        heap = result.firmware["heap_peak_bytes"]
        rows.append(Row(f"{name}, {engine}: live heap", heap, "bytes", ("<=", 64 * 1024)))
    return rows


def mounts() -> list[Row]:
    """Pointing of the mounts with steppers, motors, actuators and a hand screw, in calm air and in wind.

    With the season set by hand the drive answers for the hour angle alone; beside it stands the whole error.
    """
    rows = []
    for one in mount_days.MOUNTS:
        for which, day in (("own day", mount_days.own_day(one)), ("cook's day", mount_days.cooks_day(one))):
            for air in mount_days.AIRS:
                got = mount_days.in_air(day, air).tracking
                p95, part, name = got["p95_deg"], "pointing p95", f"{one.name}, {which}, {air}"
                if one.season_deg is not None:
                    rows.append(Row(f"{name}: pointing p95, season's error with it", p95, "deg"))
                    p95, part = got["hour_p95_deg"], "hour angle p95"
                rows.append(Row(f"{name}: {part}", p95, "deg",
                                ("<=", one.goal_deg) if air == "calm" else None))
    return rows + home_places()


def home_places(count: int = 12) -> list[Row]:
    """Two actuators, pulses of 1 mm: pointing over homings, the flags each time elsewhere among them."""
    rows = []
    for words, air in (("calm", {}), ("wind 4 m/s, gusts 8", {"wind_m_s": 4.0, "gust_m_s": 8.0})):
        got = []
        for k in range(count):
            bench = test_pulse_home.bench_with(k / count, test_pulse_home.REEDS[k % 3], 1.8, **air)
            bench.run()
            got.append(finish(bench).tracking["p95_deg"])
            bench.close()
        name = f"two_actuators, {words}, {count} places of the flags among the pulses: pointing p95"
        rows += [Row(f"{name}, least", min(got), "deg"),
                 Row(f"{name}, greatest", max(got), "deg", ("<=", 0.2))]
    return rows


def firmware() -> list[Row]:
    """Flash and heap of each build; the last one's modules stand in a file each, to compare."""
    rows = []
    for name, (size, most, held) in benchmark_code.figures().items():
        rows += [Row(f"firmware as .mpy, build with {name}", size, "bytes",
                     None if "a file a module" in name else ("<=", 96 * 1024)),
                 Row(f"firmware, build with {name}: heap as loading ends, nothing collected", most, "bytes"),
                 Row(f"firmware, build with {name}: heap once loaded", held, "bytes")]
    return rows


def install() -> list[Row]:
    """Putting the controller onto a board on the emulated link."""
    first, again, sent = benchmark_code.install_s()
    return [Row("board install, empty board", first, "s"), Row("board install: sent", sent, "bytes"),
            Row("board install, nothing changed", again, "s", ("<=", 3.0))]


def ray_trace(rays: int = 100_000) -> list[Row]:
    """The share on the pot over 21 x 9 x 8 points, on all cores, on one, and by a plain trace on one."""
    optics = optics_of(load_cooker())
    intercept(optics, [0.0, 5.0], rays=256, jobs=cpu_count())  # processes are up before the clock starts
    whole = intercept(optics, rays=rays)
    single = intercept(optics, rays=rays, jobs=1)
    speeds = [run.rays * run.fraction.size / run.wall_s for run in (whole, single)]
    start = time.perf_counter()
    optics_brute.shares(optics, 8.0, 50.0, 90.0, rays, 1)
    plain = rays / (time.perf_counter() - start)
    return [
        Row(f"ray trace: {whole.fraction.size} points of {whole.rays} rays", whole.wall_s, "s", ("<=", 30.0)),
        Row(f"ray trace: on {cpu_count()} cores", speeds[0], "rays/s"),
        Row("ray trace: against one core", speeds[0] / speeds[1], "times"),
        Row("ray trace: against a plain trace of each point on one core", speeds[0] / plain, "times"),
        Row("ray trace: worst standard error", float(whole.standard_error.max()), "of the light"),
    ]


def pot_step(count: int = 20_000) -> list[Row]:
    """What one step of the pot's heat costs; the bench takes one each 3 to 10 s at rest."""
    pot = Pot(water_kg=5.0)
    start = time.perf_counter()
    for _ in range(count):
        pot.step(5.0, 600.0, 25.0)
    return [Row("pot on the bench: a step", (time.perf_counter() - start) / count * 1e6, "us")]


def misplaced(share: float = 0.6) -> list[Row]:
    """Heat lost or gained untrimmed at 60 % of full heat by a pot beside the focus, and by 0.2 deg of aim.

    Over axis elevations 30 to 75 deg, suns above, beside and below the axis, offsets all round.
    """
    optics = optics_of(load_cooker())
    lights = {0.0: PotLight(optics)} | {mm: PotLight(optics, mm) for mm in (5.0, 10.0, 15.0)}
    true, rows = lights[0.0], []
    azimuth, elevation, tilt = (one.ravel() for one in np.meshgrid(
        np.arange(0.0, 360.0, 30.0), np.arange(30.0, 76.0, 15.0), np.arange(0.0, 181.0, 45.0)))
    axis = enu(azimuth, elevation)
    right = enu(azimuth + 90.0, np.zeros_like(azimuth))
    up = np.cross(right, axis)
    way = np.cos(np.radians(tilt))[:, None] * up + np.sin(np.radians(tilt))[:, None] * right

    def at(light: PotLight, lag_deg: NDArray) -> NDArray:
        lag = np.radians(lag_deg)[:, None]
        return light.shares(axis, np.cos(lag) * axis + np.sin(lag) * way) / true.full_share(axis)

    steps = np.arange(0.0, 14.01, 0.1)
    curve = np.stack([at(true, np.full(len(axis), lag)) for lag in steps])
    lag = steps[np.argmax(curve <= share, axis=0)]
    held = at(true, lag)
    for name, got in (
        *((f"pot {mm:g} mm off", at(light, lag)) for mm, light in lights.items() if mm),
        ("aim 0.2 deg short", at(true, lag - 0.2)), ("aim 0.2 deg far", at(true, lag + 0.2)),
    ):
        off = 100.0 * (got - held)
        rows.append(Row(f"heat at 60 % dialled, {name}: rms change", float(np.sqrt(np.mean(off**2))),
                        "% of full"))
        rows.append(Row(f"heat at 60 % dialled, {name}: worst change", float(np.abs(off).max()), "% of full"))
    return rows


def align(mounts: int = 1000) -> list[Row]:
    """Fitted values that hold the truth within their stated 95 % band, over random mounts, half of them altaz
    and half polar: turn, leans and zero alone from eight sightings of one day; with squareness and scales
    (up to 1 deg and 1 %) from sixteen of two days, and from the eight of one day, which few polar ones bear.
    """
    extras, band = test_align.EXTRAS, f"truth within the stated 95 % band, {mounts} random mounts"
    plain, _none = test_align.covered(mounts)
    two, left_two = test_align.covered(mounts, extras=extras, hours=test_align.TWO_DAYS)
    one, left_one = test_align.covered(mounts, extras=extras)
    return [Row(f"align: {band}", 100.0 * plain, "%", (">=", 93.0)),
            Row(f"align with squareness and scales, two days: {band}", 100.0 * two, "%"),
            Row("align with squareness and scales, two days: refused", 100.0 * left_two, "% of mounts"),
            Row(f"align with squareness and scales, one day: {band}, but the refused", 100.0 * one, "%"),
            Row("align with squareness and scales, one day: refused", 100.0 * left_one, "% of mounts")]


def holding() -> list[Row]:
    """How well a pot temperature is held; sunny: a beam above what the dish leaves for (250 W/m2)."""
    rows = []
    for name, about in (("hold", "4 kg, clear sky, resting off the heat"),
                        ("hold85", "measured broken cloud, a guard plate"), ("demo", "a stew kept for noon")):
        heat = run_scenario(scenarios.load(name), "cpython").heat
        rows += [
            Row(f"hold, {about}: sunny time within 2 K", heat["hold_in_band"], "of the time", (">=", 0.95)),
            Row(f"hold, {about}: overshoot", heat["hold_overshoot_k"], "K", ("<=", 3.0)),
            Row(f"hold, {about}: changes of heat", heat["hold_moves_per_hour"], "1/h", ("<=", 40.0)),
        ]
    return rows


def trim() -> list[Row]:
    """Cooking at 60 % with an error that the board does not know, with and without the trim."""
    return [Row(f"60 % for 50 min, {name}, {how} trim: worst change of heat", value, "% of full")
            for name, pair in benchmark_trim.trimmed().items()
            for how, value in zip(("without", "with"), pair, strict=True)]


def tick() -> list[Row]:
    """What a control tick does, from the start to a meal and back."""
    done = np.array([one.operations for one in benchmark_tick.ticks()])
    return [Row(f"control tick, {what}", float(np.percentile(done, share)), "operations of bytecode")
            for what, share in (("median", 50.0), ("longer than 99 of 100", 99.0), ("longest", 100.0))]


MEASURES: dict[str, Callable[[], list[Row]]] = {
    "firmware": firmware, "install": install, "tick": tick,
    "sun_position": sun_position, "sun_table": sun_table, "heat": heat, "leave": leave,
    "heap": heap, "days_on_end": days_on_end, "episodes": episodes,
    "ray_trace": ray_trace, "pot_step": pot_step,
    "misplaced": misplaced, "holding": holding, "trim": trim, "align": align,
    "day_cpython": lambda: day("cpython", "demo", 8_000),
    "day_micropython": lambda: day("micropython", "demo", 1_500),
    "day_windy": lambda: day("cpython", "demo_windy", 8_000),
    "mounts": mounts,
}


def show(rows: list[Row], console: Console) -> None:
    """Print rows as a table; a goal missed is marked."""
    table = Table("figure", "value", "unit", "goal", "times better")
    for row in rows:
        goal = f"{row.goal[0]} {row.goal[1]:g}" if row.goal else ""
        ratio = (f"{row.ratio:.2f}" if row.ratio else "") + ("" if row.reached else " SHORT")
        value = f"{row.value:.4g}" if abs(row.value) < 10_000 else f"{row.value:,.0f}"
        table.add_row(row.what, value, row.unit, goal, ratio)
    console.print(table)


def keep(found: dict[str, list[Row]]) -> None:
    """Write what is measured so far; a measure not run this time keeps its last figures."""
    OUT.parent.mkdir(exist_ok=True)
    old = json.loads(OUT.read_text()) if OUT.exists() else {}
    new = {name: [{**row.__dict__, "ratio": row.ratio} for row in rows] for name, rows in found.items()}
    OUT.write_text(json.dumps({**old, **new}, indent=1))


def main() -> int:
    parser = argparse.ArgumentParser(description="Measure the figures the product aims at.")
    parser.add_argument("measure", nargs="*", help=f"only these: {', '.join(MEASURES)}")
    parser.add_argument("--full", action="store_true", help="what is shortened otherwise at full length")
    asked = parser.parse_args().measure or list(MEASURES)
    unknown = [name for name in asked if name not in MEASURES]
    if unknown:
        parser.error(f"measure: '{unknown[0]}' is not known; choose from {', '.join(MEASURES)}")
    console = Console(width=None if sys.stdout.isatty() else 130)
    found: dict[str, list[Row]] = {}
    began = time.perf_counter()
    for number, name in enumerate(asked, 1):
        with console.status(f"{name} ({number} of {len(asked)}), {time.perf_counter() - began:.0f} s so far"):
            found[name] = MEASURES[name]()
        show(found[name], console)
        keep(found)
    short = [row.what for rows in found.values() for row in rows if not row.reached]
    console.print(f"{time.perf_counter() - began:.0f} s in all; goals missed: {'; '.join(short) or 'none'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
