"""Daily north, moves by hand that are left alone, and returns under haze, on the board of plain Python.

Units: seconds, degrees, hours. The site and its cook are invented.
"""

from datetime import UTC, datetime

import pytest
from sunhob import cli_dish
from sunhob.optics.geometry import optics_fingerprint
from sunhob.settings import load_cooker
from sunhob_board.core import panel as keys
from sunhob_board.core import settings as settings_reader
from sunhob_board.core.haze import Haze
from sunhob_board.core.north import DailyNorth
from sunhob_board.declared import interlocks, modes
from sunhob_board.declared import settings as table
from sunhob_board.store.slots import Slots

from .fake_board import FakeBoard

MORNING = datetime(2026, 3, 1, 4, 0, 0, tzinfo=UTC)
DULL, HAZY, BRIGHT = 2_000, 6_000, 40_000  # converter counts: 46, 137 and 916 W/m2


def start(folder, when=MORNING, rtc=None, **changes):
    """A board parked and placed, as after an ordinary night; settings of board names changed as told."""
    values = [changes.get(table.board_name(r[0], r[1]), table.board_default(r)) for r in table.board_rows()]
    body = settings_reader.pack(values, optics_fingerprint(load_cooker()))
    assert Slots(f"{folder}/").save("settings", body)
    b = FakeBoard(folder, when)
    b.rtc = rtc or b.rtc
    c = b.boot().controller
    b.app.mount.set_position(*c.park)
    c.homing_needed = c.on_sun = False
    b.app.conditions.restarted = False
    b.run(5)
    return b


def cook(b, percent=100):
    b.knob.value = percent * 65535 // 100
    b.press(keys.ARM)
    b.run(200, lambda: b.app.controller.mode == modes.COOKING)
    assert b.app.controller.mode == modes.COOKING, b.events


def nudge(b, axis, rate, seconds):
    """Hold-to-run for so long, then wait until it rests."""
    for _ in range(max(1, round(seconds / 0.3))):
        assert "error" not in b.ask("nudge", axis=axis, rate_percent=rate, hold_ms=800, covered=True)
        b.run(0.3)
    b.run(2)


def by_hand(b):
    b.press(keys.ASIDE)
    nudge(b, 1, 10, 0.3)  # the first only begins the warning
    b.run(2)
    assert b.app.controller.mode == modes.BY_HAND


def test_north_wants_the_play_taken_up_from_its_own_side(tmp_path):
    b = start(tmp_path)
    by_hand(b)
    nudge(b, 1, 20, 2.0)
    nudge(b, 1, -10, 1.0)
    said = b.ask("set", what="north")["error"]["message"]
    assert "axis 1" in said and "nudge it back" in said
    assert b.events[-1][0] == "north_refused" and b.events[-1][2] == 3
    nudge(b, 1, 20, 2.0)  # on from its own side (+1) by more than the 0.2 deg of play
    assert "result" in b.ask("set", what="north")


def test_after_a_restart_the_play_is_not_trusted(tmp_path):
    b = start(tmp_path)
    by_hand(b)
    assert "play of axis 1" in b.ask("set", what="north")["error"]["message"]


def test_north_tells_by_how_much_the_base_has_turned_since(tmp_path):
    b = start(tmp_path)
    by_hand(b)
    nudge(b, 1, 20, 3.0)
    first = b.ask("set", what="north")["result"]
    assert first["was_age_h"] == -1 and "first on this board" in cli_dish._moved(first, 0.1)
    status = b.ask("status")["result"]
    assert status["play_up"] == [True, True] and status["north_age_h"] == 0 and not status["moving"]
    nudge(b, 1, 20, 6.0)  # as if the base had been turned back by this much, the sun where it was
    again = b.ask("set", what="north")["result"]
    went = status["axis1_deg"] - b.ask("status")["result"]["axis1_deg"]
    assert again["was_deg"] == pytest.approx(first["north_deg"])
    assert again["turned_deg"] == pytest.approx(went, abs=0.3)  # the sun went on meanwhile
    assert f"turned by {again['turned_deg']:+.3f}" in cli_dish._moved(again, 0.1)
    assert "has not moved" in cli_dish._moved({"turned_deg": 0.2, "was_age_h": 20}, 0.1)
    assert cli_dish._moved({}, 0.1) == ""  # an older board


