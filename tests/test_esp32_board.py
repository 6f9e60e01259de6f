"""The ESP32's step pulses, port expander and board file, with the chip's pulse peripheral stood in for.

Units: us, steps. What the peripheral does is taken from MicroPython's documentation, library esp32, class
RMT: a tick is clock_div / 80 MHz, a duration 1 to 32767 ticks. The times of the rises are worked out here.
"""

from itertools import pairwise
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sunhob.board.image import KINDS, kind_of
from sunhob.board.pins import CHIPS, board_table, pin_faults
from sunhob.firmware_build import bundled
from sunhob_sim import esp32_board, pins
from sunhob_sim import scenario as scenarios
from sunhob_sim.bench import BOARDS, run_scenario
from sunhob_sim.devices.mcp23017 import MCP23017
from sunhob_sim.engine import firmware_dir
from sunhob_sim.engine_cpython import Loader
from sunhob_sim.esp32_board import Esp32Board
from sunhob_sim.rmt_channel import RmtChannel

from .bench_plant import BarePlant

STEP, DIR = esp32_board.STEP[0], esp32_board.DIR[0]


class Desk(BarePlant):
    """Nothing hangs on the pins."""

    def __init__(self):
        super().__init__()
        self.plant = SimpleNamespace(held_outputs={})

    def attach(self, board):
        pass

    def inputs(self):
        return dict(pins.AT_REST)


class Rig:
    """One drive of the firmware on the stand-in modules. rises: (us, level of the direction line); trains:
    (begin, end) [us]; highs: length of each pulse [us]."""

    def __init__(self, reversed_=False):
        self.board = Esp32Board(Desk())
        self.rises, self.trains, self.highs, self.turns = [], [], [], []
        self.way, self.cut_us = 0, None
        apply = self.board._apply

        def keep(out):
            for op, a, b in zip(out[::3], out[1::3], out[2::3], strict=True):
                self._see(op, a, b)
            apply(out)

        self.board._apply = keep
        loader = Loader(firmware_dir("sunhob_board"), [])
        self.wire = loader.load("wire")
        self.wire.start(self.board, 1, self.board.machine)
        self.module = loader.load("sunhob_board.drivers.stepper_rmt")
        self.drive = self.module.StepperRmt(0, 1, STEP, DIR, reversed_)
        self.wire.exchange(0)

    def _see(self, op, a, b):
        now = self.board.now_us
        if op == 0 and a == DIR:
            self.way = b
            self.turns.append(now)
        elif op == 0 and a == STEP:
            self.rises = [one for one in self.rises if one[0] <= now]
        elif op == 10:
            levels, ticks = b
            assert all(1 <= one <= 32767 for one in ticks)
            assert not self.trains or now >= self.trains[-1][1] - 1e-6, "a train is under way"
            at = float(now)
            for level, duration in zip(levels, ticks, strict=True):
                us = duration * 80 / 80.0  # clock_div = 80 of 80 MHz
                if level:
                    self.rises.append((at, self.way))
                    self.highs.append(us)
                at += us
            self.trains.append((now, at))

    def run(self, us, busy=False):
        """Let time pass; busy: the processor does something else, no timer is served."""
        if not busy:
            self.wire.sleep_us(us)
            return
        armed = list(self.wire.timers)
        self.wire.timers.clear()
        self.wire.exchange(us)
        for timer in armed:
            timer.left_us -= us
        self.wire.timers.extend(armed)

    def gaps(self):
        return [b[0] - a[0] for a, b in pairwise(self.rises)]


def test_the_bench_s_channel_gives_the_documentation_s_example():
    # RMT(0, pin=Pin(18), clock_div=8); write_pulses((1, 20, 2, 40), 0): 0 for 100 ns, 1 for 2000, 0 for 200,
    # 1 for 4000
    channel = RmtChannel()
    channel.open(8, 0)
    channel.turn(1, 0)
    channel.train([0, 1, 0, 1], [1, 20, 2, 40], 0)
    assert channel._rises == pytest.approx([0.1, 2.3])
    assert channel._ends_us == pytest.approx(6.3)
    assert [channel.steps_done(us) for us in (0, 1, 2, 3)] == [0, 1, 1, 2]
    assert channel.rate(3) > 0 and channel.rate(7) == 0


