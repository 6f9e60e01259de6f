"""A small share of the fuzz in every run, and flash that fails at each step: old or new, never a mix.

Units: lines, bytes, steps of the flash.
"""

import struct

import pytest
from sunhob_board.core import settings as settings_reader
from sunhob_board.core.place import ON_SUN, Place
from sunhob_board.declared.interlocks import INDEX
from sunhob_sim.bench import Bench
from sunhob_sim.board_host import BoardReset
from sunhob_sim.flash_store import FlashStore, PowerCut
from sunhob_sim.scenario import parse

from . import fuzz_link
from .clock_chip import Chip
from .fuzz_link import Lines, framed, fuzz_cpython, fuzz_micropython, is_valid

NIGHT = 'name = "night"\nstart = 2026-03-12T20:00:00Z\nhours = 1\n'


def test_what_the_fuzz_takes_for_valid_is_the_published_check_value():
    """CRC-32 of "123456789" is 0xCBF43926 (CRC RevEng catalogue, CRC-32/ISO-HDLC; from memory)."""
    assert framed(b"123456789") == b"123456789 #CBF43926\n"
    assert is_valid(b"123456789 #CBF43926") and not is_valid(b"123456789 #CBF43927")


def test_the_lines_are_of_every_kind_and_come_again_from_their_seed():
    one, other = Lines(3), Lines(3)
    drawn = [one.draw() for _ in range(500)]
    assert drawn == [other.draw() for _ in range(500)]
    good = sum(is_valid(line[:-1]) for line in drawn)
    assert 100 < good < 400 and len(set(drawn)) < len(drawn)


def test_no_line_breaks_or_moves_the_firmware():
    got = fuzz_cpython(2000, 7)
    assert got["valid"] > 150 and got["unchanged"] > 30 and got["bad_lines"] > 500 and got["faults"] == 0
    assert got["heap_grown_bytes"] < 4096


def test_no_line_breaks_or_fills_real_micropython():
    got = fuzz_micropython(320, 7)
    assert got["resets"] == 0 and got["answers"] == 1 and got["armed"] == 0 and got["bad_replies"] == 0
    assert got["heap_grown_bytes"] <= 1024


def test_a_line_that_leaves_something_behind_is_seen(monkeypatch):
    batch = fuzz_link.Fuzz.batch

    def leaky(fuzz):
        batch(fuzz)
        fuzz.app.kept = [*getattr(fuzz.app, "kept", []), bytes(64)]

    monkeypatch.setattr(fuzz_link.Fuzz, "batch", leaky)
    assert fuzz_cpython(1600, 7)["heap_grown_bytes"] > 4096


def test_the_run_tells_count_rate_and_time_left(capsys):
    with fuzz_link.Told("lines", 400) as told:
        told.begun_s -= 2.0
        told.last_s -= 60.0
        told(100)
        told(200)  # too soon after the last
        told(400)
    first, last = capsys.readouterr().err.splitlines()
    assert first.startswith("lines: 100 of 400, 5") and first.endswith(" s left")
    assert last.startswith("lines: 400 of 400, ") and last.endswith(" 0 s left")


# --- flash --------------------------------------------------------------------------------------------------


def night(style):
    bench = Bench(parse(NIGHT), "cpython")
    bench.board.flash_store.in_place = style == "in_place"
    bench.engine.boot()
    for _ in range(100):
        bench.engine.cycle()
    return bench


def north(bench):
    return bench.engine.app.daily.deg


def save_north(bench, deg):
    app = bench.engine.app
    return app.daily.take(deg, app.clock.day, app.clock.ms)


def journal(bench):
    return bench.engine.app.journal.total


def save_journal(bench, more):
    app = bench.engine.app
    for _ in range(more):
        app.journal.add(12, 1, 2, app.clock.day, app.clock.ms)
    return app.journal.save(app.slots)


def season(bench):
    kept = bench.engine.app.slots.load("season")
    return int(kept) if kept else 0


def save_season(bench, udeg):
    """The body core/season.py writes, on a board that has no such mount."""
    return bench.engine.app.slots.save("season", str(udeg).encode())


