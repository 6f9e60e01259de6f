"""The heat dial on a board of plain Python: percent, watts, degrees; what is too little; a table not its own.

Units: W, percent, degC, seconds.
"""

import struct
from datetime import UTC, datetime

import pytest
from sunhob.optics.geometry import optics_fingerprint
from sunhob.settings import load_cooker
from sunhob_board.core import panel as keys
from sunhob_board.core import settings as settings_reader
from sunhob_board.declared import modes
from sunhob_board.declared import settings as declared
from sunhob_board.heat import table as heat_table
from sunhob_board.store.slots import Slots

from .fake_board import FakeBoard

MORNING = datetime(2026, 3, 1, 4, 0, 0, tzinfo=UTC)
MARK = optics_fingerprint(load_cooker())


def made(folder):
    """A board with settings, placed at its park."""
    values = [declared.board_default(row) for row in declared.board_rows()]
    assert Slots(f"{folder}/").save("settings", settings_reader.pack(values, MARK))
    return FakeBoard(folder, MORNING)


def booted(b):
    b.boot()
    c = b.app.controller
    b.app.mount.set_position(c.park[0], c.park[1])
    c.homing_needed = c.on_sun = False
    b.app.conditions.restarted = False
    b.run(5)
    return b


@pytest.fixture
def board(tmp_path):
    return booted(made(tmp_path))


def knob(b, percent):
    b.knob.value = percent * 65535 // 100


def cooking(b, percent=100):
    knob(b, percent)
    b.press(keys.ARM)
    b.run(200, lambda: b.app.controller.mode == modes.COOKING)
    assert b.app.controller.mode == modes.COOKING, b.events
    b.run(30)


def status(b):
    return b.ask("status")["result"]


def test_the_heat_told_is_the_heat_where_the_axes_stand(board):
    assert status(board)["heat_now_w"] == 0
    cooking(board, 60)
    got = status(board)
    assert got["heat_percent"] == 60 and got["heat_kind"] == "percent"
    assert got["heat_now_percent"] == pytest.approx(60, abs=2)
    assert got["heat_now_w"] == pytest.approx(0.6 * got["full_heat_now_w"], rel=0.04)
    # the axes are turned by hand: what is told follows them, not the dial
    axes = [0, 0]
    board.app.mount.axes_udeg(axes)
    board.app.mount.set_position(axes[0] + 30_000_000, axes[1])
    board.run(2)
    assert status(board)["heat_now_percent"] < 5


def test_watts_follow_the_beam(board):
    cooking(board)
    assert board.ask("heat", watts=500)["result"]["heat_kind"] == "watts"
    board.run(60)
    got = status(board)
    assert got["heat_now_w"] == pytest.approx(500, rel=0.05)
    clear = board.beam.value
    board.beam.value = int(clear * 0.75)
    board.run(20)
    assert status(board)["heat_now_w"] == pytest.approx(375, rel=0.1), "a thin cloud turns nothing up at once"
    board.run(1200)
    assert status(board)["heat_now_w"] == pytest.approx(500, rel=0.05)
    board.beam.value = clear
    board.run(40)
    assert status(board)["heat_now_w"] == pytest.approx(500, rel=0.05), "and a stronger sun down soon"
    knob(board, 90)
    board.run(10)
    assert status(board)["heat_kind"] == "percent", "the knob at the dish has the last word"


@pytest.mark.parametrize(("asked", "word"), [
    ({"percent": 20}, "percent"), ({"watts": 100}, "watts"),
    ({"pot_c": 110}, "degC"), ({"pot_c": 10}, "degC"),
    ({}, "one of"), ({"percent": 50, "watts": 500}, "one of"),
])
def test_heat_that_cannot_be_is_refused_in_words_and_changes_nothing(board, asked, word):
    cooking(board)
    assert word in board.ask("heat", **asked)["error"]["message"]
    assert status(board)["heat_percent"] == 100


