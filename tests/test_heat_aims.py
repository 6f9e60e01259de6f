"""Trails and aims: heat to lag and back, never ahead of the sun, least stray light, in single floats too.

Units: udeg, deg, permille; the sites are invented.
"""

import math
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sunhob.heat_table import build_heat_table
from sunhob.optics.geometry import optics_fingerprint, trailing_direction_deg
from sunhob.settings import load_cooker
from sunhob_board.heat.aims import ANGLES_DEG, Aims
from sunhob_board.heat.table import HeatTable
from sunhob_board.heat.trail import Attitude, Trail
from sunhob_board.sun.position import Sun

from tests.single_float import Board

COOKER = load_cooker()
MARK = optics_fingerprint(COOKER)
DATA = build_heat_table(COOKER)
TABLE = HeatTable(DATA, MARK)
LATITUDES = st.floats(-60.0, 60.0)
DECLINATIONS = st.floats(-23.4, 23.4)
HOURS = st.floats(-75.0, 75.0)
PERMILLE = st.integers(0, 1000)


class Fixed:
    """A sun table that holds one place of the sun, in micro-degrees."""

    def __init__(self, dec_deg, ha_deg):
        self.dec_udeg, self.gha_udeg = round(dec_deg * 1e6), round(ha_deg * 1e6)

    def at(self, day, ms):
        pass


def sun_at(latitude, dec, hour, kind=Sun):
    sun = kind(Fixed(dec, hour), round(latitude * 1e6), 0, 300.0, 97_700.0, 20.0)
    sun.update(9_600, 0)
    return sun


def whole(trail, sun, angle):
    trail.start(sun, angle)
    while not trail.step():
        pass
    return trail


def permille_at(trail, lag_udeg):
    """Heat at a lag by the profile, straight between its lags."""
    return np.interp(lag_udeg / 1000.0, trail.table.lags_mdeg, np.array(trail.profile) / 100.0)


class Everywhere:
    """A mount whose travel ends at a lowest elevation only."""

    def __init__(self, low_deg=-90.0):
        self.low = math.sin(math.radians(low_deg))
        self.geometry = self
        self.at = (0.0, 0.0, 1.0)

    def axes_from_enu(self, e, n, u, out):
        return u >= self.low

    def enu(self, out):
        out[0], out[1], out[2] = self.at


def aims_of(latitude, dec, hour, table=TABLE, low_deg=-90.0):
    s = SimpleNamespace(site_latitude_udeg=round(latitude * 1e6), tracking_deadband_deg=0.08,
                        axis2_drive="stepper", heat_least_percent=20.0)
    return Aims(table, sun_at(latitude, dec, hour), Everywhere(low_deg), s)


def settle(aims, permille, rounds=5):
    for _ in range(rounds * (len(ANGLES_DEG) + 1) * 12):
        aims.step(permille)
    assert aims.ready
    return aims


@given(LATITUDES, DECLINATIONS, HOURS, st.sampled_from(ANGLES_DEG), PERMILLE, PERMILLE)
@settings(max_examples=60, deadline=None)
def test_less_heat_is_never_nearer_the_sun_and_the_way_back_is_what_was_asked(lat, dec, hour, angle, a, b):
    sun = sun_at(lat, dec, hour)
    if sun.elevation_deg < 10.0:
        return
    trail = whole(Trail(TABLE, math.radians(lat)), sun, angle)
    low, high = sorted((a, b))
    assert trail.lag_udeg(low) >= trail.lag_udeg(high)
    assert trail.lag_udeg(1000) == 0
    for asked in (low, high):
        lag = trail.lag_udeg(asked)
        if lag < 40_000_000:
            assert permille_at(trail, lag) <= asked + 1
            if asked > 5:
                assert permille_at(trail, max(0, lag - 2_000)) >= asked - 1


def test_a_share_that_rises_with_the_lag_is_not_followed_up():
    def wavy(lag, _elevation, _direction):
        return max(0, 50_000 - lag // 400 + (9_000 if 9_500_000 < lag < 10_500_000 else 0))

    waves = SimpleNamespace(lags_mdeg=TABLE.lags_mdeg,
                            share_on=lambda i, *at: wavy(TABLE.lags_mdeg[i] * 1000, *at))
    trail = whole(Trail(waves, 0.4), sun_at(23.0, 0.0, 20.0), 0)
    assert all(b <= a for a, b in pairwise(trail.profile))
    lags = [trail.lag_udeg(permille) for permille in range(0, 1001, 5)]
    assert all(b <= a for a, b in pairwise(lags))


@given(LATITUDES, DECLINATIONS, HOURS, st.sampled_from(ANGLES_DEG), st.floats(0.05, 39.0))
@settings(max_examples=200, deadline=None)
def test_no_aim_is_ever_ahead_and_all_are_as_far_as_they_say(lat, dec, hour, angle, lag_deg):
    sun = sun_at(lat, dec, hour)
    if sun.elevation_deg < 10.0:
        return
    trail = Trail(TABLE, math.radians(lat))
    trail.start(sun, angle)
    aim = [0.0, 0.0, 0.0]
    trail.aim(round(lag_deg * 1e6), aim)
    assert sun.separation_udeg(*aim) == pytest.approx(lag_deg * 1e6, abs=20)
    assert 0 < sun.behind_udeg(*aim) < 180_000_000


@given(st.floats(0.0, 359.0), st.floats(5.0, 89.0), st.floats(0.1, 30.0), st.floats(0.0, 360.0))
@settings(max_examples=100, deadline=None)
def test_attitude_is_the_hosts(azimuth, elevation, lag, turn):
    def unit(az, el):
        az, el = np.radians(az), np.radians(el)
        return np.array([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)])

    axis = unit(azimuth, elevation)
    across = np.cross(axis, unit(azimuth + 90.0, 0.0))
    way = np.cos(np.radians(turn)) * unit(azimuth + 90.0, 0.0) + np.sin(np.radians(turn)) * across
    sun = np.cos(np.radians(lag)) * axis + np.sin(np.radians(lag)) * way
    seen = Attitude()
    seen.look(*axis, *sun)
    want_lag, want_direction = trailing_direction_deg(axis, sun)
    assert seen.lag_udeg / 1e6 == pytest.approx(want_lag, abs=2e-6)
    assert seen.elevation_udeg / 1e6 == pytest.approx(elevation, abs=2e-6)
    off = (seen.direction_udeg / 1e6 - want_direction + 180.0) % 360.0 - 180.0
    assert abs(off) < 1e-4


