"""Parts of the virtual board by themselves: step queue, clock chip, flash, install errors. Units: us, s."""

import subprocess
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob.errors import UserError
from sunhob_sim import wasm_home
from sunhob_sim.board_host import BoardReset, VirtualBoard
from sunhob_sim.devices.ds3232 import DS3232
from sunhob_sim.engine import make_engine
from sunhob_sim.flash_store import FlashStore, PowerCut
from sunhob_sim.pio_queue import OVERHEAD_US, PioQueue, pack_word, unpack_word

from tests.bench_plant import BarePlant

WORDS = st.builds(
    pack_word, st.booleans(), st.integers(1, 2048), st.integers(0, 2000).map(lambda d: 2 * d + 5)
)


@given(st.booleans(), st.integers(1, 2048), st.integers(0, 0x3FFFF))
def test_word_is_a_small_int_and_comes_apart_again(forward, steps, delay):
    word = pack_word(forward, steps, 2 * delay + 5)
    assert 0 <= word < 1 << 30
    assert unpack_word(word) == (1 if forward else -1, steps, 2 * delay + 5)


@given(st.lists(WORDS, max_size=8), st.lists(st.integers(0, 3_000_000), max_size=6))
def test_queue_gives_every_step_once_whatever_the_looks(words, looks):
    queue = PioQueue()
    for word in words:
        queue.put(word, 0)
    parts = [unpack_word(word) for word in words]
    end = sum(OVERHEAD_US + steps * period for _, steps, period in parts)
    assert queue.ends_us(0) == (end or None)
    for look in sorted(looks):
        assert 0 <= queue.level(look) <= 8
        assert abs(queue.steps_done(look)) <= sum(steps for _, steps, _ in parts)
    after = max([end, *looks])
    assert queue.steps_done(after) == sum(sign * steps for sign, steps, _ in parts)
    assert queue.rate(after) == 0 and queue.level(after) == 0


def test_queue_runs_at_the_period_and_starves_into_a_stop():
    queue = PioQueue()
    queue.put(pack_word(True, 10, 1005), 0)
    assert [queue.steps_done(t) for t in (0, 6, 7, 1011, 1012, 10_057)] == [0, 0, 1, 1, 2, 10]
    assert queue.steps_done(9_000_000) == 10


def test_queue_clear_keeps_what_was_given():
    queue = PioQueue()
    for _ in range(3):
        queue.put(pack_word(False, 100, 1005), 0)
    queue.clear(50_000)
    assert queue.steps_done(50_000) == -50 and queue.steps_done(10**9) == -50


def test_queue_paused_keeps_its_place():
    queue = PioQueue()
    queue.put(pack_word(True, 100, 1005), 0)
    queue.set_active(False, 50_000)
    assert queue.steps_done(10**7) == 50 and queue.rate(10**7) == 0
    queue.set_active(True, 10**7)
    assert queue.steps_done(10**7 + 60_000) == 100


def test_queue_beyond_the_depth_is_counted():
    queue = PioQueue(active=False)
    for _ in range(9):
        queue.put(pack_word(True, 1, 5), 0)
    assert queue.level(0) == 8 and queue.overruns == 1


def _seconds(*date):
    return (datetime(*date, tzinfo=UTC) - datetime(2000, 1, 1, tzinfo=UTC)).total_seconds()


def test_chip_tells_bcd_time_and_carries_over_a_leap_day():
    chip = DS3232(_seconds(2028, 2, 28, 23, 59, 58))
    assert chip.read(0, 7, 0).hex() == "58592301280228"
    assert chip.read(0, 7, 2_000_000).hex() == "00000002290228"
    assert chip.read(6, 2, 0)[0] == 0x28


def test_chip_is_set_and_counts_from_there():
    chip = DS3232(0)
    assert chip.write(0, bytes.fromhex("30151203091126"), 700_000)
    assert chip.seconds(1_700_000) == _seconds(2026, 11, 9, 12, 15, 31)


def test_chip_drifts_by_its_ppm():
    assert DS3232(0, drift_ppm=2).seconds(10**12) == pytest.approx(1e6 + 2)


