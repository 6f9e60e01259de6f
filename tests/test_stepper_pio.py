"""The step generator's PIO program, run instruction by instruction, against the bench's model of its words.

Units: us, which at 1 MHz is one instruction cycle; steps. The emulator is the package rp2040-pio-emulator;
the encodings are checked against listings in the chip's own documentation.
"""

import importlib
import sys
from collections import deque
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from pioemu import State, emulate
from sunhob_sim.pio_queue import PioQueue, pack_word

from .pio_assembler import Assembler

DIR, STEP = 0, 1  # pins of the emulator: OUT base and side-set base


class Machine:
    """Stands for rp2.StateMachine: keeps the words and what was asked."""

    def __init__(self, sm_id, program, freq, sideset_base, out_base):
        self.program, self.freq = program, freq
        self.fifo = deque()
        self.asked = []

    def tx_fifo(self):
        return len(self.fifo)

    def put(self, word):
        self.fifo.append(word)

    def active(self, on):
        self.asked.append(("active", on))

    def restart(self):
        self.asked.append(("restart",))

    def exec(self, text):
        self.asked.append(("exec", text))
        if text.startswith("pull"):
            self.fifo.popleft()


@pytest.fixture(scope="module")
def driver():
    """drivers/stepper_pio.py itself, its program kept as (settings, function)."""
    pio = SimpleNamespace(OUT_LOW=2, SHIFT_RIGHT=1, JOIN_TX=1)
    fakes = {"rp2": SimpleNamespace(PIO=pio, StateMachine=Machine,
                                    asm_pio=lambda **how: lambda source: (how, source)),
             "machine": SimpleNamespace(Pin=type("Pin", (), {"OUT": 1, "__init__": lambda s, *a: None}))}
    name = "sunhob_board.drivers.stepper_pio"
    kept = {key: sys.modules.pop(key, None) for key in (*fakes, name)}
    sys.modules.update(fakes)
    try:
        yield importlib.import_module(name)
    finally:
        for key, module in kept.items():
            sys.modules.pop(key, None)
            if module is not None:
                sys.modules[key] = module


@pytest.fixture(scope="module")
def code(driver):
    how, source = driver.segment
    assert how["out_shiftdir"] == 1 and how["fifo_join"] == 1  # to the right, both FIFOs joined: 8 words
    return Assembler(side_bits=1).run(source)


def squarewave():
    set(pindirs, 1)  # noqa: F821
    label("again")  # noqa: F821
    set(pins, 1)[1]  # noqa: F821
    set(pins, 0)  # noqa: F821
    jmp("again")  # noqa: F821


def ws2812():
    label("bitloop")  # noqa: F821
    out(x, 1).side(0)[2]  # noqa: F821
    jmp(not_x, "do_zero").side(1)[1]  # noqa: F821
    jmp("bitloop").side(1)[4]  # noqa: F821
    label("do_zero")  # noqa: F821
    nop().side(0)[4]  # noqa: F821


def uart_tx():
    pull(block).side(1)[7]  # noqa: F821
    set(x, 7).side(0)[7]  # noqa: F821
    label("bitloop")  # noqa: F821
    out(pins, 1)  # noqa: F821
    jmp(x_dec, "bitloop")[6]  # noqa: F821


@pytest.mark.parametrize(("source", "side_bits", "opt", "words"), [
    # RP2040 datasheet, chapter 3: listings of the assembled squarewave, ws2812 and uart_tx programs
    (squarewave, 0, False, [0xE081, 0xE101, 0xE000, 0x0001]),
    (ws2812, 1, False, [0x6221, 0x1123, 0x1400, 0xA442]),
    (uart_tx, 1, True, [0x9FA0, 0xF727, 0x6001, 0x0642]),
])
def test_the_assembler_makes_the_published_words(source, side_bits, opt, words):
    assert Assembler(side_bits, opt).run(source) == words


def test_the_program_fits_and_says_its_side_everywhere(code):
    # by hand from the datasheet's tables 3.4.2 to 3.4.8: side-set 1 is bit 12, a delay of 3 is bits 8 and 9
    assert code == [0x80A0, 0x6001, 0x602B, 0x63D2, 0xB046, 0x1085, 0xA046, 0x0087, 0x0044]


class Chip:
    """The emulated state machine; edges: (us, direction bit) of each rise of STEP."""

    def __init__(self, code):
        self.code = code
        self.state = State()
        self.edges, self.falls, self.turns = [], [], []

    def put(self, *words):
        self.state = replace(self.state, transmit_fifo=deque([*self.state.transmit_fifo, *words]))

    def run_to(self, us):
        if self.state.clock >= us:
            return
        for before, after in emulate(
            self.code, stop_when=lambda _code, state: state.clock >= us, initial_state=self.state,
            out_base=DIR, out_count=1, side_set_base=STEP, side_set_count=1, shift_osr_right=True,
        ):
            self.state = after
            changed = before.pin_values ^ after.pin_values
            if changed >> STEP & 1:
                rise = after.pin_values >> STEP & 1
                (self.edges if rise else self.falls).append((before.clock, after.pin_values >> DIR & 1))
            if changed >> DIR & 1:
                self.turns.append(before.clock)


