"""Axes that count pulses: triangle, counting, days on the bench. Units: degrees, mm, ms."""

import importlib
import math
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from sunhob_board.mount.pulse_scale import Gear, Triangle
from sunhob_sim import pins, scenario
from sunhob_sim.bench import Bench
from sunhob_sim.bench_figures import finish
from sunhob_sim.plant import Plant
from sunhob_sim.plant_axis import AxisData
from sunhob_sim.plant_motor import MotorAxis, MotorData
from sunhob_sim.sky import Site, Sky
from sunhob_sim.truth import build

from .single_float import Board as SingleBoard

FOUND = Path(__file__).parent / "data" / "found"
COUNTS_PER_M = 2000.0  # 1 mm pulses, both edges


@pytest.mark.parametrize(("angle", "length_m", "mm_per_deg"), [
    # the law of cosines, a = 0.5 m, b = 0.4 m: worked by hand
    (30, 0.252170, 6.921), (60, 0.458258, 6.597), (90, 0.640312, 5.452), (100, 0.692430, 4.965),
])
def test_triangle_is_the_law_of_cosines(angle, length_m, mm_per_deg):
    one = Triangle(0.5, 0.4, 0.0, 60.0, COUNTS_PER_M)
    at_60_m = math.sqrt(0.5**2 + 0.4**2 - 0.4 * 0.5)
    assert one.counts(angle * 1e6) / COUNTS_PER_M == pytest.approx(length_m - at_60_m, abs=1e-6)
    slope = (one.counts(angle * 1e6 + 1e4) - one.counts(angle * 1e6 - 1e4)) / 0.02
    assert slope * 1000 / COUNTS_PER_M == pytest.approx(mm_per_deg, abs=2e-3)


SCALES = st.one_of(
    st.builds(lambda t, m: Triangle(0.45, 0.35, t, m, COUNTS_PER_M),
              st.sampled_from([57.0, 90.0, -90.0, 200.0]), st.just(0.0)),
    st.builds(Gear, st.sampled_from([144.0, 14400.0, 400000.0])),
)


@hypothesis_settings(deadline=None)
@given(SCALES, st.integers(-80_000_000, 80_000_000), st.integers(1, 40_000_000))
def test_counts_rise_with_the_reading_and_go_back(scale, udeg, more):
    here = scale.counts(udeg)
    assert scale.counts(udeg + more) > here
    assert abs(scale.counts(scale.udeg(here)) - here) < 0.02


def test_a_single_float_loses_a_small_part_of_a_count():
    rough = SingleBoard().module("sunhob_board.mount.pulse_scale")
    exact = Triangle(0.45, 0.35, 57.0, 32.0, COUNTS_PER_M)
    single = rough.Triangle(0.45, 0.35, 57.0, 32.0, COUNTS_PER_M)
    for udeg in range(-28_000_000, 93_000_000, 1_700_003):
        assert abs(single.counts(udeg) - exact.counts(udeg)) < 0.02
        assert abs(single.udeg(exact.counts(udeg)) - udeg) < 3000


class Line:
    """Stands for machine.Pin."""

    IN, OUT, PULL_UP, IRQ_FALLING, IRQ_RISING = 0, 1, 1, 4, 8
    levels: ClassVar[dict[int, int]] = {}

    def __init__(self, n, *_, value=None):
        self.n = n
        if value is not None:
            self.levels[n] = value

    def value(self, x=None):
        if x is not None:
            self.levels[self.n] = x
        return self.levels.get(self.n, 1)

class Pwm:
    """Stands for machine.PWM."""

    def __init__(self, pin, freq, duty_u16):
        self.duty = duty_u16

    def duty_u16(self, value):
        self.duty = value


@pytest.fixture
def bridge():
    """drivers/bridge_pulse.py on pins and a clock of plain Python: (make, set levels at a time)."""
    clock = SimpleNamespace(now=0)
    Line.levels = {}
    fakes = {"machine": SimpleNamespace(Pin=Line, PWM=Pwm, disable_irq=int, enable_irq=bool),
             "time": SimpleNamespace(ticks_ms=lambda: clock.now, ticks_diff=lambda a, b: a - b)}
    name = "sunhob_board.drivers.bridge_pulse"
    kept = {key: sys.modules.pop(key, None) for key in (*fakes, name)}
    sys.modules.update(fakes)
    try:
        module = importlib.import_module(name)
    finally:
        for key, one in kept.items():
            sys.modules.pop(key, None)
            if one is not None:
                sys.modules[key] = one

    def see(drive, ms, *levels):
        clock.now = ms
        for line, level in zip(drive._lines, levels, strict=True):
            Line.levels[line.n] = level
        drive._edge(None)

    return lambda lines: module.BridgePulse(2, 3, list(range(10, 10 + lines)), False, lambda *_: None), see


