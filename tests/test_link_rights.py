"""What a host may do from afar, for every method of the link in every mode: leave always, arm never.

Units: seconds. Boards of plain Python; site and cook are invented. A new method without a row here fails.
"""

import copy
from datetime import UTC, datetime

import pytest
from sunhob_board.core import panel as keys
from sunhob_board.declared import interlocks, modes
from sunhob_board.declared.methods import METHODS

from .test_controller import parked

EVERY = set(modes.NAMES)
COOKS = {modes.NAMES[m] for m in modes.COOKS}
NUDGE = {"axis": 2, "rate_percent": 50, "hold_ms": 500, "covered": True}
LATE = interlocks.INDEX["loop_late"]

# method: (parameters, modes in which it is granted)
RIGHTS = {
    "hello": ({}, EVERY),
    "status": ({}, EVERY),
    "sensors": ({}, EVERY),
    "log": ({"from": 0, "count": 16}, EVERY),
    "subscribe": ({"telemetry_ms": 500}, EVERY),
    "leave": ({}, EVERY),
    "aside": ({}, {"COMING", "COOKING", "RESTING"}),
    "heat": ({"percent": 60}, COOKS),
    "cook": ({"percent": 60}, set()),  # ARM was not pressed since it parked
    "nudge": (NUDGE, {"PARKED", "BY_HAND"}),
    "set": ({"what": "time", "day": 9700, "ms": 1000}, {"PARKED", "BY_HAND", "LOCKED"}),
    "clear": ({"code": LATE}, {"PARKED", "LOCKED"}),
    "console": ({}, set()),  # not started by a loader; see the test below
}
HARMLESS = ("hello", "status", "sensors", "log", "subscribe")


def names_of(b):
    return modes.NAMES[b.app.controller.mode]


def until(b, name, seconds=200):
    b.run(seconds, lambda: names_of(b) == name)
    assert names_of(b) == name, b.events


@pytest.fixture(scope="module")
def in_mode(tmp_path_factory):
    """mode name -> a board in it; copies are handed out, so that each question meets it fresh."""
    made = {}
    morning = datetime(2026, 3, 1, 4, 0, 0, tzinfo=UTC)
    b = parked(tmp_path_factory.mktemp("b"), morning)
    b.press(keys.CONFIRM)
    b.press(keys.ASIDE)  # whoever stands at the covered dish lets a host turn it
    made["PARKED"] = copy.deepcopy(b)
    hand = copy.deepcopy(b)
    hand.ask("nudge", **NUDGE)
    hand.run(5)
    made["BY_HAND"] = hand
    b.knob.value = 65535
    b.press(keys.ARM)
    b.run(60, lambda: b.app.mount.moving)
    made["COMING"] = copy.deepcopy(b)
    until(b, "COOKING")
    b.run(30)
    made["COOKING"] = copy.deepcopy(b)
    for name, key in (("ASIDE", keys.ASIDE), ("LEAVING", keys.LEAVE)):
        one = made[name] = copy.deepcopy(b)
        one.press(key)
        until(one, name)
    made["ASIDE"].run(90, lambda: not made["ASIDE"].app.controller.busy)
    rest = copy.deepcopy(b)
    rest.contents.mc = rest.underside.mc = 95_000
    rest.ask("heat", pot_c=60)
    until(rest, "RESTING", 400)
    rest.run(90, lambda: not rest.app.controller.busy)
    made["RESTING"] = rest
    b.mask &= ~keys.CHAIN
    b.run(2)
    b.mask |= keys.CHAIN
    b.run(2)
    b.press(keys.ASIDE)
    made["LOCKED"] = b
    return lambda name: copy.deepcopy(made[name])


def test_every_method_of_the_link_has_its_row_here():
    assert set(RIGHTS) == {row[0] for row in METHODS}


@pytest.mark.parametrize("mode", modes.NAMES)
@pytest.mark.parametrize("method", sorted(RIGHTS))
def test_who_may_do_what(in_mode, method, mode):
    b = in_mode(mode)
    c = b.app.controller
    assert names_of(b) == mode
    params, granted = RIGHTS[method]
    before = (c.armed_ms, c.dial.permille, bytes(b.app.locks.tripped), b.app.north_deg)
    day, told = b.rtc.day, len(b.events)
    reply = b.ask(method, **params)
    assert ("result" in reply) == (mode in granted), reply
    if "error" in reply or method in HARMLESS:
        assert names_of(b) == mode and b.rtc.day == day
        assert (c.dial.permille, bytes(b.app.locks.tripped), b.app.north_deg) == before[1:]
    moved = b.pair[0].steps, b.pair[1].steps, c.busy
    b.run(1.5)
    if not moved[2]:  # whatever it sets out to do is announced for a while first
        assert (b.pair[0].steps, b.pair[1].steps) == moved[:2]
    assert c.armed_ms <= before[0]
    assert "armed" not in [name for name, _, _ in b.events[told:]]


@pytest.mark.parametrize("mode", modes.NAMES)
def test_the_console_is_given_only_where_the_dish_rests(in_mode, mode):
    b = in_mode(mode)
    b.app.loader = object()  # as when the board's loader has started the controller
    assert ("result" in b.ask("console")) == (mode in ("PARKED", "LOCKED"))


