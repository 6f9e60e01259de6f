"""Self-checks on board: each finds what it is for, costs little at a time, and its row does what it says.

Units: bytes, seconds, mV, ppm. CRC-32 is judged by zlib, its check value by the published one (0xCBF43926,
CRC RevEng catalogue, CRC-32/ISO-HDLC).
"""

import zlib
from datetime import UTC, datetime
from itertools import pairwise
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob.code_list import code_list
from sunhob_board.core import app as app_module
from sunhob_board.core import panel as keys
from sunhob_board.core.clock import Clock
from sunhob_board.declared import interlocks, modes
from sunhob_board.selfcheck import memory, proof
from sunhob_board.selfcheck.copies import Copies
from sunhob_board.selfcheck.files import DATA, NO_LIST, Files
from sunhob_board.selfcheck.memory import Memory
from sunhob_sim.bench import Bench
from sunhob_sim.board_host import VirtualBoard
from sunhob_sim.devices import ds3232
from sunhob_sim.faults.inside import StuckBlock
from sunhob_sim.scenario import parse

from .clock_chip import Chip
from .fake_board import FakeBoard
from .test_controller import cooking, parked
from .test_core_parts import run_clock

ROW = interlocks.INDEX
MORNING = datetime(2026, 3, 1, 4, 0, 0, tzinfo=UTC)
PROGRAM = {"a/one.mpy": bytes(range(256)) * 9, "a/two.mpy": b"x", "b.mpy": b"y" * 1024}


@pytest.fixture
def folder(tmp_path):
    for name, body in PROGRAM.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(body)
    for number, name in enumerate(DATA[:3]):
        (tmp_path / name).write_bytes(bytes(3000 + 100 * number))
    (tmp_path / "code.crc").write_bytes(code_list(PROGRAM))
    return tmp_path


def checked(folder, opener=open):
    files = Files(f"{folder}/", f"{folder}/", opener)
    files.boot()
    return files


def round_of(files):
    was = files.rounds
    for _ in range(200):
        files.step()
        if files.rounds > was:
            return
    raise AssertionError("the round never ends")


def test_the_list_is_the_crc_that_anybody_can_make():
    assert zlib.crc32(b"123456789") == 0xCBF43926
    text = code_list({"b": b"123456789", "a": b""})
    head, *rows = text.decode().splitlines()
    assert rows == ["00000000 0 a", "cbf43926 9 b"]
    rest = zlib.crc32(text.partition(b"\n")[2])
    assert head == f"sunhob-code {rest:08x}"


def test_a_sound_board_stays_quiet_over_many_rounds(folder):
    files = checked(folder)
    for _ in range(3):
        round_of(files)
    assert files.listed and not files.bad and not files.data_bad


