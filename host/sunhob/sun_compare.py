"""The board's own sun beside SPA. Units: deg at every edge, m, Pa, degC, UTC; udeg inside the board."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sunhob_board.sun.position import Sun
from sunhob_board.sun.table import SunTable, TableError

from sunhob.errors import UserError
from sunhob.sun_table import DAY0_UNIX, build_table, date_of, day2000
from sunhob.sun_truth import enu_from_azel, separation_deg, sun_azel, sun_enu

ENGINES = ("cpython", "micropython")  # where the firmware's own modules are run; both with double floats
WORST_ALLOWED_DEG = 0.001
CASE_COLUMNS = ("at_utc", "latitude_deg", "longitude_deg", "altitude_m", "pressure_pa", "temp_c")
LIMITS = {
    "latitude_deg": (-90.0, 90.0),
    "longitude_deg": (-180.0, 180.0),
    "altitude_m": (-500.0, 9000.0),
    "pressure_pa": (20000.0, 120000.0),
    "temp_c": (-90.0, 60.0),
}
UNITS = dict(zip(LIMITS, ("deg", "deg", "m", "Pa", "degC"), strict=True))
CHECK_LATITUDES_DEG = (-89.0, -66.5, -45.0, -33.0, -23.4, -10.0, 0.0, 10.0, 23.4, 33.0, 45.0, 66.5, 89.0)


Whole = NDArray[np.int64]
Answer = tuple[float, float, float, float]  # east, north, up, elevation in deg


@dataclass(frozen=True)
class Case:
    """One instant at one site: UTC, deg, deg, m, Pa, degC."""

    at: datetime
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    pressure_pa: float
    temp_c: float


def standard_pressure_pa(altitude_m: float) -> float:
    """Pressure (Pa) of the standard atmosphere (ISO 2533:1975, from memory) at an altitude in m."""
    return 101325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588


def parse_time(text: str, where: str = "--at") -> datetime:
    """An ISO 8601 time; without an offset it is UTC."""
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        raise UserError(
            f"{where} {text!r}: not an ISO 8601 time; give one like 2026-06-21T09:30:00Z"
        ) from None
    try:
        at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except OverflowError:
        at = at.replace(tzinfo=UTC)
    if not 1973 <= at.year <= 2149:
        raise UserError(f"{where} {text!r}: must lie in the years 1973..2149; give a nearer time")
    return at


def iso(at: datetime) -> str:
    """A UTC time as text, ending in Z."""
    return at.isoformat().replace("+00:00", "Z")


def within(name: str, value: float, where: str) -> float:
    """The value, or a refusal naming `where` and the limits of the field `name` (units in the name)."""
    low, high = LIMITS[name]
    unit = UNITS[name]
    if not low <= value <= high:
        raise UserError(f"{where} {value:g}: must be within {low:g}..{high:g} {unit}; give one there")
    return value


def read_cases(path: Path) -> list[Case]:
    """Cases of a CSV file with the columns CASE_COLUMNS."""
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            reader = csv.DictReader(file)
            missing = [name for name in CASE_COLUMNS if name not in (reader.fieldnames or [])]
            if missing:
                raise UserError(f"--cases {path}: no column {missing[0]}; needed: {','.join(CASE_COLUMNS)}")
            cases = [_case(row, f"--cases {path} line {reader.line_num}:") for row in reader]
    except OSError as error:
        raise UserError(f"--cases {path}: cannot be read ({error.strerror}); give a CSV file") from None
    except (UnicodeDecodeError, csv.Error):
        raise UserError(f"--cases {path}: not a CSV text file in UTF-8; save it as such") from None
    if not cases:
        raise UserError(f"--cases {path}: holds no case; put at least one line below the column names")
    return cases


def _case(row: dict[str, str | None], where: str) -> Case:
    numbers = {}
    for name in LIMITS:
        text = row[name] or ""
        try:
            numbers[name] = within(name, float(text), f"{where} {name}")
        except ValueError:
            unit = UNITS[name]
            raise UserError(f"{where} {name} {text!r}: not a number; give one in {unit}") from None
    return Case(parse_time(row["at_utc"] or "", f"{where} at_utc"), **numbers)


def load_table(path: Path) -> tuple[bytes, SunTable]:
    """A table file and the board's reader of it."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise UserError(f"{path}: cannot be read ({error.strerror}); give a sun table file") from None
    if not data:
        raise UserError(f"{path}: missing: it is empty; write one with: sunhob table build {path}")
    try:
        return data, SunTable(data)
    except TableError as error:
        raise UserError(f"{path}: {error.args[0]}: {error.args[1]}") from None


def board_terms(case: Case) -> tuple[tuple[int, int, float, float, float], tuple[int, int]]:
    """What the board's sun is made with, in its units, and its (day, ms) in whole milliseconds."""
    midnight = case.at.replace(hour=0, minute=0, second=0, microsecond=0)
    ms = (case.at - midnight) // timedelta(milliseconds=1)
    site = (round(case.latitude_deg * 1e6), round(case.longitude_deg * 1e6), case.altitude_m,
            case.pressure_pa, case.temp_c)  # fmt: skip
    return site, (day2000(case.at.date()), ms)


def refuse_table(code: str, words: str) -> UserError:
    """The board's TableError as a refusal of the option."""
    return UserError(f"--table: {code}: {words}")


