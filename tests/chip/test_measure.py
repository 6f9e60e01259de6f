"""What is measured on a chip, tried without one: on real MicroPython with a console, from what is installed.

Units: bytes, deg. Its floats are double, so the sun comes out better than on a chip.
"""

from sunhob.board.image import KINDS, all_files
from sunhob.board.install import Install
from sunhob.board.reach import take_console
from sunhob.settings import load_cooker
from sunhob_sim.console_board import ConsoleBoard

from . import measure


def test_the_sun_and_the_heap_are_measured_from_what_the_installer_put_there(tmp_path):
    cooker = load_cooker()
    board = ConsoleBoard(tmp_path)
    try:
        files = all_files(KINDS["pico"], cooker)
        done = Install("desk", board.open).run(lambda kind: files)
        repl = take_console("desk", board.open)
        measure.free_console(repl)
        folder = f"/{done['folder']}"
        off_deg = measure.sun_worst_deg(repl, folder, measure.sun_cases(count=16))
        assert 0.0 < off_deg < 0.0005
        live, free, collection_ms = measure.heap(repl, folder, KINDS["pico"], cooker)
        assert 10_000 < live < 120_000 and free > 0 and 0.0 <= collection_ms < 1000.0
        repl.reset()
        flash = board.flash()
        held = {path[len(folder) + 1:]: body for path, body in flash.items() if path.startswith(folder + "/")}
        assert {name: held[name] for name in files} == files, "the chip runs what `board install` sends"
        assert set(held) - set(files) == {"files.json"}
    finally:
        board.off()
