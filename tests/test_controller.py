"""The controller on a board of plain Python: a cook's day in small, and what must never happen.

Units: seconds, degrees. The site and its cook are invented.
"""

import gc
import math
from datetime import UTC, datetime

import numpy as np
import pytest
from sunhob.optics.geometry import optics_fingerprint
from sunhob.settings import load_cooker
from sunhob_board.core import panel as keys
from sunhob_board.core import settings as settings_reader
from sunhob_board.core.phases import WARNING
from sunhob_board.declared import interlocks, modes
from sunhob_board.declared import settings as table
from sunhob_board.mount import planner
from sunhob_board.mount.axis import STRAYED
from sunhob_board.store.slots import Slots

from .fake_board import FakeBoard

MORNING = datetime(2026, 3, 1, 4, 0, 0, tzinfo=UTC)


def save_settings(folder):
    """The invented cooker's settings, put on the board as the host does."""
    values = [table.board_default(r) for r in table.board_rows()]
    body = settings_reader.pack(values, optics_fingerprint(load_cooker()))
    assert Slots(f"{folder}/").save("settings", body)


def parked(folder, when, park=None, board=FakeBoard):
    """A board started at `when`, parked (by default at the pole) and placed, as after an ordinary night."""
    save_settings(folder)
    b = board(folder, when)
    b.boot()
    s = b.app.s
    park = park or b.app.rest.pole
    b.app.mount.set_position(park[0], park[1])
    b.app.controller.homing_needed = False
    b.app.conditions.restarted = False
    b.app.controller.on_sun = False
    assert s.site_latitude_udeg > 0
    b.run(5)
    return b


@pytest.fixture
def board(tmp_path):
    return parked(tmp_path, MORNING)


def cooking(b, percent=100):
    b.knob.value = percent * 65535 // 100
    b.press(keys.ARM)
    b.run(200, lambda: b.app.controller.mode == modes.COOKING)
    assert b.app.controller.mode == modes.COOKING, b.events
    b.run(30)


def lag_deg(b):
    """Separation of believed dish axis and the board's sun."""
    v = [0.0, 0.0, 0.0]
    b.app.mount.enu(v)
    b.app.sun.update(b.app.clock.day, b.app.clock.ms)
    return b.app.sun.separation_udeg(*v) / 1e6


def test_arm_and_knob_bring_it_to_the_sun_after_a_warning(board):
    cooking(board)
    names = board.names()
    assert names.index("warn") < names.index("plan") < names.index("settled")
    assert lag_deg(board) < 0.1


def test_the_warning_lasts_as_long_as_it_says(board):
    board.knob.value = 65535
    board.press(keys.ARM)
    board.run(60, lambda: "warn" in board.names())
    seconds = next(e[2] for e in board.events if e[0] == "warn")
    assert seconds == board.app.s.cook_warn_s
    quiet_s = board.run(60, lambda: board.app.mount.moving)
    assert board.app.mount.moving and quiet_s >= seconds - 0.2


def test_it_stays_on_the_sun_for_an_hour(board):
    cooking(board)
    worst = 0.0
    for _ in range(40):
        board.run(60)
        board.app.controller.attend_ms = 3_600_000
        worst = max(worst, lag_deg(board))
    assert worst < 0.1


def test_the_knob_alone_does_not_bring_it(board):
    board.knob.value = 65535
    board.run(120)
    assert board.app.controller.mode == modes.PARKED


def test_arming_lapses(board):
    board.press(keys.ARM)
    board.run(11 * 60)
    board.knob.value = 65535
    board.run(60)
    assert board.app.controller.mode == modes.PARKED and "disarmed" in board.names()


def test_dialled_down_it_lags_behind_by_what_the_curve_says(board):
    cooking(board)
    board.knob.value = 60 * 65535 // 100
    board.run(20)
    want = board.app.controller.tracker.wanted_udeg / 1e6
    assert want > 3
    assert lag_deg(board) == pytest.approx(want, abs=0.1)
    v = [0.0, 0.0, 0.0]
    board.app.mount.enu(v)
    assert board.app.sun.behind_udeg(*v) > 0


