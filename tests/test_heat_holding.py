"""A pot temperature held by the controller: rests off the heat, returns, and what ends them.

Units: milli-degC for readings, seconds. The site, its cook and the pot are invented.
"""

import numpy as np
import pytest
from sunhob_board.core import panel as keys
from sunhob_board.declared import modes
from sunhob_board.drivers.thermocouple_max31855 import OPEN
from sunhob_sim import scenario
from sunhob_sim.bench import Bench
from sunhob_sim.bench_figures import finish

from .test_controller import board as board
from .test_controller import cooking, lag_deg


def read(b, celsius):
    """Both probes read this from now on."""
    b.contents.mc = b.underside.mc = int(celsius * 1000)


def holding(b, celsius=85):
    read(b, 60)
    cooking(b)
    assert "result" in b.ask("heat", pot_c=celsius)
    b.app.controller.dial.regulator.spacing_ms = 5_000  # the motors need no rest here
    b.run(10)
    assert mode(b) == modes.COOKING
    return b


def mode(b):
    return b.app.controller.mode


def resting(b):
    holding(b)
    read(b, 90)
    b.run(400, lambda: mode(b) == modes.RESTING)
    b.run(60, lambda: not b.app.controller.busy)
    assert mode(b) == modes.RESTING and not b.app.controller.busy
    return b


def test_too_warm_it_rests_and_comes_back_by_itself_after_a_long_warning(board):
    resting(board)
    assert lag_deg(board) > 66
    assert not board.out & 4, "the lamp for hands stays dark: it comes back by itself"
    assert board.ask("status")["result"]["mode"] == "RESTING"
    read(board, 80)
    board.run(300, lambda: mode(board) == modes.COOKING)
    assert mode(board) == modes.COOKING
    warned = [e for e in board.events if e[0] == "warn" and e[1] == modes.COMING]
    assert warned[-1][2] == 2 * warned[0][2]


@pytest.mark.parametrize("key", [keys.LEAVE, keys.ASIDE])
def test_after_leave_or_aside_it_does_not_come_back(board, key):
    resting(board)
    board.press(key)
    board.run(60)
    read(board, 60)
    before = [d.steps for d in board.pair]
    board.run(60)
    assert mode(board) == (modes.PARKED if key == keys.LEAVE else modes.ASIDE)
    assert [d.steps for d in board.pair] == before
    assert bool(board.out & 4) == (key == keys.ASIDE)


def test_a_pot_lifted_during_a_rest_makes_it_stay_aside(board):
    resting(board)
    board.mask &= ~keys.POT
    board.run(5)
    assert mode(board) == modes.ASIDE
    board.mask |= keys.POT
    read(board, 60)
    board.run(60)
    assert mode(board) == modes.ASIDE
    board.press(keys.ASIDE)
    board.run(200, lambda: mode(board) == modes.COOKING)
    assert mode(board) == modes.COOKING


def test_a_broken_probe_keeps_it_off_and_an_absent_cook_ends_it(board):
    resting(board)
    board.underside.fault = OPEN
    board.run(10)
    read(board, 60)
    board.run(80)
    assert mode(board) == modes.RESTING
    board.app.controller.attend_ms = 5_000
    board.run(60)
    assert mode(board) == modes.PARKED
    board.underside.fault = 0
    board.run(30)
    assert mode(board) == modes.PARKED


def test_the_stop_chain_ends_it(board):
    resting(board)
    board.mask &= ~keys.CHAIN
    board.run(2)
    board.mask |= keys.CHAIN
    read(board, 60)
    board.run(30)
    assert mode(board) == modes.LOCKED


def test_above_boiling_is_refused_and_the_knob_takes_the_heat_back(board):
    resting(board)
    told = board.ask("heat", pot_c=99)["error"]["message"]
    assert "boils at 98.0 degC here" in told and "30.0 to 97.0" in told
    assert board.ask("status")["result"]["heat_asked"] == 85
    board.knob.value = 70 * 65535 // 100
    board.run(200, lambda: mode(board) == modes.COOKING)
    assert mode(board) == modes.COOKING and board.app.controller.heat_permille == 700


def test_scorching_food_is_turned_down_and_a_pot_gone_makes_it_leave(board):
    cooking(board)
    board.contents.mc, board.underside.mc = 90_000, 160_000
    board.run(60)
    c = board.app.controller
    assert c.dial.permille == 1000 and c.heat_permille == c.dial.least
    board.underside.mc = 100_000
    board.run(130)
    assert c.heat_permille == 1000
    board.mask &= ~keys.POT
    board.run(60, lambda: mode(board) == modes.PARKED)
    assert mode(board) == modes.PARKED
    board.mask |= keys.POT
    board.press(keys.ARM)
    board.run(30)
    assert mode(board) == modes.PARKED, "a pot gone from the light is a fault that a person must clear"


def test_four_kilograms_are_held_on_the_bench():
    bench = Bench(scenario.load("hold").model_copy(update={"hours": 1.6}), "cpython")
    bench.run()
    got = finish(bench)
    bench.close()
    assert got.hazards == []
    food = got.trace.contents_c
    first = int(np.argmax(food >= 83.0))
    assert first > 0 and food[first:].max() <= 88.0
    assert np.mean(np.abs(food[first:] - 85.0) <= 2.0) >= 0.95
    moves = np.array([e["t_s"] for e in got.events if e["name"] == "mode"
                      and e["b"] in (modes.RESTING, modes.COOKING)])
    assert max(np.sum((moves >= t) & (moves < t + 3600.0)) for t in moves) <= bench.cooker.heat.moves_per_hour