def board_sun(table: SunTable, case: Case) -> Sun:
    """The board's sun for a case, updated to its instant."""
    site, instant = board_terms(case)
    sun = Sun(table, *site)
    try:
        sun.update(*instant)
    except TableError as error:
        raise refuse_table(*error.args) from None
    return sun


def _in_process(cases: list[Case], keys: list[int], files: dict[int, bytes]) -> list[Answer]:
    tables = {key: SunTable(data) for key, data in files.items()}
    suns = (board_sun(tables[key], case) for key, case in zip(keys, cases, strict=True))
    return [(sun.e, sun.n, sun.u, sun.elevation_deg) for sun in suns]


def board_answers(cases: list[Case], table: bytes | None, engine: str) -> list[Answer]:
    """The board's own answer for each case, by its sun table file or one of the case's year."""
    if engine not in ENGINES:
        raise UserError(f"--engine {engine}: give one of {', '.join(ENGINES)}")
    keys = [0 if table is not None else case.at.year for case in cases]
    files = {key: table or build_table(date(key, 1, 1), 1.01) for key in sorted(set(keys))}
    if engine == "cpython":
        return _in_process(cases, keys, files)
    from sunhob_sim.wasm_sun import answers  # the bench has the interpreter

    return answers(cases, keys, files)


def compare(cases: list[Case], table: bytes | None = None, engine: str = "cpython") -> dict[str, Any]:
    """Board and SPA for every case; the object printed by `sunhob sun --json`. table: a sun table file."""
    columns = np.array([[c.at.timestamp(), c.latitude_deg, c.longitude_deg] for c in cases])
    air = np.array([[c.altitude_m, c.pressure_pa, c.temp_c] for c in cases])
    azimuth, elevation = sun_azel(*columns.T, *air.T)
    truth = enu_from_azel(azimuth, elevation)
    listed = []
    for i, (case, (e, n, u, up_deg)) in enumerate(
        zip(cases, board_answers(cases, table, engine), strict=True)
    ):
        apart = float(separation_deg([[e, n, u]], truth[i : i + 1])[0])
        listed.append(
            {
                "at": iso(case.at),
                "latitude_deg": case.latitude_deg,
                "longitude_deg": case.longitude_deg,
                "altitude_m": case.altitude_m,
                "pressure_pa": case.pressure_pa,
                "temp_c": case.temp_c,
                "board": {
                    "azimuth_deg": math.degrees(math.atan2(e, n)) % 360.0,
                    "elevation_deg": up_deg,
                },
                "spa": {"azimuth_deg": float(azimuth[i]), "elevation_deg": float(elevation[i])},
                "separation_deg": apart,
            }
        )
    worst = max(row["separation_deg"] for row in listed)  # type: ignore[type-var]
    return {"engine": engine, "cases": listed, "worst_separation_deg": worst}


def _site_rounds(table: SunTable, per_site: int, seed: int) -> Iterator[tuple[Case, Whole, Whole]]:
    """Sites (as cases at the table's first day) with days and ms of day to try there."""
    rng = np.random.default_rng(seed)
    start = datetime.combine(date_of(table.first_day), datetime.min.time(), UTC)
    for latitude in CHECK_LATITUDES_DEG:
        altitude = float(rng.uniform(0.0, 4500.0))
        longitude = round(float(rng.uniform(-180.0, 180.0)), 6)
        pressure = standard_pressure_pa(altitude)
        case = Case(start, latitude, longitude, altitude, pressure, float(rng.uniform(-20.0, 40.0)))
        days = rng.integers(table.first_day, table.last_day + 1, per_site)
        days[:2] = table.first_day, table.last_day
        ms = rng.integers(0, 86400000, per_site)
        yield case, days, ms


def table_worst(
    table: SunTable, per_site: int = 4000, seed: int = 1, done: Callable[[int], None] = lambda n: None
) -> dict[str, Any]:
    """Worst separation (deg) of the board's sun from SPA over sites, hours, the table's years, sun up.

    `done` is told how many directions were tried since it was last told.
    """
    worst: dict[str, Any] = {"worst_separation_deg": -1.0}
    tried = 0
    for site, days, ms in _site_rounds(table, per_site, seed):
        times = DAY0_UNIX + 86400.0 * days + ms / 1000.0
        truth = sun_enu(
            times, site.latitude_deg, site.longitude_deg, site.altitude_m, site.pressure_pa, site.temp_c
        )
        sun = board_sun(table, site)
        found = np.empty((per_site, 3))
        for i in range(per_site):
            sun.update(int(days[i]), int(ms[i]))
            found[i] = sun.e, sun.n, sun.u
        apart = np.where(truth[:, 2] >= 0.0, separation_deg(found, truth), -1.0)
        tried += int(np.sum(apart >= 0.0))
        at = int(np.argmax(apart))
        if apart[at] > worst["worst_separation_deg"]:
            worst = {
                "worst_separation_deg": float(apart[at]),
                "at": iso(datetime.fromtimestamp(times[at], UTC)),
                "latitude_deg": site.latitude_deg,
                "longitude_deg": site.longitude_deg,
                "elevation_deg": math.degrees(math.asin(truth[at, 2])),
            }
        done(per_site)
    return {**worst, "directions": tried}