def test_leave_parks_within_the_target_and_disarms(board):
    cooking(board)
    seconds = 0.5
    board.press(keys.LEAVE)
    seconds += board.run(200, lambda: board.app.controller.mode == modes.PARKED)
    assert board.app.controller.mode == modes.PARKED and seconds < 95
    v = [0.0, 0.0, 0.0]
    board.app.mount.enu(v)
    lat = math.radians(board.app.s.site_latitude_udeg / 1e6)
    assert v[1] * math.cos(lat) + v[2] * math.sin(lat) > math.cos(math.radians(0.1))
    board.run(300)
    assert board.app.controller.mode == modes.PARKED


def test_aside_keeps_the_meal_and_comes_back_only_when_pressed(board):
    cooking(board, 70)
    board.press(keys.ASIDE)
    board.run(100, lambda: board.out & 4)
    assert board.app.controller.mode == modes.ASIDE and board.out & 4
    assert lag_deg(board) > board.app.s.dish_loose_clear_deg or lag_deg(board) > 66
    before = [d.steps for d in board.pair]
    board.run(600)
    assert [d.steps for d in board.pair] == before, "hands are in: nothing may move"
    board.press(keys.ASIDE)
    board.run(200, lambda: board.app.controller.mode == modes.COOKING)
    assert board.app.controller.mode == modes.COOKING
    assert board.app.controller.heat_permille == 700


@pytest.mark.parametrize("key", [keys.ARM, keys.ASIDE])
def test_a_short_circuit_brings_no_dish_to_the_sun(board, key):
    if key == keys.ASIDE:
        cooking(board, 70)
        board.press(keys.ASIDE)
        board.run(100, lambda: board.out & 4)
    else:
        board.knob.value = 65535
    board.run(2)
    mode, steps = board.app.controller.mode, [d.steps for d in board.pair]
    board.mask |= key
    board.run(20)
    board.mask &= ~key
    board.run(20)
    assert board.app.controller.mode == mode and [d.steps for d in board.pair] == steps
    assert key == keys.ASIDE or board.app.controller.armed_ms <= 0


def test_an_unattended_dish_leaves(board):
    cooking(board)
    board.run(61 * 60)
    assert board.app.controller.mode == modes.PARKED


def test_long_cloud_leaves_and_does_not_return_unless_chosen(board):
    cooking(board)
    board.beam.value = 2_000
    board.open.value = 4_000
    board.run(9 * 60)
    assert board.app.controller.mode == modes.COOKING
    board.run(4 * 60)
    assert board.app.controller.mode == modes.PARKED
    board.beam.value = board.open.value = 40_000
    board.run(600)
    back = bool(board.app.s.cook_return_after_cloud)
    assert (board.app.controller.mode == modes.COOKING) == back


def test_stop_chain_cuts_motion_and_closing_it_moves_nothing(board):
    cooking(board)
    board.press(keys.LEAVE)
    board.run(8)
    board.mask &= ~keys.CHAIN
    board.run(1)
    assert board.app.controller.mode == modes.LOCKED and not board.out & 1
    steps = [d.steps for d in board.pair]
    board.mask |= keys.CHAIN
    board.run(60)
    assert [d.steps for d in board.pair] == steps
    board.press(keys.ARM)
    board.run(60)
    assert [d.steps for d in board.pair] == steps
    board.press(keys.LEAVE)
    board.run(200, lambda: board.app.controller.mode == modes.PARKED)
    # This board's home flags never change: it looks for home, finds none, and says so by locking.
    assert [d.steps for d in board.pair] != steps
    assert board.app.controller.mode == modes.LOCKED and board.app.mount.homing.missed


