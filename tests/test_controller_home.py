"""Finding home from where the dish may stand on the sun: behind it all the way, or not at all yet.

A board of plain Python with home flags and true axes, at the invented courtyard (24.6 N, 73.7 E, noon at
07:05 UTC). Units: degrees, seconds.
"""

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from sunhob_board.core import panel as keys
from sunhob_board.core.find_home import FindHome
from sunhob_board.declared import modes
from sunhob_board.mount.axis import Axis
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.mount import Mount
from sunhob_board.mount.planner import Planner

from .fake_board import FakeBoard
from .mount_fakes import FakeDrive, MeanSun, settings
from .test_controller import cooking, parked, save_settings
from .test_mount_admission import unit

HOME = (-2.0, 22.6)
LAT = math.radians(24.6)


class FlagBoard(FakeBoard):
    """Its axes stand truly at `zero` plus the steps made; its flags follow them. Keeps every aim and sun."""

    zero = (0.0, 24.6)

    def true_deg(self):
        return [z + d.steps / 800.0 for z, d in zip(self.zero, self.pair, strict=True)]

    def read_inputs(self):
        one, two = self.true_deg()
        flags = (keys.HOME1 if one <= HOME[0] else 0) | (keys.HOME2 if two <= HOME[1] else 0)
        if self.app is not None and self.app.sun is not None:
            sun = self.app.sun
            self.seen.append((one, two, sun.e, sun.n, sun.u))
        return self.mask | flags

    def boot(self):
        self.seen = []
        return super().boot()


def worst_lead_deg(b, least_apart=66.0):
    """Greatest lead on the sky, beyond 8 deg of the pole and within `least_apart` of the sun."""
    rows = np.array(b.seen)
    aim, sun = unit(rows[:, 0], rows[:, 1]).T, rows[:, 2:]
    south = np.array([0.0, -math.sin(LAT), math.cos(LAT)])
    pole = np.array([0.0, math.cos(LAT), math.sin(LAT)])
    ha = [np.arctan2(-v[:, 0], v @ south) for v in (aim, sun)]
    behind = np.degrees((ha[1] - ha[0] + np.pi) % (2 * np.pi) - np.pi)
    lead = -behind * np.sqrt(1 - (aim @ pole) ** 2)
    near = np.degrees(np.arccos(np.clip((aim * sun).sum(axis=1), -1, 1))) < least_apart
    return float(np.max(lead[near & (aim @ pole < math.cos(math.radians(8)))], initial=0.0))


def on_the_sun(b, off=(0.0, 0.0)):
    """Put the true axes on the sun of the board."""
    b.run(1)
    out = [0, 0]
    b.app.mount.geometry.near[0] = 180_000_000
    assert b.app.mount.geometry.axes_from_enu(b.app.sun.e, b.app.sun.n, b.app.sun.u, out)
    b.zero = tuple(a / 1e6 + o - d.steps / 800.0 for a, o, d in zip(out, off, b.pair, strict=True))
    b.seen.clear()


def at_pole(b):
    one, two = b.true_deg()
    return abs(one) < 0.3 and abs(two - 24.6) < 0.3


@pytest.mark.parametrize(("month", "hour"), [(3, 3), (3, 8), (3, 10), (6, 3), (6, 7), (12, 5), (12, 9)])
def test_with_no_place_at_all_it_homes_behind_the_sun(tmp_path, month, hour):
    save_settings(tmp_path)
    b = FlagBoard(tmp_path, datetime(2026, month, 10, hour, 20, tzinfo=UTC))
    b.boot()
    on_the_sun(b)
    b.run(200, lambda: b.app.controller.mode == modes.PARKED and not b.app.controller.homing_needed)
    assert b.names().count("homed") == 2 and worst_lead_deg(b, 40.0) < 0.4 and worst_lead_deg(b) < 3.5
    assert b.app.controller.mode == modes.PARKED


def order_found(dec, ha, flags=0, sun_ok=True):
    """What FindHome says at 5 deg north with no count at all."""
    s = settings(site_latitude_deg=5.0, site_latitude_udeg=5_000_000, axis1_home_deg=-2.0, axis2_home_deg=3.0)
    mount = Mount((Axis(FakeDrive(), 1, s), Axis(FakeDrive(), 2, s)), Geometry(s))
    sun = MeanSun(5.0, dec, ha)
    find = FindHome(s, sun, mount, Planner(mount, sun, s))
    find.begin(False, flags, sun_ok, [0, 5_000_000])
    while not find.step():
        pass
    return find.order


def test_the_order_is_chosen_by_the_sun():
    """From a sun north of the zenith the dish may sink in the morning; in the afternoon axis 1 turns ahead of
    the sun and axis 2 sinks ahead of it: wait. Flags that say the dish stands elsewhere need no choice."""
    assert order_found(20.0, -20.0) == (2, 1)
    assert order_found(20.0, 20.0) is None
    assert order_found(-20.0, 30.0) == (1, 2)
    assert order_found(20.0, 20.0, flags=3) == (1, 2)


def test_with_no_way_it_says_so_once_waits_and_warns_afresh(tmp_path, monkeypatch):
    save_settings(tmp_path)
    b = FlagBoard(tmp_path, datetime(2026, 3, 10, 8, 20, tzinfo=UTC))
    closed = [True]
    begin = FindHome.begin

    def sometimes(find, *words):
        begin(find, *words)
        if closed[0]:
            find._end(None)

    monkeypatch.setattr(FindHome, "begin", sometimes)
    b.boot()
    on_the_sun(b)
    steps = [d.steps for d in b.pair]
    b.run(300)
    told = [e for e in b.events if e[0] == "no_path"]
    assert len(told) == 1 and told[0][2] == 2 and [d.steps for d in b.pair] == steps
    closed[0] = False
    warned = b.names().count("warn")
    b.run(300, lambda: b.app.controller.mode == modes.PARKED and not b.app.controller.homing_needed)
    assert b.names().count("homed") == 2 and b.names().count("warn") >= warned + 1