def test_one_line_counts_the_way_it_is_driven_and_stops_at_its_end(bridge):
    make, see = bridge
    drive = make(1)
    drive.go(1, 3)
    drive.power(1000, 3)
    for k, ms in enumerate((20, 40, 60)):
        assert drive._pwm.duty == 65535 and not drive.off
        see(drive, ms, k % 2)
    assert drive.count == 3 and drive.off and drive._pwm.duty == 0
    see(drive, 80, 1)  # it runs on
    assert drive.count == 4
    drive.stands()
    drive.go(-1, -9)
    see(drive, 200, 0)
    assert drive.count == 3


def test_bounce_within_3_ms_is_one_edge(bridge):
    make, see = bridge
    drive = make(1)
    drive.go(1, 100)
    for ms, level in ((50, 0), (51, 1), (52, 0), (90, 1), (91, 0), (92, 1)):
        see(drive, ms, level)
    assert drive.count == 2


def test_a_line_that_flickers_at_rest_stays_where_it_is(bridge):
    make, see = bridge
    drive = make(1)
    drive.go(1, 100)
    see(drive, 50, 0)
    drive.stop()
    drive.stands()
    for ms in (500, 600, 700, 800):
        see(drive, ms, 1 if ms in (500, 700) else 0)
    assert drive.count == 1 and drive.strays == 4


def test_two_lines_tell_the_way_themselves(bridge):
    make, see = bridge
    drive = make(2)
    up = [(0, 1), (0, 0), (1, 0), (1, 1)]
    drive.go(1, 1000)
    for k, levels in enumerate(up * 2):
        see(drive, k, *levels)
    assert drive.count == 8
    for k, levels in enumerate(up[-2::-1]):
        see(drive, 100 + k, *levels)
    assert drive.count == 5


def motor(channels=1, kind="actuator", **changes):
    data = AxisData(-28.0, 93.0, 88.0, 288000, 3.0, 3.0, 0.0, False, False)
    for name, value in changes.items():
        setattr(data, name, value)
    return MotorAxis(data, MotorData(kind, 1.0, channels, 0.45, 0.35, 57.0), 20.0, 1)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("duty", [0.3, 1.0])
def test_the_bench_motor_gives_every_edge_of_its_way(channels, duty):
    one = motor(channels)
    one.powered = True
    start, one.duty, edges, was = one.q, duty, 0, one.levels()
    for _ in range(4000):
        due = one.next_edge_s()
        one.turn(0, True, min(0.05, due + 2e-6 if due is not None else 0.05))
        if one.levels() != was and not one._bounces:
            edges, was = edges + 1, one.levels()
        if one.at_s > 4.0:
            break
    assert abs(edges - abs(one.q - start) * 2 * channels) <= 1.0
    assert one.speed == pytest.approx(one.full * (duty - 0.15) / 0.85, rel=1e-3)


def test_the_bench_motor_runs_out_and_a_weak_supply_slows_it():
    fast, weak = motor(), motor()
    weak.volts = 0.8
    for one in (fast, weak):
        one.duty = 1.0
        one.turn(0, True, 2.0)
    assert weak.speed < 0.8 * fast.speed
    at = fast.q
    fast.turn(0, False, 2.0)
    assert fast.speed == 0.0 and 1.0 < fast.q - at < fast.full * 0.12


@pytest.mark.parametrize("drift_deg_s", [0.5, -0.5])
def test_a_bridge_that_leaks_turns_its_motor_by_all_its_pulses(drift_deg_s):
    """And driven after that it goes on from where it stands."""
    axis = motor()
    axis.drift_deg_s = drift_deg_s
    pulses, edges, level = axis._pulses(axis.motor_deg), 0, axis.levels()[0]
    for _ in range(20_000):
        axis.turn(0, True, 1e-3)
        if axis.levels()[0] != level and not axis._bounces:
            level, edges = axis.levels()[0], edges + 1
    at = axis.motor_deg
    assert abs(at - 20.0 - 20.0 * drift_deg_s) < 2.5  # so fast in the middle of its travel
    assert abs(edges - 2.0 * abs(axis._pulses(at) - pulses)) <= 2.0
    axis.duty = 1.0
    axis.turn(0, True, 0.1)
    assert abs(axis.motor_deg - at) < 1.0


def test_no_power_no_motion():
    plant = Plant({"axis1.drive": "actuator", "axis1.low_deg": 115.0, "axis1.high_deg": 245.0,
                   "axis1.home_deg": 178.0, "axis1.triangle_deg": -90.0},
                  Sky(Site(24.6, 73.7, 600.0), 1_765_000_000, 7200), start_deg=(180.0, 40.0))
    plant.outputs({pins.STEP[0]: 65535, pins.DIR[0]: 1})
    plant.advance(1_000_000)
    assert plant.axes_deg[0] == pytest.approx(180.0)
    plant.outputs({pins.MOTOR_ENABLE: 1})
    plant.advance(2_000_000)
    assert plant.axes_deg[0] > 181.0