@pytest.mark.parametrize("button", [keys.LEAVE, keys.ASIDE])
def test_with_no_way_off_the_sun_it_says_so_once_sounds_and_warns_when_one_opens(board, button):
    cooking(board)
    c = board.app.controller
    begin = c.planner.begin
    tries = []

    def none(a1, a2, purpose, spare=None):
        tries.append(a1)
        begin(a1, 100_000_000, purpose)  # beyond the travel

    c.planner.begin = none
    warned, steps = board.names().count("warn"), [d.steps for d in board.pair]
    board.press(button)
    board.run(60)
    assert [d.steps for d in board.pair] == steps and c.phase == WARNING
    assert board.names().count("no_path") == 1 and board.names().count("warn") == warned + 1
    assert 10 < len(tries) < 60 and c.buzzer  # it goes on looking
    assert "park_bright" in board.ask("status")["result"]["tripped"]
    assert not board.out & 4  # no place for hands
    c.planner.begin = begin
    board.run(5, lambda: board.names().count("warn") > warned + 1)
    assert [d.steps for d in board.pair] == steps
    board.run(2.5)
    assert [d.steps for d in board.pair] == steps  # as long as hands need to get away
    board.run(60, lambda: c.mode in (modes.PARKED, modes.ASIDE) and not c.busy)
    assert not c.buzzer and c.mode != modes.LEAVING and [d.steps for d in board.pair] != steps


def test_remote_may_leave_but_never_arm(board):
    assert "error" in board.ask("cook", percent=100)
    assert "error" in board.ask("heat", percent=50)
    cooking(board)
    assert board.ask("heat", percent=60)["result"]["heat_percent"] == 60
    assert "result" in board.ask("leave")
    board.run(120)
    assert board.app.controller.mode == modes.PARKED


def test_status_names_mode_and_fits_the_line(board):
    got = board.ask("status")["result"]
    assert got["mode"] == "PARKED" and got["clock_known"] and got["tripped"] == []


@pytest.mark.parametrize(("month", "bright"), [(2, False), (4, True), (6, True), (12, False)])
def test_it_says_when_the_parked_dish_needs_its_cover(tmp_path, month, bright):
    b = parked(tmp_path, datetime(2026, month, 20, 1, 0, 0, tzinfo=UTC))
    b.open.value = b.beam.value = 300  # night: daylight then would ask for it by itself
    b.run(60)
    assert ("park_bright" in b.ask("status")["result"]["tripped"]) == bright


def test_garbage_is_collected_the_sooner_the_more_a_tick_leaves(board, monkeypatch):
    """Between two ticks, before what is free on a board (50 kB and more) is used up within one."""
    app, collected = board.app, []
    monkeypatch.setattr(gc, "collect", lambda: collected.append(app._n))
    board.run(200)
    at_rest = np.diff(collected)
    assert at_rest.min() >= 6 and at_rest.max() <= 24
    cooking(board)
    collected.clear()
    monkeypatch.setattr(gc, "collect", lambda: app.controller.thinks and collected.append(app._n))
    board.press(keys.LEAVE)
    board.run(3, lambda: not app.controller.thinks)
    thinks = np.diff(collected)
    assert len(thinks) >= 2 and thinks.max() <= 4


def test_watchdog_is_fed_only_by_a_whole_pass(board):
    fed = board.fed
    board.run(5)
    assert board.fed > fed
    board.app._since_judged = 10_000  # this tick judges, the one after it hears what has come
    board.uart.coming += b"x"
    board.app.port.poll = lambda now: (_ for _ in ()).throw(OSError("dead link"))
    board.app.tick()
    fed = board.fed
    with pytest.raises(OSError):
        board.app.tick()
    assert board.fed == fed


@pytest.mark.parametrize("damage", ["missing", "corrupt", "expired"])
def test_a_bad_table_is_refused_and_named(tmp_path, damage):
    save_settings(tmp_path)
    if damage == "corrupt":
        b = FakeBoard(tmp_path, MORNING)
        raw = bytearray((tmp_path / "sun.tab").read_bytes())
        raw[100] ^= 1
        (tmp_path / "sun.tab").write_bytes(raw)
    elif damage == "missing":
        b = FakeBoard(tmp_path, MORNING)
        (tmp_path / "sun.tab").unlink()
    else:
        b = FakeBoard(tmp_path, MORNING, table_start=datetime(2020, 1, 1))
    b.boot()
    b.run(5)
    status = b.ask("status")["result"]
    text = status["trouble"] + " ".join(status.get("tripped", []))
    assert f"table_{damage}" in text or damage in text or "sum" in text
    b.knob.value = 65535
    b.press(keys.ARM)
    b.run(60)
    entered = [new for name, _, new in b.events if name == "mode"]
    assert modes.COMING not in entered  # it may home, for which the rough sun is enough


