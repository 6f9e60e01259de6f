"""Installing on a board of real MicroPython: swap, going back, cuts, refusals. Units: bytes, s."""

import json
import subprocess
import sys
from types import SimpleNamespace

import pytest
from sunhob.board import image, reach
from sunhob.board import install as installer
from sunhob.board.image import KINDS, all_files, code_files, crc, listing, loader_text
from sunhob.board.install import Install, plan
from sunhob.board.package import write_package
from sunhob.board.pins import board_table, pin_faults
from sunhob.errors import Judged, LinkError, UserError
from sunhob.firmware_build import bundled
from sunhob.settings import load_cooker
from sunhob_board import loader
from sunhob_sim.console_board import ConsoleBoard

# a controller in one file that speaks the link's hello and nothing else, so that a cut is soon tried
TINY = {
    "sunhob_board/__init__.py": b"",
    "sunhob_board/main.py": b"""
import sys, json, select
from binascii import crc32
class No: pass
def run(folder, loader):
    if MARK == 'bad':
        raise ValueError('it was made badly')
    loader.proven()
    p = select.poll()
    p.register(sys.stdin, select.POLLIN)
    line = b''
    while True:
        if not p.poll(1000):
            continue
        c = sys.stdin.buffer.read(1)
        line = line + c if c != b'\\n' else b''
        if line[-10:-8] == b' #':
            body = line[:line.rfind(b' #')]
            if line[-8:] == ('%08X' % crc32(body)).encode():
                m = json.loads(body)
                r = {'folder': folder, 'proven': True, 'why': loader.why(), 'mark': MARK, 'firmware': '0'}
                out = json.dumps({'jsonrpc': '2.0', 'id': m['id'], 'result': r}).encode()
                sys.stdout.buffer.write(out + (' #%08X\\n' % crc32(out)).encode())
                if m['method'] == 'console':
                    loader.console()
                    return
""",
}


def tiny(mark):
    """Files of the small controller; `mark` tells one from another."""
    return {**TINY, "sunhob_board/main.py": f"MARK = {mark!r}\n".encode() + TINY["sunhob_board/main.py"]}


@pytest.fixture
def board(tmp_path):
    made = ConsoleBoard(tmp_path)
    yield made
    made.off()


def put(board, files):
    return Install("desk", board.open).run(lambda kind: files)


def told(board):
    """What the controller that runs there says of itself."""
    with installer.Dish("desk", wire=board.open()) as dish:
        return dish.hello(6.0)


def test_the_whole_firmware_runs_from_what_was_installed_and_a_second_time_nothing_is_sent(board):
    cooker = load_cooker()

    def make(kind):
        return all_files(kind, cooker)

    first = Install("desk", board.open).run(make)
    assert first["hello"]["proven"] and first["hello"]["trouble"] == "" and first["hello"]["board"] == "pico"
    assert first["sent"] == first["files"] - 1
    starts = board.starts
    second = Install("desk", board.open).run(make)
    assert (second["sent"], second["copied"], second["bytes_sent"], second["tried"]) == (0, 0, 0, False)
    assert set(second) == set(first) and board.starts == starts, "what runs is asked, and not stopped"
    assert {key: second[key] for key in ("board", "folder", "files", "micropython")} == {
        key: first[key] for key in ("board", "folder", "files", "micropython")}
    with installer.Dish("desk", wire=board.open()) as dish:
        board.write(b"\x03\x03\x04")  # a stray Ctrl-C and Ctrl-D stop nothing
        status = dish.call("status")
        assert status["trouble"] == "" and "code_unlisted" not in status["tripped"]
    flash = board.flash()
    assert flash["/sunhob.now"] == b"a good -\n" and flash["/main.py"] == loader_text()


