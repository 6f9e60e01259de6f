"""The real firmware on both interpreters, one scenario: every output and step word the same. Units: us.

On CPython run the sources, on MicroPython the files that the installer puts onto a board for this cooker.
"""

import pytest
from sunhob.errors import UserError
from sunhob.firmware_build import board_files
from sunhob_sim import engine_micropython, scenario, wasm_home
from sunhob_sim.bench import Bench
from sunhob_sim.bench_figures import finish


def _story(engine_name):
    """[(us, what)] of all the board put out, and the exchanges it took."""
    bench = Bench(scenario.load("short"), engine_name)
    plant, story = bench.board.plant, []
    outputs, motion = plant.outputs, plant.motion

    def keep_outputs(changes):
        story.append((bench.board.now_us, dict(changes)))
        outputs(changes)

    def keep_motion(sm, words):
        story.append((bench.board.now_us, sm, words))
        motion(sm, words)

    plant.outputs, plant.motion = keep_outputs, keep_motion
    bench.run()
    events = finish(bench).events_sha256
    bench.close()
    assert bench.engine.resets == []
    return story, bench.board.exchanges, events


def test_both_interpreters_drive_the_dish_alike(monkeypatch):
    try:
        wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))
    flashed = board_files("pico", scenario.cooker_of(scenario.load("short")))
    assert len(flashed) < len(board_files("pico"))
    monkeypatch.setattr(engine_micropython, "package_mpy", lambda folder, kind: flashed)
    one, two = _story("cpython"), _story("micropython")
    assert len(one[0]) > 100
    assert one == two