def test_north_is_not_taken_while_it_moves(tmp_path):
    b = start(tmp_path)
    by_hand(b)
    b.ask("nudge", axis=1, rate_percent=100, hold_ms=1000, covered=True)
    b.run(0.3)
    assert "still moves" in b.ask("set", what="north")["error"]["message"]


def test_north_is_not_taken_by_a_clock_without_its_table_nor_where_the_sensor_sees_no_sun_ahead(tmp_path):
    b = start(tmp_path)
    b.run(1)
    by_hand(b)
    nudge(b, 1, 20, 3.0)
    was = b.app.north_deg
    b.app.watch.sight.beside = True  # between two frames: a sun that shines in from far to one side
    b.app.watch.sight.tick = lambda *_a: None
    assert "sees the sun far" in b.ask("set", what="north")["error"]["message"]
    assert b.events[-1][0] == "north_refused" and b.events[-1][2] == 5
    b.app.watch.sight.beside = b.app.watch.sight.lit = False
    b.app.clock.set(0, 40_000_000)
    b.app.sun_changed()
    b.run(5)
    assert "clock and table good" in b.ask("set", what="north")["error"]["message"]
    assert b.app.north_deg == was


def test_daylight_where_the_clock_has_night_wants_the_cover(tmp_path):
    b = start(tmp_path, datetime(2026, 3, 1, 22, 0, 0, tzinfo=UTC))
    b.run(5)
    row = interlocks.INDEX["park_bright"]
    assert b.app.sun.u < 0.0 and b.app.locks.is_tripped(row) and b.app.locks.value[row] == -1
    b.open.value = b.beam.value = 300
    b.run(5)
    assert not b.app.locks.is_tripped(row)


def test_left_alone_by_hand_it_warns_and_parks(tmp_path):
    b = start(tmp_path)
    by_hand(b)
    nudge(b, 1, 100, 4.0)
    b.run(4 * 60)
    assert b.app.controller.mode == modes.BY_HAND
    b.press(keys.CONFIRM)  # somebody is there
    b.run(4 * 60)
    assert b.app.controller.mode == modes.BY_HAND
    b.run(300, lambda: b.app.controller.mode == modes.PARKED)
    names = b.names()
    assert b.app.controller.mode == modes.PARKED
    assert names.index("hand_lapsed") < len(names) - 1 - names[::-1].index("warn")
    at = [0, 0]
    b.app.mount.axes_udeg(at)
    assert at == pytest.approx(b.app.controller.park, abs=2500)


def tripped(b):
    return b.ask("status")["result"]["tripped"]


def set_north(b):
    """As the sighting does; the truth of this board's north is 0."""
    b.app.set_north(0.0)


def test_yesterdays_north_bars_the_way_to_the_sun(tmp_path):
    b = start(tmp_path)
    set_north(b)
    cook(b)
    assert "north_old" not in tripped(b)
    assert interlocks.ROWS[interlocks.INDEX["north_old"]][3] == interlocks.BAR
    again = start(tmp_path, datetime(2026, 3, 2, 4, 0, 0, tzinfo=UTC))
    assert "north_old" in tripped(again)
    again.knob.value = 65535
    again.press(keys.ARM)
    again.run(60)
    assert again.app.controller.mode == modes.PARKED
    set_north(again)
    cook(again)


def test_north_growing_old_does_not_end_a_meal(tmp_path):
    b = start(tmp_path, interlock_north_old_h=1.0)
    set_north(b)
    cook(b)
    b.app.daily._ms -= 3_600_000  # an hour later, without its cycles
    b.run(60)
    assert "north_old" in tripped(b) and b.app.controller.mode == modes.COOKING