def test_missing_settings_move_nothing_and_are_named(tmp_path):
    b = FakeBoard(tmp_path, MORNING)
    b.boot()
    b.run(5)
    assert "settings missing" in b.ask("status")["result"]["trouble"]
    b.press(keys.LEAVE)
    b.run(30)
    assert b.pair[0].steps == b.pair[1].steps == 0


def test_restart_on_the_sun_leaves_by_itself_and_stays_unarmed(board, tmp_path):
    cooking(board)
    again = FakeBoard(tmp_path, board.time())
    again.rtc = board.rtc
    again.boot()
    again.run(200, lambda: again.app.controller.mode == modes.PARKED and not again.app.controller.on_sun)
    assert again.app.controller.mode == modes.PARKED and not again.app.controller.on_sun
    assert again.app.controller.armed_ms <= 0 and "warn" in again.names()
    again.run(120)
    assert again.app.controller.mode == modes.PARKED


@pytest.mark.parametrize("on_sun", [True, False])
def test_without_settings_it_calls_for_help(tmp_path, on_sun):
    """Nothing can move: the fault lamp is on, and it beeps; without a pause if it may be on the sun."""
    b = parked(tmp_path, MORNING)
    if on_sun:
        cooking(b)
    for name in tmp_path.glob("settings.*"):
        name.unlink()
    b.out = 0
    b.events.clear()
    b.boot()
    outs = []
    for _ in range(20):
        b.run(1)
        outs.append(b.out)
    assert all(out & 16 and not out & 1 for out in outs)
    assert (min(out & 2 for out in outs) > 0) == on_sun and any(out & 2 for out in outs)
    assert [a for name, a, _ in b.events if name == "trip"] == [interlocks.INDEX["settings"],
                                                             interlocks.INDEX["park_bright"]]


def test_a_controller_that_gives_its_console_sleeps_no_more(tmp_path):
    """Else whoever installs waits for the end of a rest of up to a second."""
    b = parked(tmp_path, MORNING)
    slept, idle = [], b.idle
    b.idle = lambda ms: (slept.append(ms), idle(ms))[1]
    b.app.cycle()
    b.app.console_asked = True
    b.app.cycle()
    assert slept[0] > 500 and slept[1] == 50


@pytest.mark.parametrize("key", [keys.LEAVE, keys.ASIDE])
@pytest.mark.parametrize("tick_ms", [0, 30])
def test_a_key_pressed_while_it_looks_for_a_way_is_heard(board, key, tick_ms, monkeypatch):
    """At every tick of looking, on a board whose tick takes no time and on one whose tick takes some."""
    monkeypatch.setattr(planner, "_SAMPLES", 1)  # it takes long
    board.knob.value = 65535
    c, idle = board.app.controller, board.idle
    board.idle = lambda ms: idle(max(ms, tick_ms))
    heard = 0
    for late in range(40):
        board.press(keys.ARM)
        board.run(5, lambda: c.mode == modes.COMING)
        for _ in range(late):
            board.run(0.001)
        if not c.thinks:
            break
        board.mask |= key
        board.run(0.15)
        board.mask &= ~key
        board.run(1.0)
        assert c.mode != modes.COMING, late
        heard += 1
        board.press(keys.LEAVE)
        board.run(90, lambda: c.mode == modes.PARKED and not c.busy)
    assert heard > 5


def test_a_step_is_sent_only_while_the_drives_are_judged_sound(board):
    """A drive found at fault between a step chosen and sent is judged before it goes."""
    cooking(board)
    app = board.app
    board.run(120, lambda: app.controller.aims)
    app.mount.axes[0].fault = STRAYED
    judged = app._judge
    seen = []
    app._judge = lambda *given: seen.append(judged(*given))
    board.run(0.001)
    assert len(seen) == 1