def day(name, hours, engine="cpython", **air):
    """A shipped day, cut to so many hours."""
    one = scenario.load(name)
    ends = one.model_copy(update={
        "hours": hours, "air": one.air.model_copy(update=air),
        "action": tuple(a for a in one.action if one.offset_s(a.at) <= hours * 3600.0)})
    bench = Bench(ends, engine)
    bench.run()
    bench.close()
    return bench


@pytest.mark.parametrize(("name", "p95_deg"), [
    ("short", 0.05), ("polar_seasonal", 0.1), ("two_actuators", 0.2),
])
def test_mounts_follow_within_their_figure(name, p95_deg):
    hours = {"short": 0.75}.get(name, 1.8)
    result = finish(day(name, hours))
    assert result.tracking["seconds"] > 1000
    assert result.tracking["p95_deg"] <= p95_deg
    assert result.hazards == [] and result.stranded == []


@pytest.mark.parametrize(("name", "p95_deg"), [
    ("short", 0.2), ("polar_seasonal", 0.25), ("two_actuators", 0.2),
])
def test_mounts_in_wind_float_no_more_than_their_play(name, p95_deg):
    """In 4 m/s with gusts of 8 the axes float in their play of 0.1 to 0.2 deg beside the calm figure."""
    result = finish(day(name, {"short": 0.5}.get(name, 1.1), wind_m_s=4.0, gust_m_s=8.0))
    assert result.tracking["seconds"] > 500
    assert result.tracking["p95_deg"] <= p95_deg
    assert result.hazards == [] and result.stranded == []


def test_a_jammed_actuator_is_told_and_the_other_axis_leaves_alone():
    one = scenario.load("two_actuators")
    bench = Bench(one.model_copy(update={"hours": 1.3, "action": one.action[:3]}), "cpython")
    bench.engine.boot()
    while bench.board.now_us < 4500e6:
        bench.engine.cycle()
        bench.plant.axes[0].dead = bench.board.now_us > 4000e6
    names = [(e["name"], e["detail"]) for e in bench.uplink.events]
    away = build(bench.plant).separation_deg[-1]
    clear = bench.cooker.dish.loose_clear_deg
    sounds = bench.plant.levels[pins.BUZZER]
    bench.close()
    assert any(name == "trip" and "did not turn" in words for name, words in names)
    assert any(name == "dead_axis" for name, _ in names)
    assert away > clear and not sounds, "it stands clear of the sun: nothing to sound for"


def test_the_axis_with_little_way_keeps_to_its_share_of_a_leave():
    """198 deg of axis 1 beside 8 of axis 2, which was led 0.7 deg on in its first 3 s and back again then:
    ahead of the sun. It goes no slower than a tenth of its speed, and may come that much sooner."""
    text = (FOUND / "settings_corrupt_2401482.toml").read_text(encoding="utf-8")
    bench = Bench(scenario.parse(text, "found"), "cpython")
    bench.engine.boot()
    while bench.board.now_us < 320e6:
        bench.engine.cycle()
    true = build(bench.plant)
    bench.close()
    at_s = np.arange(266.0, 286.0, 0.5)
    two = np.interp(at_s, true.t_s, true.axes_deg[:, 1])
    gone, since_s = two[0] - two, at_s - at_s[0]
    assert gone[-1] > 4.0, "it leaves"
    assert np.all(gone < 0.25 + 0.3 * since_s), gone
    assert np.all(np.diff(gone)[8:] > 0.02), "once it turns it goes on"


def test_a_drive_that_needs_more_voltage_is_not_taken_for_one_without_pulses():
    one = scenario.load("two_actuators")
    bench = Bench(one.model_copy(update={"hours": 0.95, "action": one.action[:3]}), "cpython")
    bench.engine.boot()
    while bench.board.now_us < 3400e6:
        bench.engine.cycle()
        bench.plant.axes[0].gain = 0.65 if bench.board.now_us > 2600e6 else 1.0
    told = [e["name"] for e in bench.uplink.events if e["t_s"] > 2600.0]
    true = build(bench.plant)
    bench.close()
    assert "trip" not in told and "mode" not in told
    off = true.separation_deg[true.t_s > 2700.0]
    assert off.max() < 0.35, "it goes on after the sun"


@pytest.mark.parametrize("name", ["polar_seasonal", "two_actuators"])
def test_both_interpreters_tell_the_same_of_pulses(name):
    from sunhob.errors import UserError
    from sunhob_sim import wasm_home

    try:
        wasm_home.ensure()
    except UserError as err:
        pytest.skip(str(err))
    told = []
    for engine in ("cpython", "micropython"):
        told.append([(e["t_s"], e["name"], e["a"], e["b"]) for e in day(name, 0.71, engine).uplink.events])
    assert told[0] == told[1] and told[0][-1][1] == "settled"