def model_edges(puts, until):
    """(us, direction bit) of each step the bench's queue gives for words put at given times."""
    queue, edges, puts = PioQueue(), [], deque(puts)
    done = 0
    for us in range(until):
        while puts and puts[0][0] == us:
            queue.put(puts.popleft()[1], us)
        now = queue.steps_done(us)
        if now != done:
            edges.append((us, 1 if now > done else 0))
            assert abs(now - done) == 1
        done = now
    return edges


def chip_edges(code, puts, until):
    chip = Chip(code)
    for us, word in puts:
        chip.run_to(us)
        chip.put(word)
    chip.run_to(until)
    return chip


WORDS = st.builds(pack_word, st.booleans(), st.integers(1, 12), st.integers(0, 12).map(lambda d: 2 * d + 5))


@hypothesis_settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 500), WORDS), min_size=1, max_size=5))
def test_the_chip_steps_when_the_benchs_model_says(code, puts):
    puts = sorted(puts)
    until = puts[-1][0] + sum(7 + (w >> 1 & 0x7FF) * 31 + 31 for _, w in puts) + 20
    assert chip_edges(code, puts, until).edges == model_edges(puts, until)


@pytest.mark.parametrize(("period", "steps"), [(5, 1), (5, 2048), (7, 3), (41, 5), (1001, 3)])
def test_pulses_are_counted_and_timed(code, period, steps):
    chip = chip_edges(code, [(0, pack_word(True, steps, period))], 13 + steps * period)
    at = [us for us, _ in chip.edges]
    assert len(at) == steps and at[0] == 7
    assert all(b - a == period for a, b in pairwise(at))
    high = {fall - rise for (rise, _), (fall, _) in zip(chip.edges, chip.falls, strict=True)}
    assert high == {(period - 5) // 2 + 2}
    assert min(high) >= 2  # a common driver wants STEP high and low for 1 us: common practice, no source


def test_direction_stands_before_the_first_step_and_after_the_last(code):
    words = [pack_word(forward, 2, 21) for forward in (True, False, True)]
    chip = chip_edges(code, [(0, word) for word in words], 200)
    assert [bit for _, bit in chip.edges] == [1, 1, 0, 0, 1, 1]
    for turn in chip.turns:
        later = [us for us, _ in chip.edges if us > turn]
        earlier = [us for us, _ in chip.edges if us <= turn]
        assert later[0] - turn == 6  # us of set-up; 5 asked by boxed drives: common practice, no source
        assert not earlier or turn - earlier[-1] >= 21 / 2  # us of hold


def test_starved_is_stopped_low_and_goes_on_with_the_next_word(code):
    chip = chip_edges(code, [(0, pack_word(True, 3, 11))], 5000)
    assert len(chip.edges) == 3
    assert chip.state.pin_values >> STEP & 1 == 0 and chip.state.program_counter == 0
    chip.put(pack_word(False, 1, 11))
    chip.run_to(5100)
    assert chip.edges[3:] == [(5007, 0)]


def test_the_widest_word_reaches_the_registers_whole(code):
    chip = Chip(code)
    chip.put(pack_word(True, 2048, 2 * 0x3FFFF + 5))
    chip.run_to(4)
    assert chip.state.x_register == 2047
    assert chip.state.input_shift_register.contents == 0x3FFFF


@pytest.mark.parametrize("reversed_", [False, True])
@pytest.mark.parametrize(("forward", "steps", "period"), [(True, 1, 5), (False, 7, 40), (True, 2, 0)])
def test_what_the_driver_pushes_is_what_the_chip_does(driver, code, reversed_, forward, steps, period):
    assert driver.StepperPio.wide == 5  # as test_mount_axis takes it
    drive = driver.StepperPio(0, 2, 3, reversed_)
    assert drive._sm.freq == 1_000_000
    assert drive.push(forward, steps, period)
    chip = chip_edges(code, [(0, drive._sm.fifo[0])], 1000)
    assert [bit for _, bit in chip.edges] == [int(forward != reversed_)] * steps
    apart = {b[0] - a[0] for a, b in pairwise(chip.edges)}
    wanted = max(5, period)
    assert all(wanted - 1 <= gap <= wanted for gap in apart)  # periods are odd


def test_the_driver_refuses_what_does_not_fit(driver):
    drive = driver.StepperPio(0, 2, 3)
    assert not drive.push(True, 0, 100) and not drive.push(True, 2049, 100)
    assert all(drive.push(True, 1, 100) for _ in range(8))
    assert drive.free() == 0 and not drive.push(True, 1, 100)


def test_clear_empties_the_fifo_and_drives_step_low(driver):
    drive = driver.StepperPio(0, 2, 3)
    for _ in range(5):
        drive.push(True, 100, 100)
    drive.clear()
    assert drive.free() == 8
    asked = drive._sm.asked
    assert asked[1] == ("active", 0) and asked[-2:] == [("exec", "nop()"), ("active", 1)]
    for _, text in (one for one in asked if one[0] == "exec"):
        (word,) = Assembler(side_bits=1).run(text)
        (_, after), *_ = emulate([word], stop_when=lambda _c, s: s.clock >= 1, side_set_base=STEP,
                                 side_set_count=1, initial_state=State(pin_values=1 << STEP))
        assert after.pin_values >> STEP & 1 == 0
