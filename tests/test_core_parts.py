"""Clock, panel, place, dial and interlock engine by themselves. Units: ms, micro-degrees, permille."""

import json
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob.errors import UserError
from sunhob_board.core import panel as keys
from sunhob_board.core import recovery, ticks
from sunhob_board.core.clock import DAY_MS, Clock
from sunhob_board.core.panel import Panel
from sunhob_board.core.place import MOVING, ON_SUN, Place
from sunhob_board.core.settings import defaults
from sunhob_board.declared import interlocks as table
from sunhob_board.declared import modes
from sunhob_board.heat import dial as heat
from sunhob_board.heat.dial import Dial
from sunhob_board.heat.regulate import Regulator
from sunhob_board.safety.interlocks import Interlocks
from sunhob_sim import wasm_home
from sunhob_sim.wasm_sun import run_micropython

from .clock_chip import Chip


@given(st.integers(0, ticks.PERIOD - 1), st.integers(-(2**28), 2**28))
def test_ticks_survive_the_wrap(start, step):
    assert ticks.diff(ticks.add(start, step), start) == step


def run_clock(clock, chip, start, seconds, step=100):
    now = start
    for _ in range(seconds * 1000 // step):
        now = ticks.add(now, step)
        chip.carry(step)
        clock.tick(now)
    return now


@pytest.mark.parametrize("start", [0, ticks.PERIOD - 700])
def test_clock_finds_the_turn_of_the_second_and_keeps_it(start):
    chip = Chip(ms=1_640)
    clock = Clock(chip, 5)
    clock.start(start)
    run_clock(clock, chip, start, 200)
    assert clock.known and not clock.jumped_ms
    assert abs(clock.ms - chip.ms) <= 100


def test_clock_passes_midnight():
    chip = Chip(ms=DAY_MS - 2_500)
    clock = Clock(chip, 5)
    clock.start(0)
    run_clock(clock, chip, 0, 5)
    assert clock.day == chip.day and abs(clock.ms - chip.ms) <= 100


def test_clock_sees_a_jump_of_the_chip_and_a_lost_oscillator():
    chip = Chip()
    clock = Clock(chip, 5)
    clock.start(0)
    now = run_clock(clock, chip, 0, 10)
    chip.ms += 7_000
    now = run_clock(clock, chip, now, 70)
    assert 6_000 < clock.jumped_ms < 8_000
    chip.ok = False
    run_clock(clock, chip, now, 70)
    assert not clock.known


@given(st.integers(0, 1100))
def test_dial_in_percent_asks_what_is_said_or_nothing_at_all(permille):
    dial = Dial(400, Regulator(defaults()), None)
    dial.ask(heat.PERCENT, permille)
    assert dial.permille == (min(permille, 1000) if permille >= 400 else 0)


def test_dial_in_watts_follows_the_beam_within_its_ends_and_rests_in_cloud():
    dial = Dial(400, Regulator(defaults()), None)
    dial.ask(heat.PERCENT, 1000)
    assert dial.ask(heat.WATTS, 500) and not dial.ask(heat.WATTS, 500)
    assert dial.permille == 1000
    for full_w, beam, want in ((1000.0, 900.0, 500), (1005.0, 900.0, 500), (800.0, 700.0, 625),
                               (50.0, 40.0, 625), (400.0, 350.0, 1000), (2000.0, 1000.0, 400)):
        for _ in range(3000):  # a weaker beam is believed in slowly
            dial.tick(1_000, full_w, 1100.0, beam)
        assert abs(dial.permille - want) <= heat._STEP, full_w
    assert dial.ask(heat.WATTS, 0) and dial.permille == 0
    assert not dial.tick(60_000, 1000.0, 1100.0, 900.0) and dial.permille == 0


def test_place_refuses_any_changed_byte():
    chip = Chip()
    place = Place(chip)
    place.write(-12_345_678, 90_000_000, MOVING | ON_SUN)
    assert place.read() == (-12_345_678, 90_000_000, MOVING | ON_SUN)
    for i in range(12):
        chip.ram[i] ^= 0x10
        assert place.read() is None
        chip.ram[i] ^= 0x10


def test_panel_debounces_a_press_but_not_an_opened_chain():
    panel = Panel()
    panel.tick(keys.CHAIN | keys.LEAVE, 0, 10)
    assert not panel.pressed
    panel.tick(keys.CHAIN, 0, 10)
    panel.tick(keys.CHAIN, 0, 100)
    assert not panel.pressed
    panel.tick(keys.CHAIN | keys.LEAVE, 0, 10)
    panel.tick(keys.CHAIN | keys.LEAVE, 0, 40)
    assert panel.pressed == keys.LEAVE
    panel.tick(keys.CHAIN | keys.LEAVE, 0, 40)
    assert not panel.pressed
    panel.tick(0, 0, 10)
    assert not panel.held & keys.CHAIN


def test_a_button_is_tapped_when_it_is_let_go_again_soon():
    def held(ms, start=0):
        panel = Panel()
        panel.tick(keys.CHAIN | start, 0, 10)
        panel.tick(keys.CHAIN | start, 0, 40)
        told = []
        for mask, times in ((keys.ARM, ms // 20), (0, 20)):
            for _ in range(times):
                panel.tick(keys.CHAIN | mask, 0, 20)
                told.append(panel.tapped)
        return [n for n, bits in enumerate(told) if bits == keys.ARM]

    assert held(500) == [500 // 20 + 2]  # once, debounced, after it was let go
    assert held(3000) == [] and held(500, start=keys.ARM) == []


def tick(locks, ms, *rows):
    locks.begin()
    for row in rows:
        locks.put(row)
    locks.tick(ms)


def make_locks(**dwells):
    log = []
    s = SimpleNamespace(**(vars(defaults()) | dwells))
    return Interlocks(s, lambda code, a, b: log.append((code, a)), "trip", "over"), log


def test_one_small_cloud_does_not_end_a_meal():
    locks, log = make_locks()
    i = table.INDEX["light_low"]
    for bad_s, fine_s in ((500, 30), (599, 5), (300, 10)):
        for _ in range(bad_s):
            tick(locks, 1000, i)
        for _ in range(fine_s):
            tick(locks, 1000)
    assert not log
    for _ in range(600):
        tick(locks, 1000, i)
    assert log == [("trip", i)] and locks.strongest == table.LEAVE
    for _ in range(179):
        tick(locks, 1000)
    assert locks.is_tripped(i)
    tick(locks, 1000)
    assert not locks.is_tripped(i)


@pytest.mark.parametrize("row", range(len(table.ROWS)))
def test_every_row_trips_after_its_dwell_and_clears_by_its_rule(row):
    locks, _ = make_locks()
    needed = locks.trip_ms[row]
    if needed > 1:
        tick(locks, needed - 1, row)
        assert not locks.is_tripped(row)
    tick(locks, max(1, needed), row)
    assert locks.is_tripped(row)
    assert not locks.clear(row), "a cause that is still there cannot be cleared"
    for _ in range(3):
        tick(locks, locks.over_ms[row] + 1)
    assert locks.is_tripped(row) == bool(locks.latched[row])
    assert locks.clear(row) and not locks.is_tripped(row)


def test_every_row_says_what_happened_what_it_did_and_what_to_do():
    for name, _trip, _over, action, _latched, *words in table.ROWS:
        assert 0 <= action < len(table.ACTIONS), name
        assert len(words) == 3 and all(w.endswith(".") for w in words), name


NO_ALLOCATION = """
import sys, gc, json
sys.path.append('/')
from sunhob_board.declared import interlocks as table
from sunhob_board.safety.interlocks import Interlocks
from sunhob_board.core.settings import defaults
locks = Interlocks(defaults(), lambda code, a, b: None, 0, 1)
def turn(ms):
    locks.begin()
    for i in range(locks.n):
        locks.put(i, 7)
    locks.tick(ms)
turn(1); turn(1)
gc.collect()
gc.disable()
before = gc.mem_alloc()
for _ in range(50):
    turn(10)
more = gc.mem_alloc() - before
print([more, locks.n, sum(locks.tripped), locks.strongest])
"""


def test_a_tick_with_every_row_bad_allocates_nothing_on_micropython():
    try:
        wasm_home.ensure()
    except UserError as error:
        pytest.skip(str(error))
    modules = ("__init__", "declared/__init__", "declared/interlocks", "declared/settings",
               "core/__init__", "core/settings", "safety/__init__", "safety/interlocks")
    more, n, tripped, strongest = json.loads(run_micropython(NO_ALLOCATION, {}, modules)[0])
    assert more <= 64 and 20 < tripped < n and strongest == table.HOLD


@pytest.mark.parametrize("axis", [1, 2])
def test_an_axis_found_to_turn_a_share_of_its_way_is_counted_so_from_there(axis):
    axes = [SimpleNamespace(position_udeg=40_000_000 * k, measured=False) for k in (1, 2)]
    began = []
    c = SimpleNamespace(
        mount=SimpleNamespace(axes=axes, moving=True), mode=modes.LEAVING, phase=recovery.MOVING, led=False,
        _begin=lambda *told: began.append(told),
        watch=SimpleNamespace(sight=SimpleNamespace(share=0.5, row=recovery._STALLED)),
        _again=0, _slow=0, _share=1.0, _at=7)
    recovery.Recovery.lame(c, axis, recovery._STALLED)
    assert (c._slow, c._share, c._at) == (axis, 0.5, axes[axis - 1].position_udeg)
    assert began == [(modes.LEAVING, 0)]
