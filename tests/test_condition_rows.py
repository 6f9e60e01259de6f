"""Each row on clock, tables, place, cook and light: what trips it, and what looks alike and must not.

Units: W/m2, deg, s, ms. Fakes through the real judge (core/conditions.py), the real table and its dwells.
Rows on what stands around, axes and panel are in test_interlock_rows.py, those of the pot in
test_heat_guards.py.
"""

from pathlib import Path
from types import SimpleNamespace

import pytest
from sunhob_board.core.conditions import Conditions
from sunhob_board.core.settings import defaults
from sunhob_board.core.whereabouts import BRIGHT, BY_ENCODER
from sunhob_board.declared import interlocks as table
from sunhob_board.declared import modes
from sunhob_board.safety.interlocks import Interlocks

from .test_interlock_rows import CASES as AROUND

CLEAR_W_M2 = 800


class Day:
    """A dish that cooks in the sun, all well; `live(seconds)` lets time pass."""

    def __init__(self, mode=modes.COOKING):
        s = self.s = defaults()
        self.locks = Interlocks(s, lambda *_: None, "trip", "over")
        self.cond = Conditions(s, self.locks)
        rest = SimpleNamespace(cover=False, bright=False, rest_udeg=95_000_000, not_yet=False)
        self.c = SimpleNamespace(mode=mode, mount=SimpleNamespace(fault=0, moving=0), homing_needed=False,
                                 waits=False, on_sun=mode == modes.COOKING, busy=False, rest=rest)
        self.clock = SimpleNamespace(known=True, jumped_ms=0)
        self.sun = SimpleNamespace(elevation_deg=50.0)
        self.chain = True
        self.beam, self.open = 700, 800

    def live(self, seconds):
        for _ in range(seconds):
            self.locks.begin()
            self.cond.judge(self.c, self.clock, self.sun, self.chain, self.beam, self.open, CLEAR_W_M2)
            self.locks.tick(1000)
        return self.tripped()

    def tripped(self):
        return {row[0] for i, row in enumerate(table.ROWS) if self.locks.is_tripped(i)}


def put(path, value, seconds=3, mode=modes.COOKING):
    """With one thing otherwise, for so long."""
    def do():
        day = Day(mode)
        *where, name = path.split(".")
        thing = day
        for one in where:
            thing = getattr(thing, one)
        setattr(thing, name, value)
        return day, day.live(seconds)
    return do


def row(name):
    return table.INDEX[name]


def table_is(what):
    return put("cond.table_row", row(f"table_{what}"))


PARKED = modes.PARKED
LIMIT_DEG = defaults().interlock_sun_low_deg
LOW_W_M2 = defaults().interlock_light_low_w_m2
OLD_H = defaults().interlock_north_old_h
WARN_DAYS = defaults().interlock_table_warn_days
# row: (what trips it, what is near and must not)
CASES = {
    "stop_chain": (put("chain", False), put("chain", True)),
    "settings": (put("cond.settings_bad", True), put("cond.heat_table_bad", 1)),
    "clock_unset": (put("clock.known", False), put("clock.jumped_ms", 9_000)),
    "clock_jumped": (put("clock.jumped_ms", -9_000), put("clock.known", False)),
    "table_missing": (table_is("missing"), table_is("expired")),
    "table_corrupt": (table_is("corrupt"), table_is("missing")),
    "table_expired": (table_is("expired"), put("cond.table_days_left", 1)),
    "table_ageing": (put("cond.table_days_left", WARN_DAYS - 1), put("cond.table_days_left", WARN_DAYS)),
    "place_unknown": (put("c.homing_needed", True), put("c.on_sun", False)),
    "axis_limit": (put("cond.axis_stuck", True), put("c.homing_needed", True)),
    "light_low": (put("beam", LOW_W_M2 - 1, 700), put("beam", LOW_W_M2 + 1, 700)),
    "sun_low": (put("sun.elevation_deg", LIMIT_DEG - 0.1, 8), put("sun.elevation_deg", LIMIT_DEG + 0.1, 60)),
    "attendance": (put("cond.attendance_out", True), put("cond.attendance_out", False)),
    "loop_late": (put("cond.late_ms", 700), put("cond.late_ms", 0)),
    "restarted": (put("cond.restarted", True), put("cond.storm", True)),
    "brown_outs": (put("cond.storm", True), put("cond.restarted", True)),
    "park_bright": (put("c.rest.cover", True, mode=PARKED), put("c.rest.bright", True, mode=PARKED)),
    "north_old": (put("cond.north_age_h", int(OLD_H) + 1), put("cond.north_age_h", int(OLD_H) - 1)),
    "heat_table": (put("cond.heat_table_bad", 1), put("cond.table_row", row("table_missing"))),
    "way_closed": (put("c.rest.not_yet", True, mode=PARKED), put("c.rest.not_yet", True)),
    "drive_fault": (put("c.mount.fault", 1), put("cond.axis_stuck", True)),
    "place_doubt": (put("cond.doubt", BRIGHT), put("cond.doubt", BY_ENCODER)),
}


