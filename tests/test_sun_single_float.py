"""The board's sun in single floats against SPA. Units: deg, udeg, days since 2000-01-01, ms."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest
from sunhob.sun_compare import standard_pressure_pa
from sunhob.sun_table import DAY0_UNIX, build_table, day2000
from sunhob.sun_truth import separation_deg, sun_enu

from tests.single_float import Board, single

ALLOWED_DEG = 0.001
TABLE = build_table(date(2026, 1, 1), 20)


@pytest.fixture(scope="module")
def board() -> Board:
    return Board()


def worst_deg(board: Board, lat: float, lon: float, days: np.ndarray, ms: np.ndarray) -> float:
    """Worst separation with the sun up, at 1500 m and 20 degC."""
    table = board.module("sunhob_board.sun.table").SunTable(TABLE)
    board.big.clear()  # the check sum alone has 32 bits
    pressure = standard_pressure_pa(1500.0)
    sun = board.module("sunhob_board.sun.position").Sun(
        table, round(lat * 1e6), round(lon * 1e6), 1500.0, single(pressure), 20.0
    )
    truth = sun_enu(DAY0_UNIX + 86400.0 * days + ms / 1000.0, lat, lon, 1500.0, pressure, 20.0)
    found = np.empty_like(truth)
    for i in range(len(days)):
        sun.update(int(days[i]), int(ms[i]))
        found[i] = sun.e, sun.n, sun.u
    up = truth[:, 2] >= 0.0
    assert up.any()
    worst = float(separation_deg(found, truth)[up].max())
    print(f"worst {worst:.6f} deg")
    return worst


def test_harness_really_rounds(board: Board) -> None:
    position = board.module("sunhob_board.sun.position")
    assert position.UDEG == single(180e6 / single(math.pi)) != 180e6 / math.pi


@pytest.mark.parametrize("lat", [-89.0, -66.6, -33.9, -1.3, 0.0, 12.0, 23.44, 51.0, 66.6, 89.0])
def test_anywhere_for_twenty_years(board: Board, lat: float) -> None:
    rng = np.random.default_rng(round(lat * 10) + 900)
    days = rng.integers(day2000(date(2026, 1, 1)), day2000(date(2046, 1, 1)), 600)
    ms = rng.integers(0, 86400000, 600)
    assert worst_deg(board, lat, float(rng.uniform(-180, 180)), days, ms) <= ALLOWED_DEG
    assert not board.big  # no whole number left the board's small ints


@pytest.mark.parametrize("lon", [-180.0, -179.999999, 179.999999, 180.0])
def test_antimeridian(board: Board, lon: float) -> None:
    ms = np.arange(0, 86400000, 600_007)
    assert worst_deg(board, -17.0, lon, np.full(len(ms), 10000), ms) <= ALLOWED_DEG


def test_zenith_pass_second_by_second(board: Board) -> None:
    # Nairobi 2026-09-26, the sun passes 0.1 deg from the zenith about 09:24 UTC
    ms = np.arange(9 * 3600000 + 20 * 60000, 9 * 3600000 + 28 * 60000, 1000)
    assert worst_deg(board, -1.2864, 36.8172, np.full(len(ms), day2000(date(2026, 9, 26))), ms) <= ALLOWED_DEG


def test_polar_day(board: Board) -> None:
    ms = np.arange(0, 86400000, 300_000)
    assert worst_deg(board, 78.2, 15.6, np.full(len(ms), day2000(date(2027, 6, 21))), ms) <= ALLOWED_DEG


def test_sunrise_and_set(board: Board) -> None:
    ms = np.concatenate([np.arange(21_000_000, 23_000_000, 5_000), np.arange(63_000_000, 67_000_000, 5_000)])
    assert worst_deg(board, 0.5, 0.0, np.full(len(ms), 9700), ms) <= ALLOWED_DEG


@pytest.mark.parametrize(
    "first", [date(2027, 12, 31), date(2028, 2, 28), date(2028, 2, 29), date(2028, 12, 31)]
)
def test_years_end_and_leap_day(board: Board, first: date) -> None:
    ms = np.arange(0, 86400000, 400_000)
    days = np.repeat([day2000(first), day2000(first) + 1], len(ms))
    assert worst_deg(board, 20.0, 0.0, days, np.tile(ms, 2)) <= ALLOWED_DEG


def test_fixed_aim_behind_and_lag(board: Board) -> None:
    position = board.module("sunhob_board.sun.position")
    sun = position.Sun(
        board.module("sunhob_board.sun.table").SunTable(TABLE), 28_000_000, 77_000_000, 200.0, 1e5, 20.0
    )
    sun.update(9800, 6 * 3600000)
    aim = [0.0, 0.0, 0.0]
    for lag in (-80_000, 0, 100_000, 5_000_000, 40_000_000):
        sun.trailing_aim(lag, aim)
        assert sun.separation_udeg(*aim) == pytest.approx(abs(lag), abs=30 + 5e-4 * abs(lag))
        behind = sun.behind_udeg(*aim)
        assert behind == pytest.approx(0, abs=30) if lag == 0 else (behind > 0) == (lag > 0)
