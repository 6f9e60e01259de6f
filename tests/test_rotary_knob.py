"""The rotary heat knob: its driver at the level of edges, and a meal cooked by it on both boards.

Units: us, detents of 2 percent. Quadrature: A leads B by a quarter, one edge at a time (Gray code).
"""

import json
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sunhob import cli
from sunhob.board.image import KINDS
from sunhob.board.pins import spared
from sunhob.cooker_rules import KNOB_LINES, MOST_PULSE_LINES, broken_rules
from sunhob.link import encode
from sunhob.settings import load_cooker
from sunhob_board.declared import interlocks
from sunhob_sim.bench import BOARDS, Bench, run_scenario
from sunhob_sim.board_host import VirtualBoard
from sunhob_sim.engine import firmware_dir
from sunhob_sim.engine_cpython import Loader
from sunhob_sim.scenario import parse

from .bench_plant import BarePlant

A, B = 9, 28
DETENT = ((0, 1), (0, 0), (1, 0), (1, 1))  # of A and B, turned up: from open to open


class Rig:
    """The driver on the stand-in modules; edges are put on its lines at their times."""

    def __init__(self):
        self.plant = BarePlant()
        self.plant.levels = {A: 1, B: 1}
        self.board = VirtualBoard(self.plant)
        loader = Loader(firmware_dir("sunhob_board"), [])
        self.wire = loader.load("wire")
        self.wire.start(self.board, 1, self.board.machine)
        self.knob = loader.load("sunhob_board.drivers.rotary_knob").RotaryKnob(A, B)
        self.wire.exchange(0)

    def put(self, levels, every_us=3_000):
        """(A, B) one after the other."""
        at = self.board.now_us
        for a, b in levels:
            at += every_us
            self.plant.edges += [(at, A, a), (at, B, b)]
        self.wire.sleep_us(at + every_us - self.board.now_us)

    def percent(self):
        return round(self.knob.read_u16() * 100 / 65535)


def turned(detents):
    up = detents > 0
    one = DETENT if up else (*DETENT[-2::-1], DETENT[-1])
    return list(one) * abs(detents)


def bouncing(levels, flips):
    """Each edge comes with so many returns to the level before."""
    out, before = [], (1, 1)
    for after in levels:
        out += [after, before] * flips + [after]
        before = after
    return out


def test_it_begins_at_nothing_and_stays_within_its_ends():
    rig = Rig()
    assert rig.percent() == 0
    rig.put(turned(-5))
    assert rig.percent() == 0
    rig.put(turned(3))
    assert rig.percent() == 6, "what was turned below nothing is not owed"
    rig.put(turned(80), 500)
    assert rig.percent() == 100
    rig.put(turned(-1))
    assert rig.percent() == 98


@hypothesis_settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(-6, 6).filter(bool), min_size=1, max_size=6), st.integers(0, 3))
def test_detents_are_counted_through_bounce(turns, flips):
    rig = Rig()
    at = 0
    for detents in turns:
        rig.put(bouncing(turned(detents), flips), 400)
        at = max(0, min(50, at + detents))
        assert rig.percent() == 2 * at


def test_an_edge_that_is_missed_is_made_good_in_the_next_detent():
    rig = Rig()
    rig.put(turned(5))
    rig.put([(0, 1), (1, 0), (1, 1)])  # the one between went by unheard
    assert rig.percent() in (10, 12)
    rig.put(turned(2))
    assert rig.percent() in (14, 16)


def test_a_single_line_that_flickers_makes_no_heat():
    rig = Rig()
    rig.put(turned(10))
    rig.put([(0, 1), (1, 1)] * 60)
    assert rig.percent() == 20


def test_lines_that_flicker_faster_than_a_hand_are_not_heard_for_a_while_and_not_believed():
    rig = Rig()
    heard = []
    edge = rig.knob._edge

    def counted(line):
        heard.append(rig.board.now_us)
        edge(line)

    rig.knob._hear(counted)
    rig.put([(0, 1), (0, 0), (1, 0), (1, 1)] * 500, 100)
    assert len(heard) == 400, "bounded between two looks"
    looks = [rig.knob.read_u16() for _ in range(21)]
    assert looks[:20] == [-1] * 20 and looks[20] >= 0
    before = rig.percent()
    rig.put(turned(-2))
    assert rig.percent() == before - 4, "and is heard again"


