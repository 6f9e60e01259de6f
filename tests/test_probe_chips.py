"""Probe and light converters: drivers against register models, models against published tables.

Units: degC, mV, milli-degC, V, counts of 65535. Reference voltages: NIST ITS-90 database (SRD 60), type K,
in data/thermocouple_type_k.csv. Register maps: Maxim 19-5793 tables 2 to 5, TI SBAS444 config register.
"""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob_board.drivers import thermocouple_max31855 as max31855
from sunhob_board.drivers.light_ads1115 import ADDRESS, Light
from sunhob_board.drivers.thermocouple_max31855 import Thermocouple, mc_of, true_mc, volts_of
from sunhob_board.heat.probe import Probe
from sunhob_sim.devices.ads1115 import ADS1115
from sunhob_sim.devices.max31855 import MAX31855, type_k_mv

TABLE = [(float(row["temp_degc"]), float(row["type_k_mv"])) for row in csv.DictReader(
    Path(__file__).with_name("data").joinpath("thermocouple_type_k.csv").read_text().splitlines())]


@pytest.mark.parametrize(("temp_c", "mv"), TABLE)
def test_model_and_driver_know_the_reference_voltages(temp_c, mv):
    assert type_k_mv(temp_c) == pytest.approx(mv, abs=6e-5)
    assert volts_of(int(temp_c * 1000)) == pytest.approx(mv * 1e4, abs=8.0)  # 0.02 K
    assert mc_of(round(mv * 1e4)) == pytest.approx(temp_c * 1000, abs=50)


def test_what_the_data_sheet_shows_is_read_so():
    """Tables 4 and 5: 100.75 degC is 0x0193 in quarters, 25 degC is 0x190 in sixteenths."""
    chip = Thermocouple(Bytes(bytes((0x06, 0x4C, 0x19, 0x00))), Select())
    assert chip.read() == max31855.OK
    assert chip.mc == true_mc(403, 400)
    minus = Thermocouple(Bytes(bytes((0xFF, 0xFC, 0xFF, 0xF0))), Select())
    assert minus.read() == max31855.OK and minus.mc == pytest.approx(-250, abs=20)


class Bytes:
    """A bus that clocks out these bytes."""

    def __init__(self, data):
        self.data = data

    def readinto(self, buf):
        buf[:] = self.data


class Select:
    level = 1

    def value(self, level):
        self.level = level


class Spi:
    """A bus with one model on it, asked while its select pin is low."""

    def __init__(self, chip, select):
        self.chip, self.select, self.now_us = chip, select, 0

    def readinto(self, buf):
        assert self.select.level == 0
        self.now_us += 1_000_000
        buf[:] = self.chip.transfer(len(buf), self.now_us)


def wired(seen, **how):
    model = MAX31855(lambda us: seen, noise_c=0.0, **how)
    select = Select()
    return model, Thermocouple(Spi(model, select), select)


@pytest.mark.parametrize("board_c", [5.0, 35.0, 60.0])
@pytest.mark.parametrize("seen", [-20.0, 0.0, 25.0, 60.0, 85.0, 100.0, 150.0, 220.0, 400.0])
def test_the_curve_of_type_k_is_put_right(seen, board_c):
    """What the chip takes for a straight line is off by up to 2 K; the driver brings it within its steps."""
    _, chip = wired(seen, board_c=board_c)
    assert chip.read() == max31855.OK
    assert chip.mc / 1000 == pytest.approx(seen, abs=0.45)
    assert chip.select.level == 1


@given(st.integers(-39_000, 499_000))
def test_voltage_and_back(mc):
    assert mc_of(volts_of(mc)) == pytest.approx(mc, abs=2)


@pytest.mark.parametrize(("seen", "fault"), [
    ("open", max31855.OPEN), ("short", max31855.SHORT_GROUND), ("short to supply", max31855.SHORT_SUPPLY)])
def test_faults_are_told_apart(seen, fault):
    _, chip = wired(seen)
    assert chip.read() == fault and chip.mc is None


def test_a_missing_or_stuck_chip_is_silent_and_no_crash():
    model, chip = wired(80.0)
    model.silent = True
    assert chip.read() == max31855.SILENT
    for level in (0x00, 0xFF):
        assert Thermocouple(Bytes(bytes([level]) * 4), Select()).read() == max31855.SILENT

    class Dead:
        def readinto(self, buf):
            raise OSError(5)

    select = Select()
    assert Thermocouple(Dead(), select).read() == max31855.SILENT and select.level == 1