@pytest.mark.parametrize(("month", "hour"), [(3, 4), (3, 9), (6, 7), (12, 8)])
def test_after_a_stop_on_the_way_it_goes_to_the_flags_by_its_last_count(tmp_path, month, hour):
    b = parked(tmp_path, datetime(2026, month, 10, hour, 0, tzinfo=UTC), [0, 24_600_000], FlagBoard)
    cooking(b)
    b.app.watch.sight = None  # no sun sensor tells that it is right enough
    b.press(keys.LEAVE)
    b.run(60, lambda: b.app.mount.moving)
    b.run(1.0)
    b.mask &= ~keys.CHAIN
    b.run(2)
    assert b.app.controller.homing_needed and b.app.controller.rough
    b.zero = (b.zero[0] + 1.0, b.zero[1] - 1.0)  # it coasted
    b.mask |= keys.CHAIN
    b.run(5)
    b.seen.clear()
    b.press(keys.LEAVE)
    b.run(200, lambda: b.app.controller.mode == modes.PARKED)
    assert b.names().count("homed") == 2 and b.app.controller.mode == modes.PARKED
    corrections = [e[2] for e in b.events if e[0] == "homed"]
    assert corrections == [pytest.approx(1000, abs=600), pytest.approx(-1000, abs=600)]
    assert worst_lead_deg(b) < 1.5  # as far as it had coasted, for the first moments


def test_a_restart_in_the_middle_of_leaving_goes_by_its_last_count(tmp_path):
    b = parked(tmp_path, datetime(2026, 3, 1, 9, 0, tzinfo=UTC), [0, 24_600_000], FlagBoard)
    cooking(b)
    b.press(keys.LEAVE)
    b.run(60, lambda: b.app.mount.moving)
    b.run(2.0)
    again = FlagBoard(tmp_path, b.time())
    again.rtc, again.zero = b.rtc, tuple(b.true_deg())
    again.boot()
    assert again.app.controller.rough and again.app.controller.homing_needed
    c = again.app.controller
    again.run(250, lambda: c.mode == modes.PARKED and not c.homing_needed)
    assert again.names().count("homed") == 2 and at_pole(again)


class StuckFlag(FlagBoard):
    """The flag of axis 2 stays active from where `lies` was set."""

    lies = False

    def read_inputs(self):
        return super().read_inputs() | (keys.HOME2 if self.lies else 0)


def rests_by_counts(b):
    """It leaves and rests as if the flag had said nothing, and names no axis dead."""
    b.run(60, lambda: b.app.controller.mode == modes.LEAVING)
    b.run(200, lambda: b.app.controller.mode in (modes.PARKED, modes.LOCKED))
    b.run(3)
    apart = [[abs(t - a / 1e6) for t, a in zip(b.true_deg(), place, strict=True)]
             for place in (b.app.rest.axes, b.app.rest.pole)]
    assert min(map(max, apart)) < 0.3 and not {"dead_axis", "homed"} & set(b.names())
    return b.app.controller


def test_a_flag_that_stays_as_it_was_on_the_way_to_the_sun_sends_it_back(tmp_path):
    """Flag or axis 2: either way it ends where it had rested, without a search in loose light."""
    b = parked(tmp_path, datetime(2026, 6, 10, 6, 0, tzinfo=UTC), [0, 24_600_000], StuckFlag)
    b.app.watch.sight = None
    b.lies = True
    b.knob.value = 65535
    b.press(keys.ARM)
    b.run(60, lambda: "doubt" in b.names())
    assert ("mode", modes.COMING, modes.LEAVING) in b.events
    c = rests_by_counts(b)
    assert c.mode == modes.LOCKED and c.homing_needed
    b.lies = False
    b.press(keys.LEAVE)
    b.run(100, lambda: not c.homing_needed)
    assert b.names().count("homed") == 2


@pytest.mark.parametrize(("month", "hour", "searched"), [(6, 7, False), (12, 5, True)])
def test_a_flag_that_changes_on_the_sun_is_the_wrong_one(tmp_path, month, hour, searched):
    """Far from home no axis slips so far: it is not even looked for. Nearer it is, in vain."""
    b = parked(tmp_path, datetime(2026, month, 10, hour, 0, tzinfo=UTC), [0, 24_600_000], StuckFlag)
    cooking(b)
    b.app.watch.sight = None
    b.run(5)
    b.lies = True
    c = rests_by_counts(b)
    assert c.homing_needed == searched == ("doubt" in b.names())


def test_a_place_lost_in_the_warning_is_not_left_by_a_way_found_long_ago(tmp_path):
    """It followed the legs of an earlier search, to where they began: round by the sun."""
    b = parked(tmp_path, datetime(2026, 3, 10, 8, 0, tzinfo=UTC), [0, 24_600_000], FlagBoard)
    c = b.app.controller
    c.find.legs, c.find.finished = [(40_000_000, 50_000_000), (-2_000_000, 22_600_000)], True
    b.seen.clear()
    c._begin(modes.LEAVING)
    b.run(1)
    b.app.mount.axes[0].placed = False
    b.run(100, lambda: c.mode == modes.PARKED)
    assert c.mode == modes.PARKED and b.names().count("homed") == 2 and at_pole(b)
    assert np.abs(np.array(b.seen)[:, :2] - (0.0, 24.6)).max() < 8.0