@pytest.mark.parametrize("idle_s", [10, 500, 600, 981, 1100, 2055])
def test_after_any_rest_it_begins_at_once(idle_s):
    """ticks_us wraps after 2**30 us (1074 s); past half of that an end long ago seems to be to come."""
    rig = Rig()
    rig.drive.push(True, 10, 625)
    rig.run(100_000)
    rig.run(idle_s * 1_000_000)
    began = rig.board.now_us
    rig.drive.push(True, 400, 625)
    rig.run(400 * 625 + 10_000)
    assert len(rig.rises) == 410
    assert rig.rises[-1][0] - began < 400 * 625 + 2_000


@pytest.mark.parametrize(("period", "steps"), [(20, 2000), (37, 999), (625, 64), (20_001, 5),
                                                (70_000, 3), (520_000, 2)])
def test_pulses_are_counted_and_timed(period, steps):
    rig = Rig()
    assert rig.drive.push(True, steps, period)
    rig.run(period * steps + 100_000)
    assert len(rig.rises) == steps and {way for _, way in rig.rises} == {1}
    slack = 0 if period <= 20_001 else 1_001  # long pauses are the timer's, which counts milliseconds
    assert all(abs(gap - period) <= slack for gap in rig.gaps())
    assert rig.rises[-1][0] - rig.rises[0][0] == pytest.approx((steps - 1) * period, abs=slack)
    # a common driver wants STEP high and low for 1 us at least: common practice, no source
    assert min(rig.highs) >= 10 and max(rig.highs) <= 10_000
    assert all(end - begin <= 40_000 for begin, end in rig.trains)


WORDS = st.lists(st.tuples(st.booleans(), st.integers(1, 60), st.integers(20, 3_000)), min_size=1, max_size=8)


@hypothesis_settings(max_examples=25, deadline=None)
@given(WORDS, st.booleans())
def test_every_word_is_stepped_in_order_the_way_it_says(words, reversed_):
    rig = Rig(reversed_)
    assert all(rig.drive.push(*word) for word in words)
    rig.run(sum(steps * period for _, steps, period in words) + 20_000)
    wanted = [int(forward != reversed_) for forward, steps, _ in words for _ in range(steps)]
    assert [way for _, way in rig.rises] == wanted
    assert rig.drive.free() == 8 and not rig.drive._running
    queue = rig.board.queues[0]
    assert queue.steps_done(rig.board.now_us) == sum(2 * way - 1 for way in wanted) and queue.early == 0
    for turn in rig.turns[1:]:  # 5 us of set-up are asked by boxed drives: common practice, no source
        later = [us for us, _ in rig.rises if us > turn]
        earlier = [us for us, _ in rig.rises if us <= turn]
        assert (not later or later[0] - turn >= 5) and (not earlier or turn - earlier[-1] >= 5)