@pytest.mark.parametrize("number", range(len(PROGRAM)))
@pytest.mark.parametrize("at_boot", [True, False])
def test_one_bit_of_the_program_is_found_at_boot_and_later(folder, number, at_boot):
    name = sorted(PROGRAM)[number]
    files = None if at_boot else checked(folder)
    body = bytearray(PROGRAM[name])
    body[len(body) // 2] ^= 1
    (folder / name).write_bytes(body)
    if files is None:
        files = checked(folder)
    else:
        assert not files.bad
        round_of(files)
    assert files.bad == NO_LIST + 1 + number and not files.data_bad


def test_a_file_that_is_gone_or_grew_is_found(folder):
    (folder / "b.mpy").write_bytes(PROGRAM["b.mpy"] + b"!")
    assert checked(folder).bad == NO_LIST + 3
    (folder / "b.mpy").unlink()
    assert checked(folder).bad == NO_LIST + 3


@given(st.integers(0, 10**6), st.integers(0, 7))
def test_any_bit_of_the_list_itself_is_found(tmp_path_factory, at, bit):
    folder = tmp_path_factory.mktemp("l")
    text = bytearray(code_list({"p": b"program"}))
    (folder / "p").write_bytes(b"program")
    text[at % len(text)] ^= 1 << bit
    (folder / "code.crc").write_bytes(text)
    assert checked(folder).bad


def test_no_list_is_told_and_is_no_fault(folder):
    (folder / "code.crc").unlink()
    files = checked(folder)
    assert not files.listed and not files.bad
    (folder / "heat.tab").write_bytes(b"other")
    round_of(files)
    assert not files.bad and files.data_bad == 2


def test_a_list_that_vanishes_or_lists_nothing_is_a_fault(folder):
    files = checked(folder)
    (folder / "code.crc").unlink()
    round_of(files)
    assert files.bad == NO_LIST
    (folder / "code.crc").write_bytes(code_list({}))
    assert checked(folder).bad == NO_LIST


def test_a_step_reads_one_slice_and_no_more(folder):
    read = []

    def opener(path, mode):
        f = open(path, mode, buffering=0)  # noqa: SIM115 - closed by the reader's with

        class Counted:
            def __enter__(self):
                return self

            def __exit__(self, *_):
                f.close()

            def seek(self, at):
                f.seek(at)

            def readinto(self, buf):
                count = f.readinto(buf)
                read.append(count)
                return count

            def readline(self):
                return f.readline()

        return Counted()

    files = checked(folder, opener)
    for _ in range(60):
        read.clear()
        files.step()
        assert len(read) <= 1 and sum(read) <= 1024


class Aliased(bytearray):
    """Memory in which address line 3 is dead: cells 8 apart are the same one."""

    def __setitem__(self, at, value):
        cells = dict((i & ~8, cell) for i, cell in enumerate(value))
        super().__setitem__(at, bytes(cells[i & ~8] for i in range(len(value))))


class StuckLow(bytearray):
    """Bit 6 of cell 17 stays 0."""

    def __setitem__(self, at, value):
        super().__setitem__(at, value[:17] + bytes((value[17] & 0xBF,)) + value[18:])


@pytest.mark.parametrize(("lend", "bad"), [
    (bytearray, 0), (StuckBlock, memory.PATTERN), (StuckLow, memory.PATTERN), (Aliased, memory.ADDRESS)])
def test_patterns_find_stuck_cells_and_address_lines(lend, bad):
    one = Memory(lend)
    for _ in range(40):
        one.step()
    assert one.bad == bad


def test_wrong_arithmetic_is_found(monkeypatch):
    one = Memory()
    monkeypatch.setattr(memory.math, "sin", lambda x: 0.50001)
    one.step()
    assert one.bad == memory.ANSWERS


def test_little_heap_and_a_short_stack_are_told(monkeypatch):
    one = Memory()
    one.room()
    assert one.low == 0
    monkeypatch.setattr(memory.gc, "mem_free", lambda: memory.LEAST_FREE - 1, raising=False)
    one.room()
    assert one.low == memory.HEAP
    monkeypatch.setattr(memory.gc, "mem_free", lambda: memory.LEAST_FREE)

    def short(_left):
        raise RecursionError

    monkeypatch.setattr(memory, "_deeper", short)
    one.room()
    assert one.low == memory.STACK


class Table:
    def __init__(self, *parts):
        self.parts = parts

    def buffers(self):
        return self.parts


@given(st.integers(0, 2), st.integers(0, 10**6), st.integers(0, 7))
def test_any_bit_of_a_copy_in_memory_is_found(which, at, bit):
    from types import SimpleNamespace

    from sunhob_board.declared import settings as declared

    s = SimpleNamespace(**{declared.board_name(r[0], r[1]): declared.board_default(r)
                           for r in declared.board_rows()})
    parts = bytearray(5000), bytearray(2048), bytearray(1)
    copies = Copies([Table(parts[0], parts[1]), Table(parts[2])], s)
    for _ in range(60):
        copies.step()
    assert copies.rounds >= 2 and not copies.bad
    parts[which][at % len(parts[which])] ^= 1 << bit
    for _ in range(40):
        copies.step()
    assert copies.bad == (1, 1, 2)[which]
    copies.bad = 0
    parts[which][at % len(parts[which])] ^= 1 << bit
    s.cook_warn_s += 1.0
    for _ in range(40):
        copies.step()
    assert copies.bad == Copies.SETTINGS


# --- the clock --------------------------------------------------------------------------------------------


class Wrong(Chip):
    """Runs fast by ppm; at -1e6 it stands still."""

    ppm = 0

    def __init__(self, **values):
        super().__init__(**values)
        self.part = 0.0

    def carry(self, ms):
        self.part += ms * (1 + self.ppm / 1e6)
        whole = int(self.part)
        self.part -= whole
        super().carry(whole)


@pytest.mark.parametrize(("ppm", "hours", "found"), [
    (0, 13, False), (100, 26, False), (-100, 13, False), (700, 12, True), (-700, 12, True), (5000, 0.3, True),
    (-5000, 0.3, True)])
def test_a_chip_at_another_rate_is_found_though_it_is_followed(ppm, hours, found):
    chip = Wrong()
    chip.ppm = ppm
    clock = Clock(chip, 5)
    clock.start(0)
    run_clock(clock, chip, 0, int(hours * 3600), 1000)
    assert bool(clock.rate_ppm) == found and not clock.jumped_ms
    if found:
        assert clock.rate_ppm == pytest.approx(ppm, rel=0.4)
    clock.set(chip.day, chip.ms)
    assert clock.rate_ppm == 0


def test_a_chip_that_stands_still_is_found_within_seconds_of_the_start():
    chip = Wrong()
    chip.ppm = -1_000_000
    clock = Clock(chip, 5)
    clock.start(0)
    run_clock(clock, chip, 0, 3)
    assert clock.rate_ppm == -1_000_000


# --- the watchdog -----------------------------------------------------------------------------------------


DAY = 'name = "day"\nstart = 2026-03-12T06:00:00Z\nhours = 1\n'
LOST = DAY + "[base]\nclock_set = false\n"


def booted(text, engine="cpython"):
    bench = Bench(parse(text), engine)
    bench.engine.boot()
    while bench.board.now_us < 3e6:
        bench.engine.cycle()
    return bench


@pytest.mark.parametrize("engine", ["cpython", "micropython"])
def test_the_watchdog_is_proven_once_motors_off_and_remembered(engine):
    bench = booted(LOST, engine)
    assert [cause for _, cause in bench.engine.resets] == [3]
    assert bench.engine.resets[0][0] == 300_000
    boots = [e for e in bench.uplink.events if e["name"] == "boot"]
    assert [b["a"] for b in boots] == [0]  # said in the one boot that is told
    assert not any(e["name"] == "trip" and e["a"] == ROW["watchdog"] for e in bench.uplink.events)
    for reset in (bench.board.reset_soon, lambda: bench.board.cut_power(2.0)):
        reset()
        for _ in range(200):
            bench.engine.cycle()
    assert len(bench.engine.resets) == 3  # neither start tried it again
    bench.close()


def test_nothing_is_driven_while_the_watchdog_is_tried():
    """Until the bite at 0.3 s only the probes' select lines (GPIO 22 and 27) are high, as at rest."""
    bench = Bench(parse(LOST), "cpython")
    driven, outputs, board = set(), bench.bridge.outputs, bench.board

    def noted(changes):
        if board.now_us <= 300_000:
            driven.update(pin for pin, level in changes.items() if level)
        outputs(changes)

    board.plant.outputs = noted
    bench.engine.boot()
    assert bench.engine.resets == [(300_000, 3)] and driven <= {22, 27}


def test_a_watchdog_that_does_not_bite_bars_the_sun(monkeypatch):
    monkeypatch.setattr(VirtualBoard, "_watchdog", lambda self, ms: None)
    bench = booted(LOST)
    assert not bench.engine.resets
    assert any(e["name"] == "trip" and e["a"] == ROW["watchdog"] for e in bench.uplink.events)
    assert interlocks.ROWS[ROW["watchdog"]][3] == interlocks.BAR


class Trial:
    """A board for proof.prove: what it does is noted."""

    def __init__(self, chip, cause):
        self.rtc, self.cause, self.bites = chip, cause, 0

    def reset_cause(self):
        return self.cause

    def bite(self):
        self.bites += 1


@pytest.mark.parametrize(("state", "day", "cause", "calm", "tried", "good"), [
    (0, 0, 1, True, True, False), (proof.TRYING, 9000, 3, True, False, True),
    (proof.TRYING, 9000, 1, True, True, False), (proof.PROVEN, 9000, 1, True, False, True),
    (proof.PROVEN, 8999, 1, True, True, False), (proof.PROVEN, 8999, 1, False, False, True),
    (proof.PROVEN, 8000, 3, True, False, True), (proof.FAILED, 9000, 3, True, False, False),
    (proof.FAILED, 9000, 1, True, True, False), (0, 0, 1, False, False, False)])
def test_when_the_watchdog_is_tried(state, day, cause, calm, tried, good):
    chip = Chip()
    if state:
        chip.ram_write(proof.OFFSET, proof.record(state, day))
    board = Trial(chip, cause)
    assert proof.prove(board, calm) is good
    assert board.bites == tried
    if tried:  # it came back: it did not bite
        assert proof.read(chip)[0] == proof.FAILED


def test_any_changed_byte_of_the_record_is_refused_and_no_memory_is_no_trial():
    chip = Chip()
    chip.ram_write(proof.OFFSET, proof.record(proof.PROVEN, 9000))
    for at in range(6):
        chip.ram[proof.OFFSET + at] ^= 4
        assert proof.read(chip) == (0, 0)
        chip.ram[proof.OFFSET + at] ^= 4
    chip.ram_write = lambda offset, data: False
    chip.ram[:] = bytes(236)
    board = Trial(chip, 1)
    assert proof.prove(board, True) is False and not board.bites


# --- rows in force ----------------------------------------------------------------------------------------


def tripped(b, name):
    return b.app.locks.is_tripped(ROW[name])


@pytest.fixture
def board(tmp_path):
    b = parked(tmp_path, MORNING)
    assert not any(tripped(b, name) for name in list(ROW)[ROW["code_bad"]:ROW["reference"] + 1])
    return b


def spoil(b, name):
    if name == "code_bad":
        b.app.checks.files.bad = 3
    elif name == "copy_bad":
        b.app.s.cook_warn_s += 1.0
    elif name == "memory_bad":
        b.app.checks.memory.lend = StuckBlock
    elif name == "memory_low":
        b.app.checks.memory.room = lambda: setattr(b.app.checks.memory, "low", memory.HEAP)
    elif name == "clock_rate":
        b.app.clock.rate_ppm = 900
    elif name == "output_stuck":
        b.stuck = 2
    elif name == "reference":
        b.light.rail_mv = 2900


@pytest.mark.parametrize("name", ["code_bad", "copy_bad", "memory_bad", "memory_low", "clock_rate",
                                  "output_stuck", "reference"])
def test_a_failed_check_ends_the_meal_and_it_does_not_come_back(board, name):
    cooking(board)
    spoil(board, name)
    locks = interlocks.ROWS[ROW[name]][3] == interlocks.LOCK  # leaves, and then waits for a person
    ends = modes.LOCKED if locks else modes.PARKED
    board.run(1200, lambda: board.app.controller.mode == ends)
    assert tripped(board, name) and board.app.controller.mode == ends and not board.app.controller.on_sun
    board.press(keys.ARM)
    assert board.app.controller.armed_ms <= 0


@pytest.mark.parametrize(("name", "value"), [("code_unlisted", 0), ("watchdog", 0)])
def test_the_two_that_are_known_at_boot(tmp_path, name, value):
    b = parked(tmp_path, MORNING)
    if name == "code_unlisted":
        (tmp_path / "code.crc").unlink()
    else:
        b.rtc.ram_write(proof.OFFSET, bytes(6))
    b.boot()
    b.app.controller.homing_needed = False
    b.run(3)
    assert tripped(b, name) and b.bitten == (name == "watchdog")
    b.knob.value = value
    b.press(keys.ARM)
    assert (b.app.controller.armed_ms > 0) == (name == "code_unlisted")


def test_motor_power_that_goes_while_it_moves_leaves_the_place_in_doubt(board):
    board.knob.value = 65535
    board.press(keys.ARM)
    board.run(60, lambda: board.app.mount.moving)
    board.run(3)
    board.stuck = 1
    board.run(1)
    c = board.app.controller
    assert c.mode == modes.LOCKED and c.homing_needed and not board.app.mount.moving


# --- on the bench -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("fault", "row", "hours"), [
    ("code_rots", "code_bad", 0.8), ("table_rots", "copy_bad", 0.8), ("settings_rot", "copy_bad", 0.8),
    ("table_rots_in_memory", "copy_bad", 0.3), ("memory_stuck", "memory_bad", 0.1),
    ("motor_power_low", "output_stuck", 0.05), ("buzzer_high", "output_stuck", 0.05),
    ("buzzer_low", "output_stuck", 0.05),
    ("lamp_low", "output_stuck", 0.05), ("reference_off", "reference", 0.1)])
