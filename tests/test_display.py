"""The small display: its driver on a model of its registers, and what the cook reads on its page.

Units: bytes, ms, minutes. Registers and addressing from the data sheet (Solomon Systech SSD1306 rev 1.1,
sections 8.7, 9, 10.1). Site and cook are invented.
"""

import os
import subprocess
import sys
from datetime import UTC, datetime

import numpy as np
import pytest
from sunhob import display_words
from sunhob.errors import UserError
from sunhob.sun_truth import sun_enu
from sunhob_board.core import panel as keys
from sunhob_board.core import settings as settings_reader
from sunhob_board.core.page import words_head
from sunhob_board.declared import interlocks, modes
from sunhob_sim import framebuf_stand_in, scenario, wasm_home
from sunhob_sim.bench import Bench
from sunhob_sim.devices.ssd1306 import SSD1306
from sunhob_sim.display_text import rows_of

from .fake_board import FakeBoard
from .test_controller import MORNING, cooking, parked

LETTERS = "".join(map(chr, range(32, 127)))


class Bus:
    """The board's bus with the display alone on it."""

    def __init__(self, chip):
        self.chip, self.us = chip, 0

    def writeto_mem(self, address, reg, data):
        if address != 0x3C or not self.chip.write(reg, bytes(data), self.us):
            raise OSError(5)


@pytest.fixture
def oled(monkeypatch):
    monkeypatch.setitem(sys.modules, "framebuf", framebuf_stand_in)
    from sunhob_board.drivers.oled_ssd1306 import Oled

    return Oled(Bus(SSD1306()))


def read(oled):
    return rows_of(oled.i2c.chip.picture())


# --- the chip ---------------------------------------------------------------------------------------------


def test_the_chip_is_addressed_page_by_page_and_wraps_in_its_column():
    chip = SSD1306()
    chip.write(0x00, bytes((0xB3, 0x0E, 0x17)), 0)  # page 3, column 0x7E
    chip.write(0x40, b"\x01\x02\x03", 0)
    assert list(chip.ram[3, [126, 127, 0]]) == [1, 2, 3]  # section 10.1.3: back to the first, same page


def test_the_chip_goes_on_to_the_next_page_when_addressed_across():
    chip = SSD1306()
    chip.write(0x00, bytes((0x20, 0x00, 0x21, 126, 127, 0x22, 6, 7)), 0)
    chip.write(0x40, b"\x01\x02\x03\x04\x05", 0)
    assert [int(chip.ram[p, c]) for p, c in ((6, 127), (7, 126), (7, 127), (6, 126))] == [2, 3, 4, 5]


@pytest.mark.parametrize(("commands", "at"), [
    (b"\xa1\xc8", (0, 0)), (b"\xa0\xc8", (0, 127)), (b"\xa1\xc0", (63, 0)), (b"\xa1\xc8\x7f", (1, 0)),
])
def test_the_chip_turns_its_picture_as_told_and_is_dark_until_it_is_on(commands, at):
    chip = SSD1306()
    chip.ram[:] = 0
    chip.ram[0, 0] = 1
    chip.write(0x00, commands, 0)
    assert not chip.picture().any()
    chip.write(0x00, b"\xaf", 0)
    assert not chip.picture().any()  # its charge pump is off
    chip.write(0x00, b"\x8d\x14", 0)
    assert [tuple(one) for one in np.argwhere(chip.picture())] == [at]
    chip.write(0x00, b"\xa7", 0)
    assert chip.picture().sum() == 64 * 128 - 1


# --- the driver -------------------------------------------------------------------------------------------


def test_what_is_written_is_read_back_and_nothing_of_what_the_memory_held(oled):
    assert oled.start() and not oled.i2c.chip.picture().any()
    rows = [LETTERS[k : k + 16] for k in range(0, 96, 16)] + ["", "Pot 98 / 121 C"]
    for k, text in enumerate(rows):
        assert oled.write(k, text)
    assert oled.light() and read(oled) == [row.rstrip() for row in rows]


