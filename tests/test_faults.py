"""The fault library of the bench: each does what its words say to the true plant, and goes away again."""

import math
from itertools import pairwise

import pytest
from sunhob.errors import UserError
from sunhob_sim import pins
from sunhob_sim.bench import Bench
from sunhob_sim.faults.library import BY_NAME, FAULTS, GROUPS
from sunhob_sim.faults.signal import FULL, Contact, Signal
from sunhob_sim.faults.tray import Live, Planned, Tray
from sunhob_sim.scenario import parse

DAY = """name = "faulty"
start = 2026-03-12T06:00:00Z
hours = 0.1
[[action]]
at = "06:00:02"
do = "clock"
"""

FITTED = """[settings.sensor]
axis1_encoder = true
axis1_zero_deg = 37
axis2_tilt = true
base_tilt = true
wind_hz_per_m_s = 4
supply_ratio = 6
[settings.axis1]
drive = "{0}"
speed_deg_s = 4
[settings.axis2]
drive = "{0}"
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
    rows = [fault for fault in FAULTS if fault.group == group]
    drive = "motor" if any(fault.drives for fault in rows) else "stepper"
    board = 'board = "esp32"\n' if any(fault.board for fault in rows) else ""
    bench = Bench(parse(board + DAY + FITTED.format(drive)), "cpython")
    run_to(bench, 20)
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
    assert contact(0, 0) == 0 and contact.next_us is None
    assert {contact(1, t) for t in range(1000, 7000, 50)} == {0, 1}
    assert {contact(1, t) for t in range(7000, 9000, 50)} == {1}
    assert contact.next_us is None


def test_whoever_asks_a_bouncing_contact_when_it_changes_sees_it_come_to_rest():
    contact = Contact(None, 1.0, seed=2)
    contact(0, 0)
    seen, now_us = [contact(1, 1000)], 1000
    while contact.next_us is not None:
        now_us = contact.next_us
        seen.append(contact(1, now_us))
    assert len(seen) > 2 and all(a != b for a, b in pairwise(seen))
    assert seen[-1] == 1 and now_us <= 7000


def spoilt(bench, name, read, severity):
    """What `read` gives before a fault, while it is on, and after it."""
    found = [read(bench)]
    planned = Planned(BY_NAME[name], bench.plant.now_us / 1e6, 5.0, severity)
    tray = bench.tray = Tray(bench, [planned])
    for later_s in (0.0, 6.0):
        tray.step(planned.start_s + later_s)
        found.append(read(bench))
    return found


def count_of(bench):
    """Pulses of two seconds of wind at the anemometer's counter; None where it is silent."""
    def count():
        bench.plant.advance(bench.plant.now_us + 2_000_000)
        told = bench.fitted.wind.read(1, 3, bench.plant.now_us)
        return None if told is None else int(told[::-1].hex())
    first, last = count(), count()
    return None if first is None or last is None else (last - first) % 1_000_000


def raw_of(part, reg, step):
    """A word of a chip's register, high byte first or last, in units of `step`; None where it is silent."""
    def read(bench):
        bench.plant.advance(bench.plant.now_us + 20_000)
        told = getattr(bench.fitted, part).read(reg, 2, bench.plant.now_us)
        order = "big" if step == ANGLE else "little"
        return None if told is None else int.from_bytes(told, order, signed=step != ANGLE) * step
    return read


ANGLE, G = 360.0 / 4096.0, 0.001 / 16.0  # AS5600: 12 bits to a turn; LIS3DH: 1 mg of 12 bits in 16
WINDY = FITTED + "[air]\nwind_m_s = 5\ngust_m_s = 5\n"


@pytest.fixture(scope="module")
def fitted_bench():
    bench = Bench(parse(DAY + WINDY.format("stepper")), "cpython")
    run_to(bench, 20)
    yield bench
    bench.close()