def test_heat_asked_is_the_heat_where_the_axes_then_stand():
    for dec, hour in ((-15.0, -40.0), (0.0, 10.0), (20.0, 35.0)):
        aims = settle(aims_of(24.6, dec, hour), 600)
        aims.aim(aims.lag_udeg(600), aims._vec)
        aims.mount.at = tuple(aims._vec)
        aims.estimate()
        # the profile runs straight between its lags, the table between attitudes: up to a percent apart
        assert aims.permille_now == pytest.approx(600, abs=12)
        assert aims.heat_w(1000.0) / aims.full_w(1000.0) == pytest.approx(0.6, abs=0.012)


class Strayed:
    """The table with stray light of its own: `share` as ever, `stray` by the direction of the sun."""

    def __init__(self, stray):
        self.lags_mdeg, self.full_dw = TABLE.lags_mdeg, TABLE.full_dw
        self.share, self.share_on, self._stray = TABLE.share, TABLE.share_on, stray

    def stray(self, lag, elevation, direction):
        return self._stray(direction)


NOTHING_STRAYS = Strayed(lambda _direction: 0)


def test_the_suns_own_path_wins_where_stray_light_is_alike():
    for value in (0, 100):
        aims = settle(aims_of(24.6, -10.0, -30.0, Strayed(lambda d, value=value: value)), 500)
        assert aims.angle_deg == 0


def test_the_least_stray_light_is_taken_and_kept_until_another_is_clearly_better():
    aims = aims_of(24.6, -10.0, -30.0)
    seen = {}
    for angle in ANGLES_DEG:
        trail = whole(Trail(TABLE, math.radians(24.6)), aims.sun, angle)
        trail.stray(trail.lag_udeg(500))
        seen[angle] = trail._seen.direction_udeg
    good = seen[-30]
    level = {"here": 0, "there": 60}
    aims.table = Strayed(lambda d: level["here"] if abs(d - good) < 3_000_000 else level["there"])
    for trail in aims._pair:
        trail.table = aims.table
    settle(aims, 500)
    assert aims.angle_deg == -30
    level["here"] = 64  # hardly worse than the rest: it does not hop
    settle(aims, 500)
    assert aims.angle_deg == -30
    level["here"] = 90
    settle(aims, 500)
    assert aims.angle_deg == 0
    level["here"] = 0
    settle(aims, 1000)
    assert aims.angle_deg == 0, "on the sun there is nothing to choose"


def test_at_the_lower_end_of_the_travel_it_aims_to_the_pole_side():
    morning = (24.6, -10.0, -55.0)
    low = sun_at(*morning).elevation_deg - 1.0
    assert settle(aims_of(*morning, NOTHING_STRAYS), 500).angle_deg == 0
    aims = settle(aims_of(*morning, NOTHING_STRAYS, low_deg=low), 500)
    assert aims.angle_deg > 0
    aims.aim(aims.lag_udeg(500), aims._vec)
    assert aims._vec[2] >= math.sin(math.radians(low))


@pytest.fixture(scope="module")
def board():
    return Board()


def test_single_floats_give_the_same_heat_and_no_big_numbers(board):
    table = board.module("sunhob_board.heat.table").HeatTable(DATA, MARK)
    sun_kind = board.module("sunhob_board.sun.position").Sun
    trail_kind = board.module("sunhob_board.heat.trail").Trail
    rng = np.random.default_rng(5)
    board.big.clear()  # check sum and fingerprint have 32 bits
    for lat, dec, hour in zip(rng.uniform(-50, 50, 12), rng.uniform(-23, 23, 12), rng.uniform(-45, 45, 12),
                              strict=True):
        angle = int(rng.choice(ANGLES_DEG))
        one = whole(Trail(TABLE, math.radians(lat)), sun_at(lat, dec, hour), angle)
        other = whole(trail_kind(table, math.radians(lat)), sun_at(lat, dec, hour, sun_kind), angle)
        for permille in (400, 550, 700, 850, 990):
            assert other.lag_udeg(permille) == pytest.approx(one.lag_udeg(permille), abs=3_000)
            assert permille_at(other, one.lag_udeg(permille)) == pytest.approx(permille, abs=2)
    assert not board.big