def test_a_dish_that_stays_in_its_place_is_never_asked(tmp_path):
    b = start(tmp_path, interlock_north_old_h=0.0)
    set_north(b)
    again = start(tmp_path, datetime(2026, 3, 9, 4, 0, 0, tzinfo=UTC), interlock_north_old_h=0.0)
    assert "north_old" not in tripped(again)


@pytest.mark.parametrize(("body", "deg", "age"), [
    (None, None, -1), (b"", None, -1), (b"1.5000", 1.5, 9560 * 24), (b"1.5000 9560 0", 1.5, 0),
    (b"-2.0000 9559 82800000", -2.0, 1), (b"1.0 9561 0", 1.0, 24), (b"north", None, -1), (b"\xff", None, -1),
])
def test_age_of_north(body, deg, age):
    class Kept:
        def load(self, name):
            return body

    north = DailyNorth(Kept())
    assert (north.deg, north.age_h(9560, 0)) == (deg, age)


def haze(folder):
    """A cook who chose the return, under thin haze: the open cell bright, the beam weak. Short dwells."""
    b = start(folder, cook_return_after_cloud=True, cook_attendance_min=240.0,
              interlock_light_low_dwell_s=60.0, interlock_light_back_dwell_s=60.0)
    cook(b)
    b.open.value, b.beam.value = BRIGHT, HAZY
    return b


def test_under_haze_it_comes_back_ever_more_seldom(tmp_path):
    b = haze(tmp_path)
    waits = []
    for _ in range(3):
        assert b.run(300, lambda: b.app.controller.mode == modes.PARKED) < 300
        waits.append(b.run(3000, lambda: b.app.controller.mode == modes.COMING))
        b.run(200, lambda: b.app.controller.mode == modes.COOKING)
    # counted from the end of the leave, which takes half a minute of the dwell
    assert waits == pytest.approx([60 - 30, 120 - 30, 240 - 30], abs=15)
    assert [e[1] for e in b.events if e[0] == "haze"] == [120, 240]


def test_the_wait_under_haze_is_bounded_and_forgotten():
    class Locks:
        trip_ms, over_ms = (600_000,), [180_000]

    haze = Haze(Locks, 0)
    assert not haze.left(), "the first cloud of the day is no return cut short"
    wanted = []
    for _ in range(6):
        haze.returned()
        haze.tick(1_700_000, True)
        assert haze.left()
        wanted.append(haze.wanted_s)
    assert wanted == [360, 720, 1440, 1440, 1440, 1440]
    haze.returned()
    haze.tick(1_000_000, False)  # aside or on its way counts for nothing
    haze.tick(1_800_001, True)
    assert not haze.left() and haze.wanted_s == 180


@pytest.mark.parametrize("cure", ["arm", "sun"])
def test_the_cook_or_a_long_spell_of_sun_starts_afresh(tmp_path, cure):
    b = haze(tmp_path)
    for _ in range(2):
        b.run(1500, lambda: b.app.controller.mode == modes.PARKED)
        b.run(3000, lambda: b.app.controller.mode == modes.COOKING)
    assert b.app.controller.haze.cut_short == 1
    if cure == "arm":
        b.press(keys.LEAVE)
        b.run(200, lambda: b.app.controller.mode == modes.PARKED)
        b.beam.value = BRIGHT
        b.run(400)
        cook(b)
    else:
        b.beam.value = BRIGHT
        b.run(4 * 60)
    assert b.app.controller.haze.cut_short == 0 and b.app.controller.haze.wanted_s == 60


def test_a_note_in_force_does_not_stop_the_return(tmp_path):
    b = start(tmp_path, cook_return_after_cloud=True, interlock_table_warn_days=365)
    b.app.conditions.table_days_left = 3
    b.app.table.last_day = b.app.clock.day + 3
    cook(b)
    b.beam.value = b.open.value = DULL
    b.run(1500, lambda: b.app.controller.mode == modes.PARKED)
    assert "table_ageing" in tripped(b)
    b.beam.value = b.open.value = BRIGHT
    b.run(400, lambda: b.app.controller.mode == modes.COOKING)
    assert b.app.controller.mode == modes.COOKING
