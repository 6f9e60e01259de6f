"""Light and flags against the counts, the rough sun, one axis alone, and when the light walks off.

Checked against the SPA of pvlib (NREL/TP-560-34302) by the host's reference sun. Units: degrees, minutes.
"""

import random
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from sunhob.sun_truth import sun_azel
from sunhob_board.core.walk_off import WalkOff
from sunhob_board.core.whereabouts import BRIGHT, DARK, FLAG1, FLAG2, Whereabouts
from sunhob_board.declared import modes
from sunhob_board.sun.position import Sun
from sunhob_board.sun.rough import RoughSun

from .test_controller import board, cooking  # noqa: F401

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
LAT, LON = 24.6, 73.7


def rough(when, lat=LAT, lon=LON):
    """The board's sun with no table."""
    sun = Sun(RoughSun(), round(lat * 1e6), round(lon * 1e6), 0.0, 101000.0, 15.0)
    passed = when - EPOCH
    sun.update(passed.days, passed.seconds * 1000)
    return sun


def truly(when, lat=LAT, lon=LON):
    """East, north, up of the reference sun."""
    az, el = (np.radians(x[0]) for x in sun_azel(np.array([when.timestamp()]), lat, lon))
    return np.array([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)])


def test_the_rough_sun_is_near_enough_to_leave_by():
    chance, worst = random.Random(4), 0.0
    for _ in range(300):
        when = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(minutes=chance.randrange(20 * 525_960))
        lat, lon = chance.uniform(-60, 60), chance.uniform(-180, 180)
        true = truly(when, lat, lon)
        if true[2] > 0.1:
            sun = rough(when, lat, lon)
            worst = max(worst, float(np.degrees(np.arccos(min(1.0, true @ [sun.e, sun.n, sun.u])))))
    assert 0.0 < worst < 0.05


class Mount:
    """Axes that stand where they are put, looking at a direction that is put."""

    def __init__(self):
        self.moving = False
        self.axes = [SimpleNamespace(position_udeg=90_000_000, home_udeg=0, homes=True) for _ in range(2)]
        self.look = (0.0, 0.0, 1.0)

    def enu(self, out):
        out[0], out[1], out[2] = self.look


@pytest.fixture
def watch():
    mount = Mount()
    s = SimpleNamespace(sensor_beam_w_m2_full=1500.0, sensor_open_w_m2_full=1500.0)
    return Whereabouts(s, mount), mount


def seconds_to(watch, sun, want, beam, sky, flags=0):
    """Seconds until `want` is told; None if it is not within a minute."""
    for tick in range(600):
        if watch.tick(100, sun, beam, sky, 900.0, flags) == want:
            return (tick + 1) / 10
    return None


NOON = datetime(2026, 3, 1, 7, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("on_it", "beam", "sky", "want", "after_s"),
    [
        (True, 10.0, 850.0, DARK, 6.0),  # dark under a bright sky
        (True, 10.0, 400.0, DARK, None),  # a cloud
        (True, 10.0, 1499.0, DARK, None),  # a shorted open cell says nothing
        (True, 700.0, 850.0, DARK, None),
        (False, 700.0, 850.0, BRIGHT, 1.5),
        (False, 10.0, 850.0, BRIGHT, None),
        (False, 1499.0, 850.0, BRIGHT, None),  # a shorted tube says nothing
    ],
)
def test_light_speaks_against_the_counts(watch, on_it, beam, sky, want, after_s):
    one, mount = watch
    sun = rough(NOON)
    mount.look = (sun.e, sun.n, sun.u) if on_it else (0.0, 1.0, 0.0)
    assert seconds_to(one, sun, want, beam, sky) == after_s


def test_an_open_cell_that_jumps_about_tells_of_no_bright_sky(watch):
    one, mount = watch
    sun = rough(NOON)
    mount.look = (sun.e, sun.n, sun.u)
    for tick in range(300):
        assert one.tick(100, sun, 10.0, 850.0 if tick % 2 else 1000.0, 900.0, 0) == 0


@pytest.mark.parametrize(("left", "after_s"), [(320.0, None), (420.0, 1.5)])
def test_a_tube_that_lost_half_its_light_has_left_the_sun(watch, left, after_s):
    """What it still tells, it tells too much."""
    one, mount = watch
    sun = rough(NOON)
    mount.look = (sun.e, sun.n, sun.u)
    assert seconds_to(one, sun, DARK, 700.0, 850.0) is None
    mount.look = (0.0, 1.0, 0.0)
    assert seconds_to(one, sun, BRIGHT, left, 850.0) == after_s