def test_each_fault_inside_is_found_on_the_bench(fault, row, hours):
    severity = "severity = 0.8\n" if fault == "reference_off" else ""
    text = DAY.replace("06:00:00", "20:00:00").replace("hours = 1", f"hours = {hours}")
    bench = Bench(parse(text + f'[[fault]]\nname = "{fault}"\nat = "20:00:08"\n{severity}'), "cpython")
    bench.run()
    rows = [e["a"] for e in bench.uplink.events if e["name"] == "trip" and e["t_s"] >= 8.0]
    assert ROW[row] in rows
    others = set(rows) - {ROW[row]}
    assert not others & set(range(ROW["code_bad"], ROW["reference"] + 1))


def test_the_record_of_the_proof_does_not_meet_the_place():
    assert proof.OFFSET >= 12 and proof.OFFSET + 6 <= 236
    assert ds3232.RAM + proof.OFFSET + 6 <= 256


class SlowBoard(FakeBoard):
    """Takes as long to start as a chip, most of it before the clock is read."""

    @property
    def CODE(self):  # the checks ask for it, and come before the clock
        self.takes(1_400)
        return self.DATA

    @CODE.setter
    def CODE(self, folder):
        pass

    def drives(self, s):
        self.takes(300)
        return super().drives(s)

    def takes(self, ms):
        self.now += ms
        self.rtc.carry(ms)