def test_only_what_changed_is_sent_and_the_rest_is_copied_on_the_board(board):
    put(board, tiny("one"))
    got = put(board, tiny("two"))
    assert (got["sent"], got["copied"], got["folder"]) == (1, 1, "b") and got["hello"]["mark"] == "two"
    got = put(board, tiny("one"))
    assert (got["sent"], got["copied"], got["kept"], got["folder"]) == (0, 0, 2, "a")


def test_a_controller_that_fails_makes_way_for_the_one_before(board):
    put(board, tiny("one"))
    with pytest.raises(Judged, match=r"did not run well \(b: ValueError it was made badly\); the one before"):
        put(board, tiny("bad"))
    assert told(board)["mark"] == "one"
    assert board.flash()["/sunhob.now"] == b"a back b\n"


def test_the_power_going_amid_an_install_leaves_a_controller_that_runs(board, monkeypatch):
    put(board, tiny("one"))
    start = board.lines
    put(board, tiny("two"))
    writes = board.lines - start
    monkeypatch.setattr(reach, "BACK_S", 0.2)
    monkeypatch.setattr(installer, "_PROVEN_S", 4.0)
    kept = board.flash()
    seen = set()
    for at in (writes // 3, writes - 4):  # every single step: test_install_cuts.py
        board.put_flash(kept)
        board.cut_at = board.lines + at
        try:
            put(board, tiny("one!"))
        except LinkError as error:
            assert "\n" not in str(error)
        board.plug()
        seen.add(told(board)["mark"])
        board.cut_power()
    assert seen <= {"two", "one!"}
    assert put(board, tiny("one!"))["hello"]["mark"] == "one!"


@pytest.mark.parametrize(("made", "flash", "words"), [
    ({"version": (1, 20, 0, "")}, {}, r"runs micropython 1\.20\.0 .*; put MicroPython 1\.24"),
    ({"machine": "Another board with XYZ99"}, {}, r"its chip is XYZ99 .*; use a board with one of RP2040"),
    ({"machine": "Raspberry Pi Pico2 with RP2350"}, {}, r"--board pico: the board on this port is a pico2"),
    ({"blocks": 3}, {}, r"full: \d+ kB are needed, \d+ kB are free"),
    ({}, {"/main.py": b"print('another')\n"}, r"/main\.py \(17 bytes\) is another program"),
])
def test_what_will_not_do_is_told_and_nothing_is_touched(tmp_path, monkeypatch, made, flash, words):
    monkeypatch.setattr(reach, "HEARD_S", 0.2)  # no controller runs there
    board = ConsoleBoard(tmp_path, **made)
    board.put_flash(flash)
    with pytest.raises(UserError, match=words) as caught:
        Install("desk", board.open).run(lambda kind: tiny("one"), "pico")
    assert "\n" not in str(caught.value)
    assert board.flash() == flash


@pytest.mark.parametrize(("made", "spoilt", "words"), [
    ({"version": (1, 20, 0, "")}, {}, r"board: it runs micropython 1\.20\.0 .*; put MicroPython 1\.24"),
    ({"blocks": 12}, {}, r"board: full: \d+ kB are needed, \d+ kB are free; remove files of others"),
    ({"blocks": 50}, {"/of_others.bin": bytes(150_000)}, r"board: full: \d+ kB are needed, \d+ kB are free"),
], ids=["old MicroPython", "small flash", "flash filled by others"])
def test_a_refused_install_leaves_the_controller_that_runs_there(tmp_path, made, spoilt, words):
    board = ConsoleBoard(tmp_path)
    put(board, tiny("one"))
    before = {**board.flash(), **spoilt}
    board.put_flash(before)
    board = ConsoleBoard(tmp_path, **made)  # the same flash, with another interpreter or less room
    try:
        assert told(board)["mark"] == "one"
        large = {**tiny("two"), "sun.tab": bytes(30_000)}
        with pytest.raises(UserError, match=words) as caught:
            put(board, large)
        assert "\n" not in str(caught.value)
        assert told(board)["mark"] == "one", "the old one starts again by itself"
        assert board.flash() == before, "and nothing of the new one was left there"
    finally:
        board.off()


def test_a_package_is_read_back_as_the_package_manager_does_and_its_board_runs(board, tmp_path):
    # "Package management" of MicroPython's documentation: urls are [path below the target, path or address
    # beside package.json], installed in their order; deps are further packages
    out = tmp_path / "package"
    command = write_package(out, KINDS["pico"], tiny("packed"), "1.2.3")
    listed = json.loads((out / "package.json").read_text())
    assert listed["deps"] == [] and listed["version"] == "1.2.3" and "--target=/a" in command
    assert command.startswith("mpremote connect PORT mkdir :data + mip install ")
    assert listed["urls"][-1][0] == "files.json", "without its list a folder counts for nothing"
    flash = {"/main.py": (out / "main.py").read_bytes()}
    for target, source in listed["urls"]:
        flash[f"/a/{target}"] = (out / source).read_bytes()
    board.put_flash(flash)
    assert told(board)["mark"] == "packed"
    got = put(board, tiny("newer"))
    assert got["hello"]["mark"] == "newer" and got["copied"] == 1, "and the installer goes on from there"
    write_package(out, KINDS["pico"], tiny("again"), "1.2.4")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    with pytest.raises(UserError, match="is not an empty folder nor a package; give another"):
        write_package(tmp_path / "mine", KINDS["pico"], {}, "1")


def test_a_folder_of_another_kind_of_board_fails_aloud_and_an_install_mends_it(board, monkeypatch):
    # as after a package for the wrong kind: the code lacks this board's file, and nothing was there before
    wrong = {**tiny("x"), "sunhob_board/main.py": b"from sunhob_board.boards import pico\n"}
    board.put_flash({"/main.py": loader_text(), **{f"/a/{name}": body for name, body in wrong.items()},
                     "/a/files.json": listing(wrong, KINDS["pico2"])})
    monkeypatch.setattr(reach, "HEARD_S", 0.3)
    board.run_for(1.5)
    got = put(board, tiny("right"))
    assert got["hello"]["mark"] == "right" and got["folder"] == "b"
    assert b"sunhob_board.boards" in board.flash()["/sunhob.why"]


def test_a_port_where_nothing_answers_is_told(monkeypatch):
    class Silent:
        in_waiting = 0

        def read(self, size=1):
            return b""

        def write(self, data):
            return len(data)

        def close(self):
            pass

    monkeypatch.setattr(reach, "HEARD_S", 0.05)
    monkeypatch.setattr(installer.RawRepl.enter, "__defaults__", (0.05,))
    with pytest.raises(LinkError, match="neither a controller nor a MicroPython console answers"):
        Install("desk", lambda url: Silent()).run(lambda kind: {})


def test_a_plan_keeps_copies_sends_and_removes():
    wanted = {"same": b"s", "moved": b"m", "new": b"n"}
    mark = {name: [1, crc(body)] for name, body in wanted.items()}
    steps = plan(wanted, {"same": mark["same"], "old": [1, 1]}, {"moved": mark["moved"], "new": [1, 0]})
    assert (steps.kept, steps.copy, steps.send, steps.remove) == (["same"], ["moved"], ["new"], ["old"])


@pytest.mark.parametrize("name", KINDS)
def test_a_board_gets_what_its_imports_reach_and_its_pins_pass(name):
    inside = {one for got in bundled(name).modules.values() for one in got}
    shared = {"boards/common", "boards/pick"} | ({"boards/rp2"} if name.startswith("pico") else set())
    assert {one for one in inside if one.startswith("boards/")} == {*shared, f"boards/{name}"}
    assert len(code_files(KINDS[name], load_cooker())) < len(code_files(KINDS[name])) < 20
    assert pin_faults(name) == []


@pytest.mark.parametrize(("change", "words"), [
    ({"step1": 3}, "carries step1 already"), ({"buzzer": 25}, "not on the edge"),
    ({"adc_knob": 2}, "cannot be the converter; take one of 26, 27, 28"), ({"spi_sck": 2}, "SPI 1 SCK"),
])
def test_pins_that_clash_or_cannot_are_refused(change, words):
    assert any(words in fault for fault in pin_faults("pico", {**board_table("pico"), **change}))


def test_an_unchanged_board_takes_few_pieces_and_none_of_them_a_wait(board, monkeypatch):
    put(board, tiny("one"))
    sent = board.lines
    pieces = []
    run = installer.RawRepl.run
    monkeypatch.setattr(installer.RawRepl, "run",
                        lambda repl, code, timeout_s=20.0: pieces.append(code) or run(repl, code, timeout_s))
    got = put(board, tiny("one"))
    assert (got["tried"], got["sent"]) == (False, 0)
    assert len(pieces) == 2, "what the board is with what it runs, then both folders by CRC"
    assert board.lines - sent < 40


def test_what_cannot_be_made_is_told_before_the_controller_is_stopped(board, monkeypatch):
    put(board, tiny("one"))
    starts = board.starts
    hello = installer.Dish.hello
    monkeypatch.setattr(installer.Dish, "hello",
                        lambda dish, wait_s=4.0: {**hello(dish, wait_s), "board": "pico"})

    def make(kind):
        raise UserError("it will not do")

    with pytest.raises(UserError, match="it will not do"):
        Install("desk", board.open).run(make)
    with pytest.raises(UserError, match="--board esp32: the board on this port is a pico"):
        Install("desk", board.open).run(make, "esp32")
    assert told(board)["mark"] == "one" and board.starts == starts


@pytest.mark.parametrize(("said", "wanted", "wait_ms"), [
    (b"sunhob-console", True, 300), (b"xsunhob-console", True, 300), (b"", False, 300),
    (b'\n{"method": "hello"} #0000\n', False, 20), (b"x\nsunhob-console", True, 20),
    (b"." * 5000, False, None),
])
def test_whoever_chatters_to_a_board_that_starts_does_not_keep_its_controller_waiting(
        monkeypatch, said, wanted, wait_ms):
    line, waits = list(said), []
    port = SimpleNamespace(poll=lambda ms: waits.append(ms) or line[:1], register=lambda *told: None)
    stdin = SimpleNamespace(buffer=SimpleNamespace(read=lambda count: bytes([line.pop(0)])))
    monkeypatch.setitem(sys.modules, "select", SimpleNamespace(poll=lambda: port, POLLIN=1))
    monkeypatch.setattr(loader, "sys", SimpleNamespace(stdin=stdin))
    assert loader.asked() is wanted
    assert waits[-1] == wait_ms if wait_ms else len(waits) == 500


def test_a_sun_table_that_is_kept_is_the_same_and_a_harmed_one_is_made_anew(monkeypatch, tmp_path):
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path))
    made = image._sun_table(2026)
    (file,) = (tmp_path / "sun").iterdir()
    assert file.read_bytes() == made == image.sun_table.build_table(image.date(2026, 1, 1), 20)
    file.write_bytes(made[:-1] + bytes([made[-1] ^ 1]))
    assert image._sun_table(2026) == made == file.read_bytes()
    monkeypatch.setattr(image.sun_table, "build_table", None)  # kept: it is not asked
    assert image._sun_table(2026) == made
    monkeypatch.undo()
    monkeypatch.setenv("SUNHOB_CACHE", str(file))  # no place to keep anything
    assert image._sun_table(2026) == made


def test_a_board_command_loads_nothing_that_takes_a_second():
    told = "import sunhob.cli_board, sys; print({'scipy', 'pandas', 'matplotlib'} & {*sys.modules})"
    assert subprocess.run([sys.executable, "-c", told], capture_output=True, text=True).stdout == "set()\n"