@pytest.mark.parametrize(("axis", "want"), [(0, FLAG1), (1, FLAG2)])
def test_a_flag_that_is_wrong_far_from_home_is_told_and_near_it_is_not(watch, axis, want):
    one, mount = watch
    assert seconds_to(one, None, want, 0.0, 0.0, 1 << axis) == 1.5
    one.forget()
    mount.moving = True
    mount.axes[axis].position_udeg = 3_000_000
    assert seconds_to(one, None, want, 0.0, 0.0, 1 << axis) is None
    mount.moving = False  # the pole may be no farther than 2 deg past home
    mount.axes[axis].position_udeg = 2_000_000
    assert seconds_to(one, None, want, 0.0, 0.0, 1 << axis) == 1.5
    one.forget()
    mount.axes[axis].position_udeg = 1_000_000
    assert seconds_to(one, None, want, 0.0, 0.0, 1 << axis) is None
    mount.axes[axis].homes = False
    mount.axes[axis].position_udeg = 90_000_000
    assert seconds_to(one, None, want, 0.0, 0.0, 1 << axis) is None


@pytest.mark.parametrize("axis", [0, 1])
def test_a_flag_that_changes_far_from_home_lies_and_one_that_does_not_change_need_not(watch, axis):
    one, mount = watch
    at = mount.axes[axis]
    flag = FLAG1 + axis
    at.position_udeg = 30_000_000
    assert seconds_to(one, None, flag, 0.0, 0.0) is None  # right so far
    assert seconds_to(one, None, flag, 0.0, 0.0, 1 << axis) == 1.5
    assert one.lies and one.changed(axis, 0)
    at.position_udeg = 12_000_000  # an axis may have slipped so far
    assert seconds_to(one, None, flag, 0.0, 0.0) is None
    assert seconds_to(one, None, flag, 0.0, 0.0, 1 << axis) == 1.5
    assert not one.lies and one.changed(axis, 0)
    one.forget()
    at.position_udeg = -30_000_000  # counted past its home, the flag as before: perhaps it stands still
    assert seconds_to(one, None, flag, 0.0, 0.0) == 1.5
    assert not one.lies and not one.changed(axis, 0)


def test_when_the_light_walks_off_and_comes_back_agrees_with_the_reference_sun():
    at = datetime(2026, 3, 1, 5, 0, tzinfo=UTC)
    aim = truly(at)
    away = [np.degrees(np.arccos(np.clip(aim @ true, -1, 1))) if true[2] > -0.0157 else 360.0
            for true in (truly(at + timedelta(minutes=m)) for m in range(0, 1440, 5))]
    pot = 5 * next(k for k, x in enumerate(away) if x >= 20)
    loose = 5 * next(k for k, x in enumerate(away) if x >= 75)
    back = 5 * next(k for k, x in enumerate(away) if 5 * k > loose and x < 20)
    walk = WalkOff(SimpleNamespace(dish_pot_clear_deg=20.0, dish_loose_clear_deg=75.0), rough(at))
    walk.begin(*aim)
    while not walk.step():
        pass
    assert (walk.pot_min, walk.loose_min) == (pytest.approx(pot, abs=5), pytest.approx(loose, abs=5))
    assert walk.back_min == pytest.approx(back, abs=10)  # the declination goes on by 0.4 deg


def test_a_dish_that_stays_on_the_sun_is_doubted_and_the_dead_axis_named(board):  # noqa: F811
    cooking(board)
    board.light.beam.level.sees = lambda: True  # whatever is counted, the tube goes on to see the sun
    here = {"two": 128}
    high = board.app.mount.axes[1].position_udeg > board.app.mount.axes[1].home_udeg
    board.read_inputs = lambda: board.mask | (0 if high else here["two"]) | (
        64 if board.app.mount.axes[0].position_udeg <= board.app.mount.axes[0].home_udeg else 0)
    board.app.controller.ask_leave()
    board.run(300, lambda: board.app.controller.mode == modes.LOCKED)
    assert ("doubt", BRIGHT) in [e[:2] for e in board.events]
    assert ("dead_axis", 2) in [e[:2] for e in board.events]
    assert board.app.controller.mode == modes.LOCKED and not board.app.mount.moving
    assert board.out & 16 and not board.out & 1  # fault lamp on, motors without power