def test_a_row_costs_no_more_on_the_bus_than_said(oled):
    oled.start()
    before = len(oled.i2c.chip.transfers)
    oled.write(2, "x" * 40)
    sent = sum(size + 1 for _, size in oled.i2c.chip.transfers[before:])  # with the address
    assert sent * 9 / 400 <= 3.5  # ms at 400 kHz, nine bits a byte


def test_a_silent_display_is_told_and_set_up_anew(oled):
    oled.i2c.chip.silent = True
    assert not oled.start() and not oled.ready
    oled.i2c.chip.silent = False
    assert oled.start()
    oled.i2c.chip.silent = True
    assert not oled.write(0, "x") and not oled.ready


def test_the_letters_on_cpython_are_those_of_micropython():
    try:
        node, build = wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))
    script = """
const {loadMicroPython} = await import(process.env.BUILD + '/micropython.mjs');
const mp = await loadMicroPython({stdout: console.log});
mp.runPython(`
import binascii, framebuf
b = bytearray(24 * 10)
f = framebuf.FrameBuffer(b, 10, 24, framebuf.MONO_VLSB)
for i in range(32, 128):
    f.fill(0)
    f.text(chr(i) + 'g', -1, 5)
    print(binascii.hexlify(b).decode())
`);"""
    got = subprocess.run([str(node), "--input-type=module", "-e", script], capture_output=True, text=True,
                         env={**os.environ, "BUILD": str(build)}, check=True).stdout.split()
    buffer = bytearray(24 * 10)
    frame = framebuf_stand_in.FrameBuffer(buffer, 10, 24, framebuf_stand_in.MONO_VLSB)
    for i in range(32, 128):
        frame.fill(0)
        frame.text(chr(i) + "g", -1, 5)
        assert buffer.hex() == got[i - 32], chr(i)


# --- the words --------------------------------------------------------------------------------------------


def test_every_mode_and_interlock_has_words_that_fit():
    assert set(display_words.INTERLOCKS) == {row[0] for row in interlocks.ROWS}
    assert set(display_words.MODES) == set(modes.NAMES)
    assert all(len(words) <= 16 for words in display_words.MODES.values())
    data = display_words.words_file()
    assert len(data) == 32 * (2 + len(modes.NAMES) + len(interlocks.ROWS))
    told = [data[k : k + 32].decode("ascii") for k in range(0, len(data), 32)]
    assert all(" ".join(t.split()) for t in told)
    assert len(set(told)) == len(told), "two say the same"
    with pytest.raises(ValueError, match="does not fit"):
        display_words.record("something that is much too long to fit there")


# --- the page ---------------------------------------------------------------------------------------------


class PageBoard(FakeBoard):
    """A board with a display on its bus."""

    def __init__(self, folder, when):
        super().__init__(folder, when)
        from sunhob_board.drivers.oled_ssd1306 import Oled

        self.display = Oled(Bus(SSD1306()))
        (folder / display_words.NAME).write_bytes(display_words.words_file())

    def idle(self, ms):
        super().idle(ms)
        self.display.i2c.us += max(1, ms) * 1000


@pytest.fixture
def board(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "framebuf", framebuf_stand_in)
    load = settings_reader.load

    def fitted(data):
        s = load(data)
        s.cook_display = True
        return s

    monkeypatch.setattr("sunhob_board.core.app.load", fitted)
    return parked(tmp_path, MORNING, board=PageBoard)


def page(b, seconds=5.0):
    b.run(seconds)
    return read(b.display)


def test_the_page_tells_a_meal_from_parked_to_left(board):
    rows = page(board)
    assert rows[0] == "Parked" and rows[2] == "Pot 25 / 25 C" and rows[3].startswith("Beam ")
    cooking(board, 70)
    rows = page(board)
    assert rows[0] == "Cooking" and rows[4] in ("Confirm in 58min", "Confirm in 59min")
    assert rows[5:7] == ["", ""]
    assert rows[1].startswith("Ask 70% has ")
    assert abs(int(rows[1].split()[-1].rstrip("%")) - 70) <= 2
    board.press(keys.LEAVE)
    rows = page(board, 2.0)
    assert rows[:2] == ["Leaving the sun", "KEEP CLEAR"] and rows[5:7] == ["You sent it off", "the sun"]
    board.run(120, lambda: board.app.controller.mode == modes.PARKED)
    rows = page(board)
    assert rows[0] == "Parked" and rows[5:7] == ["You sent it off", "the sun"] and rows[4] == ""


