"""The real firmware on both interpreters, one scenario: every output and step word the same. Units: us."""

import pytest
from sunhob.errors import UserError
from sunhob_sim import scenario, wasm_home
from sunhob_sim.bench import Bench


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
    bench.close()
    assert bench.engine.resets == []
    return story, bench.board.exchanges


def test_both_interpreters_drive_the_dish_alike():
    try:
        wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))
    one, two = _story("cpython"), _story("micropython")
    assert len(one[0]) > 100
    assert one == two
