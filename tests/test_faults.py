"""The fault library of the bench: each does what its words say to the true plant, and goes away again."""

import math

import pytest
from sunhob.errors import UserError
from sunhob_sim import pins
from sunhob_sim.bench import Bench
from sunhob_sim.faults.library import BY_NAME, FAULTS, GROUPS
from sunhob_sim.faults.signal import FULL, Contact, Signal
from sunhob_sim.scenario import parse

DAY = """name = "faulty"
start = 2026-03-12T06:00:00Z
hours = 0.1
[[action]]
at = "06:00:02"
do = "clock"
"""


def bench_with(*names, at="06:01:00", minutes=2.0, severity=None):
    text = DAY
    for name in names:
        text += f'[[fault]]\nname = "{name}"\nat = "{at}"\nminutes = {minutes}\n'
        if severity is not None:
            text += f"severity = {severity}\n"
    return Bench(parse(text), "cpython")


def run_to(bench, seconds):
    if not bench.board.now_us:
        bench.engine.boot()
    while bench.board.now_us < seconds * 1e6:
        bench.engine.cycle()


def test_there_are_forty_kinds_and_more_with_plain_words_and_sane_severities():
    assert len(FAULTS) >= 40 and len(BY_NAME) == len(FAULTS)
    assert {"clock", "flash", "sensor", "drive", "switch", "controller", "supply", "surroundings",
            "link"} <= set(GROUPS)
    for fault in FAULTS:
        assert fault.words and fault.low <= fault.high and math.isfinite(fault.high)


@pytest.mark.parametrize("group", GROUPS)
def test_every_fault_begins_and_ends_without_breaking_the_bench(group):
    bench = Bench(parse(DAY), "cpython")
    run_to(bench, 20)
    from sunhob_sim.faults.tray import Planned, Tray

    rows = [fault for fault in FAULTS if fault.group == group]
    at = bench.plant.now_us / 1e6
    tray = Tray(bench, [Planned(fault, at + 2 * k, 1.0, fault.high) for k, fault in enumerate(rows)])
    bench.bridge.tray = bench.tray = tray
    run_to(bench, at + 2 * len(rows) + 2)
    begun = {one["do"] for one in tray.told}
    assert begun == {f"fault_{fault.name}" for fault in rows}
    assert bench.plant.signals == [None, None, None] and not bench.plant.contacts


def test_a_stalled_axis_stands_still_and_then_turns_again():
    bench = bench_with("axis1_stalled", minutes=1.0)
    run_to(bench, 70)
    assert bench.plant.axes[0].dead
    run_to(bench, 130)
    assert not bench.plant.axes[0].dead


def test_an_axis_that_runs_away_turns_with_power_and_only_then():
    bench = bench_with("axis2_runs_away", severity=0.5, minutes=3.0)
    run_to(bench, 60)
    axis, plant = bench.plant.axes[1], bench.plant
    before = axis.motor_deg
    plant.levels[pins.MOTOR_ENABLE] = 1
    plant.advance(plant.now_us + 10_000_000)
    assert axis.motor_deg == pytest.approx(before + 5.0, abs=0.2)
    plant.levels[pins.MOTOR_ENABLE] = 0
    plant.advance(plant.now_us + 10_000_000)
    assert axis.motor_deg == pytest.approx(before + 5.0, abs=0.2)


def test_a_restart_and_a_power_cut_boot_the_board_anew():
    bench = bench_with("restart")
    run_to(bench, 90)
    assert [cause for _, cause in bench.engine.resets] == [2]
    bench = bench_with("power_cut", severity=30.0)
    run_to(bench, 120)
    at_us, _ = bench.engine.resets[0]
    assert at_us == pytest.approx(90e6, abs=1.1e6)  # 30 s without it
    assert bench.plant.supply


def test_a_slow_clock_chip_and_a_jump():
    bench = bench_with("clock_jump", severity=600.0)
    run_to(bench, 90)
    assert "trip" in {e["name"] for e in bench.uplink.events if e["t_s"] > 60}


def test_flash_faults_change_the_files():
    bench = bench_with("table_gone")
    run_to(bench, 90)
    assert not any("sun.tab" in path for path in bench.board.flash_store.files)
    bench = bench_with("settings_corrupt")
    before = dict(bench.board.flash_store.files)
    run_to(bench, 90)
    after = bench.board.flash_store.files
    flipped = [p for p in before if "settings." in p and before[p] != after[p]]
    assert flipped and all(
        sum(bin(a ^ b).count("1") for a, b in zip(before[p], after[p], strict=True)) == 1 for p in flipped)


def test_a_stall_makes_the_loop_late_and_the_board_says_so():
    bench = bench_with("loop_late", severity=3000.0)
    run_to(bench, 90)
    assert any("late" in e["detail"] for e in bench.uplink.events)


@pytest.mark.parametrize(
    ("kind", "severity", "seen"),
    [("open", 1, 0), ("short", 1, FULL), ("gain", 0.5, 500), ("offset", 0.1, 1000 + 0.1 * FULL)],
)
def test_spoilt_signals(kind, severity, seen):
    assert Signal(kind, severity)(1000) == pytest.approx(seen, abs=1)


def test_a_frozen_signal_keeps_its_first_reading_and_noise_stays_in_range():
    frozen = Signal("frozen", 1.0)
    assert [frozen(c) for c in (700, 3, 9000)] == [700, 700, 700]
    noisy = Signal("noisy", 0.4, seed=3)
    got = [noisy(30000) for _ in range(500)]
    assert 0 <= min(got) < 15000 and 45000 < max(got) <= FULL


def test_a_bouncing_contact_settles():
    contact = Contact(None, 1.0, seed=2)
    assert {contact(1, t) for t in range(0, 5900, 100)} == {0, 1}
    assert {contact(1, t) for t in range(6000, 9000, 100)} == {1}


def test_a_scenario_names_its_mistakes_in_faults():
    with pytest.raises(UserError) as told:
        parse(DAY + '[[fault]]\nname = "axis1_slips"\nat = "06:01"\nseverity = 90\n')
    assert "severity 90 of axis1_slips is not -15 to 15 deg" in str(told.value)
    with pytest.raises(UserError) as told:
        parse(DAY + '[[fault]]\nname = "axis1_stalled"\nat = "09:01"\n')
    assert "fault.1.at = 09:01: must lie within the run" in str(told.value)