@pytest.mark.parametrize(("name", "severity", "read", "more"), [
    ("encoder_offset", 20.0, raw_of("encoder", 0x0C, ANGLE), 20.0),
    ("encoder_mute", 1.0, raw_of("encoder", 0x0C, ANGLE), None),
    ("dish_tilt_offset", -0.2, raw_of("dish_tilt", 0x28 | 0x80, G), -0.2),
    ("dish_tilt_mute", 1.0, raw_of("dish_tilt", 0x28 | 0x80, G), None),
    ("base_tilt_offset", 0.1, raw_of("base_tilt", 0x28 | 0x80, G), 0.1),
    ("base_tilt_mute", 1.0, raw_of("base_tilt", 0x28 | 0x80, G), None),
    ("wind_stuck", 1.0, count_of, -40),
    ("wind_noisy", 50.0, count_of, 100),
    ("wind_mute", 1.0, count_of, None),
    ("supply_high", 3.0, lambda b: b.fitted.supply.volts(), 3.0),
    ("supply_low", -2.0, lambda b: b.fitted.supply.volts(), -2.0),
    ("supply_sags", 2.0, lambda b: b.fitted.supply.volts(), -2.0),
    ("supply_open", 1.0, lambda b: b.fitted.supply.volts(), -12.69),
    ("sun_mute", 1.0, lambda b: 0 if b.fitted.second.read(0, 2, 0) else None, None),
    ("light_mute", 1.0, lambda b: 0 if b.light.read(0, 2, 0) else None, None),
    ("bus_stuck", 1.0, lambda b: 0 if any(b.board.answering()[0]) else None, None),
])
def test_a_further_sensor_is_spoilt_as_it_says_and_well_again(fitted_bench, name, severity, read, more):
    before, during, after = spoilt(fitted_bench, name, read, severity)
    within = 2.0 if read is count_of else 0.3
    if more is None:
        assert during is None
    else:
        assert during - before == pytest.approx(more, abs=within)
    assert after == pytest.approx(before, abs=within)


@pytest.mark.parametrize("part", ["encoder", "dish_tilt", "base_tilt"])
def test_a_frozen_sensor_tells_the_same_while_what_it_feels_changes(fitted_bench, part):
    read = raw_of(part, 0x0C if part == "encoder" else 0x28 | 0x80, ANGLE if part == "encoder" else G)
    plant, chip = fitted_bench.plant, getattr(fitted_bench.fitted, part)
    last, chip.frozen = read(fitted_bench), True
    try:
        plant.axes[0].shift_by_hand(9.0)
        plant.axes[1].shift_by_hand(9.0)
        assert read(fitted_bench) == last
        chip.frozen = False
        assert part == "base_tilt" or abs(read(fitted_bench) - last) > 0.05
    finally:
        plant.axes[0].shift_by_hand(-9.0)
        plant.axes[1].shift_by_hand(-9.0)


def test_a_pulse_line_that_is_spoilt_stays_where_it_is_held():
    bench = Bench(parse(DAY + FITTED.format("motor")), "cpython")
    for axis in (0, 1):
        for stuck, name in ((0, "low"), (1, "high")):
            spoil = BY_NAME[f"pulses{axis + 1}_{name}"]
            live = Live(bench, Planned(spoil, 0.0, 9.0, 1.0), bench.tray)
            spoil.begin(live)
            assert bench.plant.inputs()[pins.PULSES[axis]] == stuck
            spoil.end(live)
    assert not bench.plant.contacts


def test_a_fault_of_what_is_not_fitted_is_refused_with_what_to_fit():
    for name, wants in (("encoder_frozen", "sensor.axis1_encoder = true"),
                        ("expander_mute", 'board = "esp32"'),
                        ("pulses1_low", "axis1.drive = motor or actuator")):
        with pytest.raises(UserError) as told:
            parse(DAY + f'[[fault]]\nname = "{name}"\nat = "06:01"\n')
        assert f"fault.1.name = {name}: there is nothing to spoil; give {wants}" in str(told.value)


def test_a_scenario_names_its_mistakes_in_faults():
    with pytest.raises(UserError) as told:
        parse(DAY + '[[fault]]\nname = "axis1_slips"\nat = "06:01"\nseverity = 90\n')
    assert "severity 90 of axis1_slips is not -15 to 15 deg" in str(told.value)
    with pytest.raises(UserError) as told:
        parse(DAY + '[[fault]]\nname = "axis1_stalled"\nat = "09:01"\n')
    assert "fault.1.at = 09:01: must lie within the run" in str(told.value)
