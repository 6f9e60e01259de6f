"""Where the controller rests the dish in summer: straight to the horizon, or the pole first and on later.

The board of plain Python at the invented courtyard (24.6 N, 73.7 E; the sun's noon is at 07:05 UTC) in June,
when the sun stands 67 deg from the pole. Units: seconds, degrees.
"""

from datetime import UTC, datetime

import pytest
from sunhob_board.core import panel as keys
from sunhob_board.core.park import EQUATORWARD, POLE
from sunhob_board.declared import modes
from sunhob_board.declared.interlocks import INDEX

from .test_controller import cooking, lag_deg, parked

HORIZON = [180_000_000, -1_500_000]


def june(hour, minute=0):
    return datetime(2026, 6, 10, hour, minute, tzinfo=UTC)


def leave(b):
    b.press(keys.LEAVE)
    seconds = b.run(200, lambda: b.app.controller.mode == modes.PARKED)
    assert b.app.controller.mode == modes.PARKED, b.events
    return seconds


def skip(b, minutes):
    """Set the clock on."""
    clock = b.app.clock
    ms = clock.ms + minutes * 60_000
    clock.set(clock.day + ms // 86_400_000, ms % 86_400_000)
    b.run(2)


def told(b):
    return b.ask("status")["result"]


def test_at_noon_it_leaves_straight_for_the_equatorward_horizon(tmp_path):
    b = parked(tmp_path, june(6, 40))
    cooking(b)
    assert leave(b) < 95
    b.run(70)
    got = told(b)
    assert got["park"] == "equatorward horizon" and not b.app.rest.bright
    assert b.app.rest.standing == EQUATORWARD and got["rest_deg"] > 75 and lag_deg(b) > 75
    events = len(b.events)
    b.run(700)
    assert [e for e in b.events[events:] if e[0] in ("warn", "plan", "mode")] == []


def test_early_it_leaves_for_the_pole_tells_the_cover_and_moves_on_when_a_way_opens(tmp_path):
    b = parked(tmp_path, june(2, 50))
    cooking(b)
    seconds = leave(b)
    assert b.app.rest.standing == POLE and seconds < 95
    b.run(5)
    assert "park_bright" in told(b)["tripped"] and "park_moved" not in b.names()
    skip(b, 10)
    b.run(3600, lambda: b.app.controller.mode == modes.LEAVING)
    names = b.names()
    assert names[-3:] == ["park_moved", "mode", "warn"], names[-4:]
    assert b.app.controller.warn_ms > 2000 and not b.app.mount.moving
    b.run(120, lambda: b.app.controller.mode == modes.PARKED)
    b.run(5)
    assert b.app.rest.standing == EQUATORWARD and not b.app.rest.bright
    b.run(350)
    assert b.names().count("park_moved") == 1 and "no_path" not in b.names()


@pytest.mark.parametrize("why", ["armed", "chain", "was_stopped", "drive_stalled", "by_hand", "unplaced"])
def test_it_does_not_move_on_by_itself_when(tmp_path, why):
    b = parked(tmp_path, june(6, 40))
    c = b.app.controller
    if why == "armed":
        c.armed_ms = 10 * 3_600_000  # the knob stays at nothing: it does not come either
    elif why == "chain":
        b.mask &= ~keys.CHAIN
    elif why == "was_stopped":
        b.mask &= ~keys.CHAIN
        b.run(1)
        b.mask |= keys.CHAIN
        leave(b)
    elif why in INDEX:
        b.app.locks._turn(INDEX[why], 1)
    elif why == "by_hand":
        b.press(keys.ASIDE)
        b.ask("nudge", axis=1, rate_percent=1, hold_ms=20, covered=True)
        b.run(5)
        c.hand_ms = 10 * 3_600_000
    else:
        b.app.controller.homing_needed = True
    steps = [d.steps for d in b.pair]
    b.run(500)
    assert [d.steps for d in b.pair] == steps and "park_moved" not in b.names()


def test_a_fault_of_other_things_keeps_it_in_no_loose_light(tmp_path):
    """The latch waits for a person; the light does not. It moves on as if nothing were latched: what speaks
    against its place, too, is wrong once that is known."""
    b = parked(tmp_path, june(6, 40))
    b.app.clock.jumped_ms = 9_000
    for name in ("base_moved", "pot_hot", "loop_late", "place_doubt", "position_off"):
        b.app.locks._turn(INDEX[name], 1)
    b.run(500)
    assert b.app.rest.standing == EQUATORWARD and b.app.controller.mode == modes.PARKED
    names = b.names()
    assert names.index("park_moved") < names.index("plan", names.index("park_moved")) and "warn" in names
    assert {"base_moved", "clock_jumped", "pot_hot"} <= set(told(b)["tripped"])


def test_hands_at_the_panel_put_it_off(tmp_path):
    b = parked(tmp_path, june(6, 40))
    for _ in range(2):
        b.run(200)
        b.press(keys.CONFIRM)
    assert "park_moved" not in b.names()
    b.run(400)
    assert b.names().count("park_moved") == 1


def test_from_the_horizon_it_does_not_come_to_the_early_sun_and_says_why(tmp_path):
    b = parked(tmp_path, june(2, 30), HORIZON)
    b.run(70)
    assert "way_closed" in told(b)["tripped"]
    b.knob.value = 65535
    b.press(keys.ARM)
    b.run(60)
    assert b.app.controller.mode == modes.PARKED and "warn" not in b.names()
    skip(b, 55)
    b.run(600, lambda: "way_closed" not in told(b)["tripped"])
    cooking(b)
    assert lag_deg(b) < 0.1


@pytest.mark.parametrize("silent", [1, 2])
def test_a_way_that_is_not_found_leaves_it_parked_and_is_tried_again_later(tmp_path, silent):
    """At the first look no word is said; a way lost during the warning is told."""
    b = parked(tmp_path, june(6, 40))
    planner = b.app.controller.planner
    begin = planner.begin

    tries = []

    def none(a1, a2, purpose, spare=None):
        tries.append(a1)
        begin(a1, 100_000_000 if len(tries) >= silent else a2, purpose)  # beyond the travel

    planner.begin = none
    b.run(450)
    assert b.app.controller.mode == modes.PARKED and b.app.rest.standing == POLE
    assert b.names().count("no_path") == (silent == 2) == b.names().count("warn")
    planner.begin = begin
    b.run(200)
    assert b.app.rest.standing == EQUATORWARD


def test_by_night_at_the_pole_where_the_cook_chose_so(tmp_path):
    b = parked(tmp_path, june(13, 0), HORIZON)  # an hour before the sun sets
    b.app.s.park_pole_by_night = True
    b.app.checks.watch([], b.app.s)  # the settings are meant to change
    b.run(500)
    assert b.app.rest.standing == EQUATORWARD
    skip(b, 100)
    b.run(200)
    assert b.app.rest.standing == POLE
    moves = [e for e in b.events if e[0] == "park_moved"]
    assert len(moves) == 1 and moves[0][1] == POLE and 660 < moves[0][2] < 670, moves
    skip(b, 11 * 60)
    b.run(400)
    assert b.app.rest.standing == POLE and "way_closed" not in told(b)["tripped"]


def test_aside_is_as_safe_for_hands_in_summer(tmp_path):
    b = parked(tmp_path, june(6, 40))
    cooking(b, 70)
    b.press(keys.ASIDE)
    b.run(100, lambda: b.out & 4)
    assert b.app.controller.mode == modes.ASIDE and lag_deg(b) > 75


def test_by_night_it_winds_axis_1_back_to_the_turn_of_the_morning(tmp_path):
    b = parked(tmp_path, datetime(2026, 3, 1, 11, 30, tzinfo=UTC), [360_000_000, 24_600_000])
    b.run(450)
    assert b.app.mount.axes[0].position_udeg == 360_000_000  # while the sun is up it stays
    skip(b, 150)
    b.run(400)
    assert b.app.mount.axes[0].position_udeg == 0 and b.names().count("park_moved") == 1
    assert b.names().index("park_moved") < b.names().index("warn") < b.names().index("plan")
    b.run(700)
    assert b.names().count("warn") == 1


def test_the_way_off_a_high_sun_is_planned_before_the_warning_ends(tmp_path):
    b = parked(tmp_path, june(7, 15))
    cooking(b)
    seen = []
    b.press(keys.LEAVE)
    for _ in range(120):
        b.run(0.02)
        seen.append((b.app.controller.planner.finished, b.app.mount.moving))
        if b.app.mount.moving:
            break
    assert seen[-1] == (True, True) and (True, False) in seen


def test_no_move_by_hand_from_the_horizon_without_the_cover(tmp_path):
    b = parked(tmp_path, june(6, 40), HORIZON)
    assert "error" in b.ask("nudge", axis=2, rate_percent=50, hold_ms=500, covered=False)
    b.run(10)
    assert b.app.controller.mode == modes.PARKED and b.app.rest.standing == EQUATORWARD
