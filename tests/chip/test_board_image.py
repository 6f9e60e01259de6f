"""The firmware on an emulated RP2040 with a MicroPython image: installed, cooking, measured.

Runs where SUNHOB_BOARD_IMAGE names the image of a Pico (.uf2 or .bin), which nobody ships here: DEVELOPERS.md
says where it comes from. Units: emulated s. It takes half an hour and more: a busy chip runs at about a
twentieth of real time.
"""

import os
import sys
from pathlib import Path

import pytest
from sunhob.board.by_hand import at_console
from sunhob.board.image import KINDS, all_files
from sunhob.board.install import Install
from sunhob.board.reach import take_console
from sunhob.link import Dish
from sunhob_board.core import panel as keys

from ..test_engine_same_day import FITTED
from . import measure, report
from .emulator import Chip
from .port import Desk
from .uf2 import BadImage, read_image
from .world import World

IMAGE = os.environ.get("SUNHOB_BOARD_IMAGE", "")
TRACKING_S = 600.0
DAY = """
name = "chip"
about = "An invented cook: ten minutes on the sun at full heat. Times UTC."
start = 2026-03-12T05:00:00Z
hours = 2
timezone = "Asia/Kolkata"

[settings.axis2]
home_deg = 19.15

[settings.site]
latitude_deg = 21.15
longitude_deg = 79.05
altitude_m = 310
"""

ALL_FITTED = FITTED.format(lifts="true") + "knob_rotary = true\n"
NEEDS_IMAGE = pytest.mark.skipif(not IMAGE, reason="SUNHOB_BOARD_IMAGE names no MicroPython image of a Pico; "
                                                   "DEVELOPERS.md says where one comes from")


def say(text):
    """Past pytest's capture: this takes long."""
    print(text, file=sys.__stderr__, flush=True)


class Progress:
    """Tells each step of an installation and every tenth of it."""

    def __init__(self):
        self.told = ()

    def __call__(self, what, done, total):
        now = (what, 10 * done // total if total else 0)
        if now != self.told:
            self.told = now
            say(f"{what} {10 * now[1]} %" if total else what)


def wait_for(dish, what, holds, seconds):
    """Listen until the status holds; fails with the last one."""
    for _ in range(int(seconds)):
        status = dish.call("status", 30.0)
        if holds(status):
            say(f"{what}: worst tick so far {status['worst_tick_ms']} ms")
            return status
        dish.listen(1.0)
    told = {key: status.get(key) for key in ("mode", "place_known", "clock_known", "tripped", "trouble")}
    raise AssertionError(f"{what} did not come about in {seconds} s: {told}")


def cook(dish, world, seconds=TRACKING_S):
    """Home, arm, come to the sun, follow it so long, leave. The status at the end of following."""
    wait_for(dish, "a set clock", lambda s: s.get("clock_known"), 60)
    world.press(keys.LEAVE)
    wait_for(dish, "homing", lambda s: s["place_known"] and s["mode"] == "PARKED", 240)
    world.knob(100.0)
    dish.listen(2.0)
    world.press(keys.ARM)
    wait_for(dish, "coming to the sun", lambda s: s["mode"] == "COOKING", 240)
    dish.listen(20.0)
    world.following = True
    for done in range(0, int(seconds), 60):
        dish.listen(min(60.0, seconds - done))
        status = dish.call("status", 30.0)
        say(f"following the sun: {done + 60} s, worst tick so far {status['worst_tick_ms']} ms")
    world.following = False
    world.press(keys.LEAVE)
    wait_for(dish, "parking", lambda s: s["mode"] == "PARKED" and not s["moving"], 240)
    return status


def install(chip, desk, cooker):
    """(what the installer answers, s it took)."""
    began = chip.seconds
    done = Install("chip", desk.open, Progress()).run(lambda kind: all_files(kind, cooker), "pico")
    return done, chip.seconds - began


def by_hand(wire):
    """What a person does at the board's console: a line typed, its answer read."""
    shown = b""
    for typed, answer in ((b"", b">>> "), (b"print(6*7)\r", b"42\r\n>>> ")):
        wire.write(typed)
        for _ in range(100):
            if answer in shown:
                break
            shown += wire.read(64)
        assert answer in shown, shown
    return True


def powered(monkeypatch, text):
    """(chip with the image, its world, the desk with its port)."""
    try:
        chip = Chip(read_image(Path(IMAGE)))
    except (OSError, BadImage) as error:
        pytest.fail(f"SUNHOB_BOARD_IMAGE: {error}", pytrace=False)
    world = World(chip, text)
    desk = Desk(chip)
    desk.keep_time(monkeypatch)
    desk.open()
    return chip, world, desk


@NEEDS_IMAGE
def test_the_firmware_is_installed_cooks_and_keeps_its_budgets(monkeypatch):
    chip, world, desk = powered(monkeypatch, DAY)
    cooker = world.bench.cooker
    done, install_s = install(chip, desk, cooker)
    assert done["tried"] and done["hello"]["proven"] and done["hello"]["trouble"] == ""
    with Dish("chip", wire=desk.open()) as dish:
        status = cook(dish, world)
    assert status["mode"] == "COOKING" and status["trouble"] == ""
    again, again_s = install(chip, desk, cooker)
    assert not again["tried"] and not again["sent"] and again["hello"]["trouble"] == ""
    at_console("chip", desk.open, say, by_hand)
    desk.clock.sleep(2.0)  # it goes from the bus and comes back
    with Dish("chip", wire=desk.open()) as dish:
        assert dish.hello(20.0)["trouble"] == "", "the controller runs again after the console"
    folder = f"/{done['folder']}"
    repl = take_console("chip", desk.open)
    measure.free_console(repl)
    sun = measure.sun_worst_deg(repl, folder, measure.sun_cases())
    live, free, collection_ms = measure.heap(repl, folder, KINDS["pico"], cooker)
    middle, most = world.pointing_deg()
    worst_ms = float(status["worst_tick_ms"])
    got = report.Figures(done["micropython"], install_s, again_s, worst_ms, collection_ms, live, free, sun,
                         TRACKING_S, middle, most)
    say(report.words(got))
    assert report.shortfalls(got) == []


@NEEDS_IMAGE
def test_with_all_that_can_be_fitted_it_finds_room_and_its_place(monkeypatch):
    chip, world, desk = powered(monkeypatch, DAY + ALL_FITTED)
    cooker = world.bench.cooker
    done, install_s = install(chip, desk, cooker)
    assert done["tried"] and done["hello"]["proven"] and done["hello"]["trouble"] == ""
    with Dish("chip", wire=desk.open()) as dish:
        wait_for(dish, "a set clock", lambda s: s.get("clock_known"), 60)
        world.press(keys.LEAVE)
        status = wait_for(dish, "homing", lambda s: s["place_known"] and s["mode"] == "PARKED", 240)
    assert status["trouble"] == "" and not {"position_sensor", "sensor_silent"} & set(status["tripped"])
    repl = take_console("chip", desk.open)
    measure.free_console(repl)
    live, free, collection_ms = measure.heap(repl, f"/{done['folder']}", KINDS["pico"], cooker)
    say(f"install {install_s:.1f} s, worst tick {status['worst_tick_ms']} ms")
    say(f"collection {collection_ms:.0f} ms, live {live} bytes, free {free}")
    assert live <= report.LIVE_HEAP_BYTES and free > 0
    assert status["worst_tick_ms"] + collection_ms <= report.TICK_AND_COLLECTION_MS