@pytest.mark.parametrize("mode", sorted(EVERY - {"PARKED"}))
def test_leave_from_afar_ends_at_park_after_a_warning(in_mode, mode):
    b = in_mode(mode)
    told = len(b.events)
    moving = b.app.mount.moving
    b.ask("leave")
    b.run(1.0)
    if mode != "LEAVING":
        assert "warn" in [name for name, _, _ in b.events[told:]]
        assert not moving or b.app.controller.warn_ms > 0
    until(b, "PARKED", 300)
    b.run(700)
    assert names_of(b) == "PARKED" and b.app.controller.armed_ms <= 0


@pytest.mark.parametrize("mode", sorted(COOKS))
def test_heat_from_afar_needs_a_cook_at_the_dish(in_mode, mode):
    b = in_mode(mode)
    b.app.controller.attend_ms = 1  # it runs out within the next tick
    assert "error" in b.ask("heat", percent=60)


def test_cook_from_afar_after_arm_and_only_then(in_mode):
    b = in_mode("PARKED")
    b.knob.value = 0
    b.run(1)
    b.press(keys.ARM)
    assert b.app.controller.armed_ms > 0 and names_of(b) == "PARKED"
    assert "result" in b.ask("cook", percent=70)
    until(b, "COMING")


def test_the_clock_set_from_afar_takes_the_arming_away(in_mode):
    b = in_mode("PARKED")
    b.knob.value = 0
    b.run(1)
    b.press(keys.ARM)
    assert "result" in b.ask("set", what="time", day=b.rtc.day, ms=b.rtc.ms + 600_000)
    assert b.app.controller.armed_ms <= 0
    assert "error" in b.ask("cook", percent=70)


def test_a_latched_fault_is_cleared_from_afar_only_while_a_cook_is_there(in_mode):
    b = in_mode("PARKED")
    judge = b.app.conditions.judge
    b.app.conditions.judge = lambda *a: (judge(*a), b.app.locks.put(LATE))
    b.run(3)
    assert b.app.locks.is_tripped(LATE)
    assert "still there" in b.ask("clear", code=LATE)["error"]["message"]
    b.app.conditions.judge = judge
    b.run(2)
    b.app.controller.attend_ms = 0
    assert "at the dish" in b.ask("clear", code=LATE)["error"]["message"]
    assert b.app.locks.is_tripped(LATE)
    b.press(keys.CONFIRM)
    assert "result" in b.ask("clear", code=LATE)
    assert not b.app.locks.is_tripped(LATE)
    assert b.app.controller.armed_ms <= 0 and names_of(b) == "PARKED"


def test_a_host_turns_the_dish_and_moves_a_running_clock_only_after_aside_was_pressed_there(in_mode):
    b = in_mode("PARKED")
    b.app.controller.lent_ms = 0
    assert "ASIDE" in b.ask("nudge", **NUDGE)["error"]["message"]
    later = {"what": "time", "day": b.rtc.day, "ms": b.rtc.ms + 20_000}
    assert "result" in b.ask("set", **later)
    later["ms"] += 20_000  # nor little by little
    assert "ASIDE" in b.ask("set", **later)["error"]["message"]
    assert "ASIDE" in b.ask("set", what="time", day=36_524, ms=0)["error"]["message"]
    b.press(keys.ASIDE)
    assert "does not cover" in b.ask("set", what="time", day=36_524, ms=0)["error"]["message"]
    b.app.clock.set(0, 0)  # from a day without a table any may be set
    b.app.sun_changed()
    b.run(2)
    assert "result" in b.ask("set", what="time", day=1, ms=0)
    assert "result" in b.ask("set", **later) and "result" in b.ask("nudge", **NUDGE)


def test_a_move_by_hand_after_a_rest_is_warned_of_afresh(in_mode):
    b = in_mode("BY_HAND")
    b.ask("nudge", **NUDGE)
    b.run(2)
    b.ask("nudge", **NUDGE)
    b.run(2)
    warned, steps = b.names().count("warn"), b.pair[1].steps
    b.run(6)
    b.ask("nudge", **NUDGE)
    b.run(1)
    assert b.names().count("warn") == warned + 1 and b.pair[1].steps == steps


def test_nudging_from_afar_lapses_and_never_goes_uncovered(in_mode):
    b = in_mode("PARKED")
    assert "error" in b.ask("nudge", **{**NUDGE, "covered": False})
    b = in_mode("BY_HAND")
    b.ask("nudge", **NUDGE)
    b.run(5)
    assert not b.app.mount.moving
    steps = b.pair[1].steps
    b.run(60)
    assert b.pair[1].steps == steps
    until(b, "PARKED", 600)


def test_north_is_taken_only_while_moved_by_hand(in_mode):
    for mode in modes.NAMES:
        b = in_mode(mode)
        north = b.app.north_deg
        reply = b.ask("set", what="north")
        assert mode == "BY_HAND" or "error" in reply
        if "error" in reply:
            assert b.app.north_deg == north


def test_the_sun_goes_nowhere_while_a_host_asks_for_everything(in_mode):
    """A parked, unarmed dish stays so whatever is asked, nudges and the clock left out."""
    b = in_mode("PARKED")
    for _ in range(3):
        for method in sorted(set(RIGHTS) - {"nudge", "set"}):
            b.ask(method, **RIGHTS[method][0])
            b.run(2)
    assert names_of(b) == "PARKED" and not b.app.mount.moving