def test_the_page_tells_why_it_left_after_the_reason_is_over(board):
    cooking(board)
    board.app.controller.attend_ms = 1_000
    board.run(150, lambda: board.app.controller.mode == modes.PARKED)
    assert page(board)[5:7] == ["Nobody there:", "press CONFIRM"]
    board.press(keys.ARM)
    assert page(board, 3.0)[4].startswith("ARMED") or page(board)[0] == "Coming to sun"


def test_several_reasons_take_turns_on_the_page(board):
    for name in ("supply_low", "light_stuck"):
        row = interlocks.INDEX[name]
        board.app.locks.trip_ms[row] = 0
        put = board.app.watch.around.judge

        def judge(extras, panel, put=put, row=row):
            put(extras, panel)
            board.app.locks.put(row)

        board.app.watch.around.judge = judge
    seen = {page(board, 1.0)[5] for _ in range(12)}
    assert {"Battery low:", "Light sensor"} <= seen


def test_no_tick_writes_more_than_one_row(board):
    chip = board.display.i2c.chip
    cooking(board)
    board.run(30)
    by_tick: dict[int, list[int]] = {}
    for at, size in chip.transfers:
        by_tick.setdefault(at, []).append(size)
    assert max(sum(sizes) for sizes in by_tick.values()) <= 129 + 4
    assert len(by_tick) > 20


def test_a_display_that_falls_silent_hinders_nothing_and_comes_back_whole(board):
    cooking(board)
    board.display.i2c.chip.silent = True
    board.run(30)
    assert board.app.controller.mode == modes.COOKING
    board.display.i2c.chip.reset()
    board.display.i2c.chip.ram[:] = 0xAA
    board.display.i2c.chip.silent = False
    rows = page(board, 12.0)
    assert rows[0] == "Cooking" and "?" not in "".join(rows)


def test_without_its_file_of_words_the_page_shows_the_names(tmp_path, board):
    for data in (b"", b"sunhob 1 2".ljust(3200)):
        (tmp_path / display_words.NAME).write_bytes(data)
        board.boot()
        board.mask &= ~keys.POT
        rows = page(board)
        assert rows[0] == modes.NAMES[board.app.controller.mode] and rows[5] == "pot absent"
    assert words_head() == f"sunhob {len(modes.NAMES)} {len(interlocks.ROWS)}"


@pytest.mark.parametrize("hour", [4, 7, 11])
def test_the_time_to_the_low_sun_is_the_suns_own(board, hour):
    """Against SPA, minute by minute: when the sun sinks to the elevation at which the dish leaves."""
    app = board.app
    when = datetime(2026, 3, 1, hour, tzinfo=UTC)
    app.sun.update((when - datetime(2000, 1, 1, tzinfo=UTC)).days, hour * 3_600_000)
    t = when.timestamp() + 60.0 * np.arange(720)
    up = sun_enu(t, 24.6, 73.7, 600.0)[:, 2]
    low = np.flatnonzero(up < np.sin(np.radians(app.s.interlock_sun_low_deg)))[0]
    assert app.page._low_in_min() == pytest.approx(float(low), abs=2.5)


# --- on the bench -----------------------------------------------------------------------------------------


def short_day(engine, fitted=True):
    one = scenario.load("display")
    chosen = one.settings if fitted else {}
    bench = Bench(one.model_copy(update={"hours": 0.2, "settings": chosen}), engine)
    bench.run()
    bench.close()
    return bench


def test_both_interpreters_draw_the_same_page_and_it_changes_no_event():
    try:
        wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))
    one, other = short_day("cpython"), short_day("micropython")
    assert np.array_equal(one.display.picture(), other.display.picture())
    rows = rows_of(one.display.picture())
    assert rows[0] == "Cooking" and "?" not in "".join(rows)
    plain = short_day("cpython", False)
    assert plain.display is None
    assert "sunhob_board.core.page" not in plain.engine.modules
    told = [[(e["name"], e["a"], e["b"]) for e in b.uplink.events] for b in (one, other, plain)]
    assert told[0] == told[1] == told[2]