@pytest.mark.parametrize("name", CASES)
def test_the_row_trips_by_its_cause_and_not_by_what_is_near_it(name):
    trips, near = CASES[name]
    assert Day().live(90) == set() == Day(PARKED).live(90)
    assert name in trips()[1]
    assert name not in near()[1]


@pytest.mark.parametrize("name", CASES)
def test_it_clears_as_its_row_says(name):
    """By itself once all is well for so long; or by a person, and by nobody while the cause is there."""
    day, tripped = CASES[name][0]()
    i = row(name)
    well = Day(day.c.mode)
    assert name in tripped
    if table.ROWS[i][4]:
        assert not day.locks.clear(i)
    for what in ("cond", "c", "clock", "sun", "chain", "beam", "open"):
        setattr(day, what, getattr(well, what))
    day.cond.locks = day.locks
    over_s = day.locks.over_ms[i] // 1000
    if table.ROWS[i][4]:
        assert name in day.live(600) and day.locks.clear(i) and name not in day.live(1)
    else:
        assert over_s < 2 or name in day.live(over_s - 1)
        assert name not in day.live(3)


@pytest.mark.parametrize(("light_s", "cloud_s", "stays"), [(60, 500, True), (5, 700, False)])
def test_a_small_cloud_ends_no_meal_and_a_long_one_does(light_s, cloud_s, stays):
    day = Day()
    for _ in range(3):
        day.beam = LOW_W_M2 - 1
        day.live(cloud_s)
        day.beam = 700
        day.live(light_s)
    assert ("light_low" in day.tripped()) != stays


def test_away_from_the_sun_cloud_is_judged_by_the_open_cell_and_a_low_sun_says_nothing_of_cloud():
    day = Day(PARKED)
    day.beam = 0  # turned away, the tube sees nothing
    assert "light_low" not in day.live(700)
    day.open = 0.4 * CLEAR_W_M2
    assert "light_low" in day.live(700)
    low = Day()
    low.beam, low.sun.elevation_deg = 0, LIMIT_DEG - 1.0
    assert low.live(700) == {"sun_low"}


def test_the_sun_must_climb_past_its_limit_again_before_it_counts_as_up():
    day = Day()
    day.sun.elevation_deg = LIMIT_DEG - 0.1
    day.live(10)
    day.sun.elevation_deg = LIMIT_DEG + 0.1
    assert "sun_low" in day.live(60)
    day.sun.elevation_deg = LIMIT_DEG + day.s.interlock_sun_low_hysteresis_deg + 0.1
    assert "sun_low" not in day.live(10)


@pytest.mark.parametrize("mode", [modes.PARKED, modes.LOCKED])
def test_where_the_sun_is_not_known_a_resting_dish_asks_for_its_cover(mode):
    day = Day(mode)
    day.clock.known = False
    assert {"clock_unset", "park_bright"} == day.live(3)


def test_told_to_leave_it_goes_on_asking_for_the_cover_until_it_moves():
    day = Day(modes.PARKED)
    day.c.rest.cover = True
    assert "park_bright" in day.live(3)
    day.c.mode = modes.LEAVING
    assert "park_bright" in day.live(10)
    day.c.mount.moving = 3
    assert "park_bright" not in day.live(3)
    day.c.mount.moving = 0  # stopped on its way: it has not been told anew
    assert "park_bright" not in day.live(3)


ELSEWHERE = {
    "test_heat_guards.py": ("pot_absent", "pot_missing", "pot_lifted", "pot_hot", "scorch", "scorch_stays",
                            "dry_pot", "probe_stuck", "light_sensor"),
    "test_selfcheck.py": ("code_bad", "code_unlisted", "copy_bad", "memory_bad", "memory_low", "clock_rate",
                          "output_stuck", "watchdog", "reference"),
    "test_season_by_hand.py": ("season_due", "season_off"),
}


def test_every_row_of_the_table_is_tripped_in_some_test():
    """Here, in the cases of the rows around the dish, or in the test of what judges it."""
    named = {*CASES, *AROUND, "probe_contents", "probe_underside"}  # both by `which` in test_heat_guards
    for file, names in ELSEWHERE.items():
        text = (Path(__file__).parent / file).read_text(encoding="utf-8")
        assert all(f'"{name}"' in text for name in names), file
        named |= set(names)
    assert {one[0] for one in table.ROWS} == named