def test_chip_after_a_lost_battery_says_so_until_cleared():
    chip = DS3232(_seconds(2026, 6, 1))
    chip.write(0x14, b"kept", 0)
    assert chip.read(0x14, 4, 0) == b"kept" and not chip.read(0x0F, 1, 0)[0] & 0x80
    chip.lose_battery(5_000_000)
    assert chip.read(0x14, 4, 0) == bytes(4) and chip.read(0x0F, 1, 0)[0] & 0x80
    chip.write(0x0F, b"\x00", 0)
    assert not chip.read(0x0F, 1, 0)[0] & 0x80
    chip.write(0x0F, b"\x80", 0)
    assert not chip.read(0x0F, 1, 0)[0] & 0x80


def test_chip_silent_or_frozen():
    chip = DS3232(100)
    chip.freeze(5_000_000)
    assert chip.seconds(9_000_000) == 105
    chip.silent = True
    assert chip.read(0, 7, 0) is None and not chip.write(0, b"\x00", 0)


def test_flash_in_place_leaves_a_torn_file_and_littlefs_the_old_one():
    for style, left in (("littlefs", b"old"), ("in_place", b"half")):
        store = FlashStore({"/data/a": b"old"}, style)
        store.call("open", "/data/a", b"")
        store.call("write", "/data/a", b"half")
        store.cut_at = store.steps
        with pytest.raises(PowerCut):
            store.call("write", "/data/a", b"halfwhole")
        assert store.files["/data/a"] == left


def test_watchdog_bites_at_its_time_and_the_board_stays_dead_until_power_on():
    board = VirtualBoard(BarePlant())
    with pytest.raises(BoardReset):
        board.exchange(3_000_000, [7, 1000, 0])
    assert board.now_us == 1_000_000
    with pytest.raises(BoardReset):
        board.exchange(0, [0, 15, 1])
    assert 15 not in board.plant.out
    board.power_on()
    board.exchange(3_000_000, [])
    assert board.now_us == 4_000_000


def test_power_on_lets_go_of_pins_and_steps():
    plant = BarePlant()
    board = VirtualBoard(plant)
    board.exchange(1000, [0, 6, 1, 3, 0, 1, 1, 0, pack_word(True, 100, 1005)])
    board.power_on()
    assert plant.out[6] == 0 and plant.words[-1] == (0, None)
    assert board.queues[0].rate(board.now_us) == 0


def test_uart_bytes_wait_for_their_time():
    board = VirtualBoard(BarePlant())
    board.uart_send(b"a", at_us=500)
    board.uart_send(b"b", at_us=2000)
    assert board.exchange(1000, [])[7] == [(0, b"a")] and board.now_us == 500
    assert board.exchange(1000, [])[7] is None
    assert board.exchange(1000, [])[7] == [(0, b"b")]


def test_offline_install_is_one_line_with_the_way_out(monkeypatch, tmp_path):
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path))

    def no_net(command, **how):
        return subprocess.CompletedProcess(command, 1, "", "npm error network\nnpm error ENOTFOUND")

    monkeypatch.setattr(wasm_home, "_find_node", lambda: tmp_path / "node")
    monkeypatch.setattr(wasm_home, "_npm", lambda node: ["npm"])
    monkeypatch.setattr(wasm_home.subprocess, "run", no_net)
    with pytest.raises(UserError, match="--engine cpython") as caught:
        wasm_home.ensure()
    assert "\n" not in str(caught.value) and caught.value.exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_a_node_that_is_told_but_not_there(monkeypatch, tmp_path):
    monkeypatch.setenv("SUNHOB_NODE", str(tmp_path / "none"))
    with pytest.raises(UserError, match="SUNHOB_NODE"):
        wasm_home.ensure()


def test_unknown_engine_is_refused():
    with pytest.raises(UserError, match="use one of them"):
        make_engine("pypy", VirtualBoard(BarePlant()))


def test_engine_without_node_fails_cleanly(monkeypatch, tmp_path):
    monkeypatch.setenv("SUNHOB_NODE", str(tmp_path / "none"))
    with pytest.raises(UserError, match="SUNHOB_NODE"):
        make_engine("micropython", VirtualBoard(BarePlant()))