def test_out_of_the_table_is_no_reading():
    _, chip = wired(900.0)
    assert chip.read() == max31855.OUTSIDE and chip.mc is None


def probe_on(seen, noise_c=0.02):
    box = [seen]
    model = MAX31855(lambda us: box[0], noise_c=noise_c)
    select = Select()
    return box, model, Probe(Thermocouple(Spi(model, select), select))


def test_probe_follows_refuses_a_wild_read_and_believes_a_lasting_one():
    box, _, probe = probe_on(80.0)
    for _ in range(5):
        probe.read(1000)
    assert probe.mc / 1000 == pytest.approx(80.0, abs=0.5)
    box[0] = 300.0
    probe.read(1000)
    assert probe.mc / 1000 == pytest.approx(80.0, abs=0.5)
    box[0] = 80.0
    probe.read(1000)
    box[0] = 20.0  # dipped into cold water: it stays there
    for _ in range(6):
        probe.read(1000)
    assert probe.mc / 1000 == pytest.approx(20.0, abs=1.0)


def test_probe_holds_over_a_glitch_and_lets_go_after_it():
    box, _, probe = probe_on(80.0)
    probe.read(1000)
    box[0] = "open"
    probe.read(1000)
    assert probe.fault == max31855.OPEN and probe.mc is not None
    for _ in range(4):
        probe.read(1000)
    assert probe.mc is None
    box[0] = 60.0
    probe.read(1000)
    assert probe.mc / 1000 == pytest.approx(60.0, abs=0.5)


def test_a_frozen_chip_is_told_from_a_steady_pot():
    box, _, probe = probe_on(90.0)
    for _ in range(600):
        probe.read(1000)
        assert probe.same_ms < 30_000
    box[0] = "frozen"
    for _ in range(600):
        probe.read(1000)
    assert probe.same_ms >= 598_000


class I2C:
    """A bus with one light converter."""

    def __init__(self, chip):
        self.chip, self.now_us, self.calls = chip, 0, 0

    def readfrom_mem(self, addr, reg, n):
        self.calls += 1
        got = self.chip.read(reg, n, self.now_us) if addr == ADDRESS else None
        if got is None:
            raise OSError(5)
        return got

    def writeto_mem(self, addr, reg, data):
        self.calls += 1
        if addr != ADDRESS or not self.chip.write(reg, bytes(data), self.now_us):
            raise OSError(5)


def light_on(volts):
    bus = I2C(ADS1115(lambda us: volts))
    return bus, Light(bus)


def run_light(bus, light, ticks, ms=100):
    for _ in range(ticks):
        bus.now_us += ms * 1000
        before = bus.calls
        light.tick(ms)
        assert bus.calls - before <= 3


def test_light_reads_both_inputs_one_conversion_a_tick():
    bus, light = light_on((1.65, 0.825, 0.0, 0.0))
    run_light(bus, light, 4)
    assert light.beam.read_u16() == pytest.approx(32767, abs=3)
    assert light.open.read_u16() == pytest.approx(16384, abs=3)


def test_light_below_ground_and_above_the_range_stays_within():
    bus, light = light_on((-0.02, 5.0, 0.0, 0.0))
    run_light(bus, light, 4)
    assert light.beam.read_u16() == 0 and light.open.read_u16() == 65535


def test_a_silent_light_converter_shows_no_sun_and_comes_back():
    bus, light = light_on((1.65, 1.65, 0.0, 0.0))
    run_light(bus, light, 4)
    bus.chip.silent = True
    run_light(bus, light, 30)
    assert light.silent_ms > 2000 and light.beam.read_u16() == light.open.read_u16() == 0
    bus.chip.silent = False
    run_light(bus, light, 4)
    assert light.silent_ms == 0 and light.beam.read_u16() > 30000


def test_a_converter_that_lost_its_settings_is_started_again():
    bus, light = light_on((1.65, 1.65, 0.0, 0.0))
    run_light(bus, light, 3)
    bus.chip = ADS1115(lambda us: (0.33, 0.33, 0.0, 0.0))  # as after a cut of its supply
    run_light(bus, light, 20)
    assert light.beam.read_u16() == pytest.approx(6553, abs=3)