@pytest.mark.parametrize("style", ["littlefs", "in_place"])
def test_power_cut_at_every_step_of_every_save_leaves_old_or_new(style):
    bench = night(style)
    store = bench.board.flash_store
    assert save_north(bench, 1.5) and save_journal(bench, 3) and save_season(bench, -20_100_000)
    kept = dict(store.files)
    for save, value, read in ((save_north, 2.5, lambda: north(bench)),
                              (save_season, 12_300_000, lambda: season(bench)),
                              (save_journal, 5, lambda: stored_total(store))):
        cuts, done, cut = 0, False, 0
        while not done:
            store.files.clear()
            store.files.update(kept)
            bench.engine.boot()
            old = read()
            store.cut_at = store.steps + cut
            try:
                done = save(bench, value)
            except (PowerCut, BoardReset):
                cuts += 1
            store.cut_at = None
            new = journal(bench) if save is save_journal else value
            bench.engine.boot()
            after = read()
            assert after == new if done else after in (old, new), (save, cut)
            assert old != new and bench.engine.app.trouble == ""
            cut += 1
        assert cuts >= 2


def stored_total(store):
    """Records in the newest good journal slot."""
    got = [body for body in (slot(store.files.get(f"/data/journal.{end}")) for end in "ab") if body]
    newest = max(got, key=lambda one: one[0])
    return struct.unpack("<I", newest[1][:4])[0]


def slot(raw):
    """(sequence, body) of a whole slot file, by zlib's CRC-32."""
    import zlib

    if raw is None or len(raw) < 8:
        return None
    told, sequence, length = struct.unpack("<IHH", raw[:8])
    good = zlib.crc32(raw[4:]) == told and len(raw) == 8 + length
    return (sequence, raw[8:]) if good else None


def test_a_bit_of_any_byte_of_the_settings_is_refused_or_the_older_slot_counts():
    bench = night("littlefs")
    good = bench.board.flash_store.files["/data/settings.a"]
    loaded = bench.engine.app.slots
    for older in (None, good):
        if older is not None:
            bench.board.flash_store.files["/data/settings.b"] = older
        for at in range(len(good)):
            for bit in (0, 5):
                raw = bytearray(good)
                raw[at] ^= 1 << bit
                bench.board.flash_store.files["/data/settings.a"] = bytes(raw)
                body = loaded.load("settings")
                assert body == (None if older is None else slot(older)[1])
        if older is not None:
            settings_reader.load(bytes(body))


@pytest.mark.parametrize("at", [0, 5, 7, 300, -1])
def test_a_board_with_spoilt_slots_starts_and_says_so(at):
    bench = night("littlefs")
    save_north(bench, 3.0)
    save_journal(bench, 2)
    for path in list(bench.board.flash_store.files):
        raw = bytearray(bench.board.flash_store.files[path])
        if path.startswith("/data/") and raw:
            raw[min(at, len(raw) - 1)] ^= 0x10
            bench.board.flash_store.files[path] = bytes(raw)
    bench.engine.boot()
    for _ in range(50):
        bench.engine.cycle()
    app = bench.engine.app
    assert app.trouble and app.controller is None and app.locks.is_tripped(INDEX["settings"])


@pytest.mark.parametrize("style", ["littlefs", "in_place"])
def test_a_full_flash_keeps_what_was_there_and_the_loop_goes_on(style):
    bench = night(style)
    store = bench.board.flash_store
    assert save_north(bench, 1.5) and save_journal(bench, 3)
    total = stored_total(store)
    store.full = True
    assert not save_north(bench, 2.5) and not save_journal(bench, 4)
    for _ in range(700):
        bench.engine.cycle()
    bench.engine.boot()
    assert north(bench) == 1.5 and stored_total(store) == total
    store.full = False
    assert save_north(bench, 2.5) and bench.engine.app.trouble == ""


def test_a_place_written_in_part_is_the_old_one_or_none():
    """The clock chip takes a record byte by byte; the power may go after any."""
    chip = Chip()
    place = Place(chip)
    place.write(1_000_000, -2_000_000, ON_SUN)
    old = bytes(chip.ram)
    place.write(359_999_999, 40_000_000, 0)
    new = bytes(chip.ram)
    for count in range(13):
        chip.ram[:] = new[:count] + old[count:]
        got = Place(chip).read()
        assert got in (None, (1_000_000, -2_000_000, ON_SUN), (359_999_999, 40_000_000, 0))
        assert got != (1_000_000, -2_000_000, 0)


def test_a_flash_store_cut_once_works_again():
    store = FlashStore(style="in_place")
    store.cut_at = 0
    with pytest.raises(PowerCut):
        store.call("open", "/x", b"")
    store.call("open", "/x", b"")
    assert store.files == {"/x": b""}