def test_degrees_need_a_probe_in_the_food(board):
    cooking(board)
    board.app.controller.dial.probe = None
    assert "probe" in board.ask("heat", pot_c=85)["error"]["message"]


def test_less_than_the_least_leaves_in_one_motion_after_a_warning(board):
    cooking(board)
    board.events.clear()
    knob(board, 25)
    board.run(120, lambda: board.app.controller.mode == modes.PARKED)
    names = board.names()
    assert board.app.controller.mode == modes.PARKED
    assert names.index("warn") < names.index("plan") and names.count("plan") == 1 and "settled" not in names
    knob(board, 100)
    board.run(60)
    assert board.app.controller.mode == modes.PARKED, "it comes back only when armed again"


def test_turned_up_again_during_the_warning_it_stays(board):
    cooking(board)
    knob(board, 0)
    board.run(2)
    assert board.app.controller.mode == modes.LEAVING
    knob(board, 50)
    board.run(30)
    assert board.app.controller.mode == modes.COOKING
    assert status(board)["heat_now_percent"] == pytest.approx(50, abs=3)
    board.press(keys.LEAVE)
    knob(board, 60)
    board.run(120)
    assert board.app.controller.mode == modes.PARKED, "a leave that was asked for is not called off"


def test_with_the_dial_at_nothing_an_armed_dish_stays_and_aside_does_not_return(board):
    board.press(keys.ARM)
    board.run(20)
    assert board.app.controller.mode == modes.PARKED
    cooking(board, 70)
    board.press(keys.ASIDE)
    board.run(100, lambda: board.out & 4)
    knob(board, 0)
    board.run(3)
    assert board.app.controller.mode == modes.ASIDE, "hands are in: the dial moves nothing"
    board.press(keys.ASIDE)
    board.run(120)
    assert board.app.controller.mode == modes.PARKED


def test_a_pot_warm_enough_sends_it_off_the_heat_and_back_while_attended(board):
    cooking(board)
    assert board.ask("heat", pot_c=85)["result"]["heat_kind"] == "pot_c"
    board.contents.mc = 95_000
    board.run(300, lambda: board.app.controller.mode == modes.RESTING)
    assert board.app.controller.mode == modes.RESTING
    board.run(60)
    assert status(board)["heat_now_w"] == 0
    board.contents.mc = 70_000
    board.run(600, lambda: board.app.controller.mode == modes.COOKING)
    assert board.app.controller.mode == modes.COOKING
    board.contents.mc = 95_000
    board.run(900, lambda: board.app.controller.mode == modes.RESTING)
    board.run(90)
    board.app.controller.attend_ms = 1_000
    board.run(60)
    assert board.app.controller.mode == modes.PARKED, "unattended, its period is over"


@pytest.mark.parametrize("damage", ["missing", "short", "corrupt", "format", "other"])
def test_without_its_own_heat_table_it_says_why_and_does_not_come(tmp_path, damage):
    b = made(tmp_path)
    file = tmp_path / "heat.tab"
    raw = bytearray(file.read_bytes())
    if damage == "missing":
        file.unlink()
    elif damage == "short":
        file.write_bytes(raw[:2000])
    elif damage == "corrupt":
        raw[2000] ^= 4
        file.write_bytes(raw)
    else:
        struct.pack_into("<H" if damage == "format" else "<I", raw, 4 if damage == "format" else 10, 99)
        struct.pack_into("<I", raw, heat_table.CRC_AT, heat_table.table_crc(bytes(raw)))
        file.write_bytes(raw)
    booted(b)
    got = status(b)
    assert "heat table" in got["trouble"] and "heat_table" in got["tripped"]
    if damage == "other":
        assert f"{99:08x}" in got["trouble"] and f"{MARK:08x}" in got["trouble"]
    knob(b, 100)
    b.press(keys.ARM)
    b.run(60)
    assert b.app.controller.mode == modes.PARKED and b.pair[0].steps == b.pair[1].steps == 0
