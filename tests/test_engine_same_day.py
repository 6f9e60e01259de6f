"""The real firmware on both interpreters, one scenario: every output and step word the same. Units: us.

On CPython run the sources, on MicroPython the files that the installer puts onto a board for this cooker.
"""

import re
from pathlib import Path

import pytest
from sunhob.errors import UserError
from sunhob.firmware_build import board_files
from sunhob_sim import engine_pipe, engine_unix, scenario, wasm_home
from sunhob_sim.bench import Bench
from sunhob_sim.bench_figures import finish

FITTED = """[settings.sensor]
axis1_encoder = true
axis2_tilt = {lifts}
base_tilt = true
wind_hz_per_m_s = 4.0
supply_ratio = 6.0
spare_probes = 3
[settings.heat]
trim = true
[settings.probe]
contents = true
[settings.cook]
display = true
"""


def fitted(name):
    """A morning of a bundled day, with all that can hang on its board."""
    text = (Path(scenario.__file__).with_name("scenarios") / f"{name}.toml").read_text()
    head, *actions = re.sub(r"hours = \d+.0", "hours = 1.6", text).split("[[action]]\n")
    first = [one for one in actions if re.search(r'"0[234]:', one)]
    assert len(first) in (3, 6)
    fitted = FITTED.format(lifts=str(name == "two_actuators").lower())
    return scenario.parse("[[action]]\n".join([head + fitted, *first]), name)


def _story(engine_name, day):
    """[(us, what)] of all the board put out, and the exchanges it took."""
    bench = Bench(day, engine_name)
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


def _wasm():
    try:
        wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))


def _unix():
    if engine_unix.interpreter() is None:
        pytest.skip(f"no MicroPython of the unix port on this machine ({engine_unix.COMMAND} names one)")


ENGINES = {"micropython": _wasm, "unix": _unix}


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("name", ["short", "two_actuators", "season_by_hand"])
def test_both_interpreters_drive_the_dish_alike(monkeypatch, name, engine):
    ENGINES[engine]()
    day = scenario.load(name) if name == "short" else fitted(name)
    flashed = board_files("pico", scenario.cooker_of(day))
    assert len(flashed) < len(board_files("pico"))
    monkeypatch.setattr(engine_pipe, "package_mpy", lambda folder, kind: flashed)
    one, two = _story("cpython", day), _story(engine, day)
    assert len(one[0]) > 100
    assert one == two


def test_a_machine_without_the_unix_port_is_told_how_to_get_it(monkeypatch):
    monkeypatch.setenv(engine_unix.COMMAND, "/no/such/program")
    with pytest.raises(UserError, match=r"engine unix: .*/no/such/program.*SUNHOB_MICROPYTHON"):
        Bench(scenario.load("short"), "unix")