def test_two_axes_do_not_hold_each_other_up():
    """write_pulses() waits for the train before: the wait of one axis must not make the other late, or the
    path of a move bends (the sun was led by 1.4 deg)."""
    rig = Rig()
    rig._see = lambda *_op: None
    two = rig.module.StepperRmt(1, 2, esp32_board.STEP[1], esp32_board.DIR[1])
    rig.wire.exchange(0)
    began = rig.board.now_us
    for n in range(60):  # 40 ms each, as the axes send them; of one axis cut in two trains
        while rig.drive.free() > 2:
            rig.drive.push(True, 256, 156)
        while two.free() > 2:
            two.push(True, 84 + n % 3, 40_000 // (84 + n % 3))
        rig.run(100_000)
    gone = rig.board.now_us - began
    one, other = (rig.board.queues[k].steps_done(rig.board.now_us) for k in (0, 1))
    assert one == pytest.approx(gone / 156, rel=0.002)
    assert other == pytest.approx(85 * gone / 40_000, rel=0.004)


def test_what_is_queued_is_stepped_without_a_gap_however_late_the_next_tick():
    rig = Rig()
    for _ in range(4):
        rig.drive.push(True, 64, 625)  # 40 ms each, as the axis sends them
    rig.run(1_000_000)
    assert len(rig.rises) == 4 * 64
    assert max(rig.gaps()) == min(rig.gaps()) == 625
    assert rig.trains[-1][1] <= 4 * 64 * 625 + 1, "and then it stands: starved is stopped"


def test_a_train_that_begins_late_is_caught_up_a_little_faster():
    rig = Rig()
    for _ in range(4):
        rig.drive.push(True, 64, 625)
    rig.run(20_000)
    rig.run(30_000, busy=True)  # over the end of the first train: ten milliseconds late
    rig.run(200_000)
    gaps = rig.gaps()
    assert max(gaps) == pytest.approx(625 + 10_000, abs=1_100)
    assert min(gaps) >= 625 * 7 // 8
    assert rig.rises[-1][0] == pytest.approx(4 * 64 * 625, abs=400), "the last step is in time again"


def test_a_stall_of_seconds_gives_no_burst_after_it():
    rig = Rig()
    for _ in range(3):
        rig.drive.push(True, 64, 625)
    rig.run(20_000)
    rig.run(3_000_000, busy=True)
    rig.run(200_000)
    assert len(rig.rises) == 3 * 64 and sorted(rig.gaps())[:-1] == [625] * (3 * 64 - 2)


def test_clear_stops_in_the_middle_of_a_pulse_train_and_goes_on_with_new_words():
    rig = Rig()
    for _ in range(5):
        rig.drive.push(True, 64, 625)
    rig.run(10_000)
    rig.drive.clear()
    assert rig.drive.free() == 8
    rig.run(500_000)
    given_ = len(rig.rises)
    assert given_ == 10_000 // 625 == rig.board.queues[0].steps_done(rig.board.now_us)
    assert rig.board.pin_levels[STEP] == 0
    assert rig.drive.push(False, 3, 1000)
    rig.run(100_000)
    assert [way for _, way in rig.rises[given_:]] == [0, 0, 0]


def test_a_call_of_the_timer_amid_clear_starts_nothing():
    rig = Rig()
    for _ in range(3):
        rig.drive.push(True, 64, 625)
    rig.run(10_000)
    deinit = rig.drive._rmt.deinit

    def called():
        rig.drive._next(None)  # it had waited already
        deinit()

    rig.drive._rmt = SimpleNamespace(deinit=called)
    rig.drive.clear()
    rig.run(200_000)
    assert len(rig.rises) == 16


def test_the_driver_refuses_what_does_not_fit():
    rig = Rig()
    assert not rig.drive.push(True, 0, 100) and not rig.drive.push(True, 2049, 100)
    assert rig.drive.push(True, 64, 625)  # goes to the peripheral at once
    assert all(rig.drive.push(True, 1, 100) for _ in range(8))
    assert rig.drive.free() == 0 and not rig.drive.push(True, 1, 100)


# --- the port expander --------------------------------------------------------------------------


class Bus:
    """An I2C bus with one expander; lit: what it drives; keys: what is driven from outside."""

    def __init__(self):
        self.lit, self.keys = {}, {}
        self.chip = MCP23017(lambda: self.keys, self.lit.update)

    def readfrom_mem(self, address, reg, n):
        got = self.chip.read(reg, n, 0) if address == 0x20 else None
        if got is None:
            raise OSError(5)
        return got

    def writeto_mem(self, address, reg, data):
        if address != 0x20 or not self.chip.write(reg, bytes(data), 0):
            raise OSError(5)


@pytest.fixture
def keys():
    from sunhob_board.drivers.expander_mcp23017 import Expander, Line

    bus = Bus()
    return bus, Expander(bus), Line


def test_the_expander_s_registers_after_power_on_are_the_data_sheet_s():
    # table "summary of registers associated with the ports", IOCON.BANK = 0: all lines in, the rest 0
    chip = MCP23017(dict, lambda _levels: None)
    assert chip.read(0x00, 0x16, 0) == b"\xff\xff" + bytes(0x14)


def test_keys_and_lamps_through_the_expander(keys):
    bus, expander, line = keys
    lamp = line(expander, 9)
    expander.read()
    assert bytes(bus.chip.regs[:0x0E]) == bytes((0xFF, 0, 0, 0, 0xFF, 0, 0, 0, 0, 0, 0, 0, 0xFF, 0))
    assert line(expander, 1).value() == 1, "open, by the chip's pull-up"
    bus.keys[1] = 0
    assert bus.chip.inta() == 0
    expander.read()
    assert line(expander, 1).value() == 0 and bus.chip.inta() == 1, "reading takes INTA back"
    lamp.value(1)
    assert bus.lit == {9: 1}
    expander.read()
    assert lamp.value() == 1


def test_a_silent_expander_reads_as_nothing_pressed_and_comes_back_as_it_was(keys):
    bus, expander, line = keys
    bus.keys[3] = 0
    line(expander, 8).value(1)
    expander.read()
    bus.chip.silent = True
    expander.read()
    assert line(expander, 3).value() == 1 and line(expander, 8).value() == 0, "no pot, nothing lit"
    line(expander, 10).value(1)
    bus.chip.silent = False
    bus.chip.reset()
    for _ in range(2):
        expander.read()
    assert expander.levels == 0x05F7 and bus.lit == {8: 1, 10: 1}


def test_an_expander_that_lost_its_registers_is_set_up_again(keys):
    bus, expander, line = keys
    expander.read()
    line(expander, 8).value(1)
    bus.chip.reset()
    assert bus.lit[8] == 0
    for _ in range(3):
        expander.read()
    assert bus.lit[8] == 1


# --- the board ----------------------------------------------------------------------------------


def test_the_chip_is_known_and_gets_its_own_drivers_alone():
    assert kind_of("Generic ESP32 module with ESP32").name == "esp32"
    inside = {one for got in bundled("esp32").modules.values() for one in got}
    assert {"drivers/stepper_rmt", "drivers/expander_mcp23017"} <= inside
    assert "drivers/stepper_pio" not in inside
    assert set(KINDS) == set(CHIPS)


@pytest.mark.parametrize(("change", "words"), [
    ({"step1": 12}, "reads it at reset"), ({"buzzer": 34}, "only reads, and this is an output"),
    ({"leave": 35}, "no pull-up or pull-down"), ({"pulse1": 6}, "serves the flash"),
    ({"uart_tx": 1}, "serves the console"), ({"leave": 24}, "not on the edge"), ({"step1": 13}, "carries"),
    ({"pot": 5}, "both on GPIO 5 and on the expander"),
])
def test_pins_that_the_chip_keeps_for_itself_are_refused(change, words):
    assert any(words in fault for fault in pin_faults("esp32", {**board_table("esp32"), **change}))


@pytest.mark.parametrize(("change", "words"), [
    ({"aside": 9}, "aside = expander 9: take one of 0 to 6"), ({"aside": 7}, "take one of 0 to 6"),
    ({"lamp_fault": 3}, "take one of 8 to 15"), ({"arm": 0}, "carries aside already"),
])
def test_lines_of_the_expander_are_judged(change, words):
    lines = {**board_table("esp32", "EXPANDER"), **change}
    assert any(words in fault for fault in pin_faults("esp32", expander=lines))


def test_a_signal_without_a_pin_is_told():
    table = board_table("esp32")
    del table["leave"]
    assert "leave: has no pin; give it one in the board file" in pin_faults("esp32", table)


def test_the_bench_s_own_wiring_is_the_board_file_s():
    table, lines = board_table("esp32"), board_table("esp32", "EXPANDER")
    plant = {**board_table("pico"), "pulse1": pins.PULSES[0], "pulse2": pins.PULSES[1]}
    wired = {table[name]: plant[name] for name in table
             if name in plant and table[name] in esp32_board.DIRECT}
    assert wired == esp32_board.DIRECT
    assert {lines[name]: plant[name] for name in lines} == {**esp32_board.EXPANDED, **esp32_board.LAMPS}
    assert table["expander_int"] == esp32_board.EXPANDER_INT


def test_a_meal_on_an_esp32_tracks_as_on_a_pico():
    one = scenarios.load("chain")
    told = {}
    for board in BOARDS:
        run = run_scenario(one.model_copy(update={"board": board}), "cpython")
        assert run.hazards == [] and run.firmware["resets"] == 0
        # times of ways may differ by a tick of the timer; what happens may not
        story = [(e["name"], e["b"] if e["name"] in ("mode", "trip", "over") else 0) for e in run.events]
        told[board] = (story, run.tracking["p95_deg"])
    assert told["esp32"][0] == told["pico"][0]
    assert told["esp32"][1] == pytest.approx(told["pico"][1], abs=0.002)
    assert told["esp32"][1] <= 0.05