# --- on the bench ---------------------------------------------------------------------------------------


def scenario(board, rotary=True, more=""):
    text = resources.files("sunhob_sim").joinpath("scenarios/short.toml").read_text()
    text = text.replace("hours = 0.75", "hours = 0.55").partition('[[action]]\nat = "05:35"')[0]
    fitted = f"[settings.cook]\nknob_rotary = {str(rotary).lower()}\n\n[settings.site]"
    return parse(f'board = "{board}"\n{text.replace("[settings.site]", fitted)}{more}')


def modes_of(run):
    return [(e["a"], e["b"]) for e in run.events if e["name"] == "mode"]


def test_a_meal_by_the_rotary_knob_is_the_one_by_the_potentiometer():
    plain = run_scenario(scenario("pico", False), "cpython")
    pico, esp32 = (run_scenario(scenario(board), "cpython") for board in BOARDS)
    same = run_scenario(scenario("esp32"), "micropython")
    assert same.events_sha256 == esp32.events_sha256 and same.firmware["resets"] == 0
    for run in (pico, esp32):
        assert run.hazards == [] and modes_of(run) == modes_of(plain)
        assert run.heat["delivered_j"] == pytest.approx(plain.heat["delivered_j"], rel=0.01)


def test_after_a_restart_it_asks_for_nothing_and_nothing_arms():
    bench = Bench(scenario("pico", more='\n[[fault]]\nname = "restart"\nat = "05:15"\n'), "cpython")
    try:
        bench.engine.boot()
        while bench.board.now_us < 16 * 60e6:
            bench.engine.cycle()
        app = bench.engine.app
        assert [e["t_s"] > 800 for e in bench.uplink.events if e["name"] == "boot"] == [False, True]
        assert app.panel.knob.percent == 0 and app.controller.armed_ms <= 0
        assert app.controller.dial.permille == 0
    finally:
        bench.close()


def test_heat_asked_over_the_link_moves_the_knob_along_and_a_detent_goes_on_from_there():
    bench = Bench(scenario("pico"), "cpython")
    try:
        bench.engine.boot()

        def until(minute):
            while bench.board.now_us < minute * 60e6:
                bench.engine.cycle()

        def ask(**params):
            bench.board.uart_send(encode({"jsonrpc": "2.0", "method": "heat", "params": params, "id": 7}))

        until(12)
        c = bench.engine.app.controller
        ask(watts=600)
        until(12.2)
        assert c.dial.asked == 600, "and the knob, put along, does not count as turned"
        ask(percent=60)
        until(12.4)
        bench.plant.rotary.turn(98.0)  # a detent down from where the hand left it
        until(12.6)
        assert (c.dial.kind, c.dial.asked) == (0, 58.0)
    finally:
        bench.close()


def test_wild_lines_trip_the_row_and_hold_the_least_heat():
    bench = Bench(scenario("pico"), "cpython")
    try:
        bench.engine.boot()
        while bench.board.now_us < 12 * 60e6:
            bench.engine.cycle()
        bench.plant.rotary.wild = True
        while bench.board.now_us < 12.2 * 60e6:
            bench.engine.cycle()
        c = bench.engine.app.controller
        assert bench.engine.app.locks.is_tripped(interlocks.INDEX["knob_noisy"])
        assert c.heat_permille <= c.dial.least
        assert bench.engine.app.worst_ms < 20
    finally:
        bench.close()


# --- pins -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("board", KINDS)
def test_every_board_spares_what_the_rules_count_on(board):
    assert len(spared(board)) == MOST_PULSE_LINES >= KNOB_LINES


def test_parts_that_exclude_each_other_are_told(capsys):
    cooker = load_cooker()
    flat = {f"{s}.{k}": v for s, part in cooker.as_dict().items() for k, v in part.items()}
    assert broken_rules({**flat, "cook.knob_rotary": True}) == []
    told = broken_rules({**flat, "cook.knob_rotary": True, "axis2.drive": "motor"})
    assert [key for key, words in told if "takes 2 of the 2 pins" in words] == ["cook.knob_rotary"]
    assert cli.run(["board", "check", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["spared"]["pico"] == {"lamp_armed": 9, "adc_knob": 28}
