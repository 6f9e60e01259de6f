"""The bench's board on both interpreters: the same probe firmware, the same answers. Units: us, ms."""

import json
from pathlib import Path

import pytest
from sunhob_sim.board_host import VirtualBoard
from sunhob_sim.devices.ds3232 import DS3232
from sunhob_sim.engine import FirmwareError, make_engine
from sunhob_sim.flash_store import PowerCut

from tests.bench_plant import BarePlant

PROBE = Path(__file__).parent / "data" / "probe_board"


class Rig:
    def __init__(self, name, first_ticks_ms=0):
        self.plant = BarePlant()
        self.said = b""
        self.rtc = DS3232(86400 * 9000 + 3661)
        self.board = VirtualBoard(
            self.plant, {0x68: self.rtc}, on_uart=self._hear, first_ticks_ms=first_ticks_ms
        )
        self.engine = make_engine(name, self.board, PROBE)
        self.engine.boot()

    def _hear(self, port, data):
        self.said += data

    def cycles(self, n):
        for _ in range(n):
            self.engine.cycle()

    def ask(self, word):
        self.cycles(1)
        self.said = b""
        self.board.uart_send(word.encode())
        self.cycles(3)
        return [json.loads(line) for line in self.said.splitlines()]


@pytest.fixture(params=["cpython", "micropython"])
def name(request):
    if request.param == "micropython":
        from sunhob.errors import UserError
        from sunhob_sim import wasm_home

        try:
            wasm_home.ensure()
        except UserError as err:
            pytest.skip(str(err))
    return request.param


@pytest.fixture
def rig(name):
    rig = Rig(name)
    yield rig
    rig.engine.close()


def test_boot_says_hello_and_loop_keeps_time(rig):
    rig.cycles(4)
    assert json.loads(rig.said.splitlines()[0]) == {"boot": 1, "up": 1, "part": 1, "t": 0}
    assert rig.board.now_us == 4 * 700_000
    assert rig.plant.out[15] == 0


def test_inputs_analog_and_bus(rig):
    ((button, loose, light, chip, fifo),) = rig.ask("look")
    assert (button, loose, light, fifo) == (1, 1, 1000, 0)
    assert chip[:3] == [0x01, 0x01, 0x01]
    assert rig.ask("missing") == [5]


def test_edge_wakes_the_loop(rig):
    rig.plant.edges = [(123_456, 2, 0)]
    rig.cycles(1)
    assert rig.board.now_us == 123_456


def test_rising_edge_is_not_asked_for_and_wakes_nothing(rig):
    rig.plant.levels[2] = 0
    rig.cycles(1)
    at = rig.board.now_us
    rig.plant.edges = [(at + 1000, 2, 1)]
    rig.cycles(1)
    assert rig.board.now_us == at + 700_000


def test_uart_wakes_the_loop_at_its_time(rig):
    rig.board.uart_send(b"look", at_us=50_000)
    rig.cycles(1)
    assert rig.board.now_us == 50_000


def test_words_reach_the_queue(rig):
    rig.ask("run")
    queue = rig.board.queues[0]
    assert queue.steps_done(rig.board.now_us) == 600
    assert [w for sm, w in rig.plant.words if w] == [[1 | (99 << 1) | (997 << 12)] * 6]


def test_flash_is_kept_over_a_power_cut(rig):
    assert rig.ask("keep") == [["kept"]]
    rig.engine.boot()
    assert rig.ask("read") == ["firstsecond"]
    assert rig.board.flash_store.closes == 1


def test_power_cut_inside_a_write_keeps_the_old_file(rig):
    rig.board.flash_store.files["/data/kept"] = b"old"
    rig.board.flash_store.cut_at = 1
    with pytest.raises(PowerCut):
        rig.ask("keep")
    rig.engine.boot()
    assert rig.ask("read") == ["old"]


def test_watchdog_restarts_a_hung_firmware(rig):
    rig.ask("hang")
    assert [cause for _, cause in rig.engine.resets] == [3]
    assert json.loads(rig.said.splitlines()[-1])["boot"] == 3
    assert rig.engine.resets[0][0] == 2_700_000


def test_loop_that_only_watches_the_clock_ends(rig):
    assert rig.ask("spin") == ["spun"]


def test_ticks_go_over_the_wrap(name):
    rig = Rig(name, first_ticks_ms=(1 << 30) - 1000)
    rig.cycles(4)
    ((ms, us),) = rig.ask("ticks")
    assert ms == 2500 and us == 2_500_000
    rig.engine.close()


def test_an_error_of_the_firmware_is_told_with_its_place(rig):
    with pytest.raises(FirmwareError, match="asked to fail"):
        rig.ask("fail")


def test_mpy_size(rig):
    assert 1000 < rig.engine.mpy_bytes() < 8000


def test_heap_does_not_grow_over_many_cycles(rig):
    rig.cycles(100)
    before = rig.engine.heap_bytes()
    rig.cycles(500)
    assert abs(rig.engine.heap_bytes() - before) < 64
    assert rig.engine.worst_cycle_ms > 0


def test_two_boards_share_nothing(name):
    one, two = Rig(name), Rig(name)
    one.cycles(1)
    two.cycles(3)
    assert json.loads(two.said.splitlines()[0])["up"] == 1
    assert (one.board.now_us, two.board.now_us) == (700_000, 2_100_000)
    for rig in (one, two):
        rig.engine.close()


def test_both_engines_tell_the_same_story():
    from sunhob.errors import UserError
    from sunhob_sim import wasm_home

    try:
        wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))
    stories = []
    for name in ("cpython", "micropython"):
        rig = Rig(name)
        story = [
            rig.ask(word) for word in ("look", "run", "look", "keep", "ticks", "spin", "missing", "hang")
        ]
        stories.append((story, rig.board.now_us, rig.board.exchanges, rig.plant.words, rig.engine.resets))
        rig.engine.close()
    assert stories[0] == stories[1]