def test_a_start_that_takes_long_is_neither_a_late_loop_nor_a_clock_that_stands_still(tmp_path):
    """As the emulated RP2040 told it: two seconds between the first look at the ticks and the first tick."""
    b = SlowBoard(tmp_path, MORNING)
    b.boot()
    first = b.rtc.ms
    b.run(0.001)
    assert b.app.conditions.late_ms == 0
    b.run(3)
    assert b.app.clock.rate_ppm == 0
    assert abs(b.app.clock.ms - b.rtc.ms) <= 1_100 and b.rtc.ms > first + 2_000


def test_a_collection_takes_of_the_sleep_and_makes_no_tick_longer_or_later(board, monkeypatch):
    """On the emulated RP2040 it takes 23 ms with a controller of 84 kB on the heap, a tick at rest 10 ms."""
    taken, began = [], []

    def collect():
        board.takes(23)
        taken.append(23)

    def tick(real=board.app.tick):
        began.append(board.now)
        return real()

    board.takes = SlowBoard.takes.__get__(board)
    monkeypatch.setattr(app_module, "gc", SimpleNamespace(collect=collect))
    monkeypatch.setattr(board.app, "tick", tick)
    board.app.worst_ms = 0
    board.run(60)
    assert len(taken) > 2 and board.app.worst_ms == 0
    assert {after - before for before, after in pairwise(began)} == {1_000}


@pytest.mark.parametrize("which", ["bad", "data_bad"])
def test_a_board_that_finds_a_file_harmed_does_not_tell_that_it_holds_what_was_installed(board, which):
    """An install then looks at all its files, and mends them."""
    board.app.loader = SimpleNamespace(holds=77, why=str)
    assert board.app.service.do_hello({})["holds"] == 77
    setattr(board.app.checks.files, which, 2)
    assert "holds" not in board.app.service.do_hello({})
