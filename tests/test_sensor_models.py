"""The bench's models of the further sensors: chips by their data sheets' registers, the sun sensor by pvlib.

Units: degrees, g, pulses, W/m2, V, us. The firmware's drivers are read through the same registers.
"""

import itertools
from datetime import UTC, datetime

import numpy as np
import pvlib
import pytest
from sunhob_board.drivers.accel_lis3dh import AxisTilt, BaseTilt
from sunhob_board.drivers.encoder_as5600 import Encoder
from sunhob_board.drivers.sun_ads1115 import SunAndSupply
from sunhob_board.drivers.wind_pcf8583 import WindCounter
from sunhob_sim.devices.ads1115 import ADS1115
from sunhob_sim.devices.as5600 import AS5600
from sunhob_sim.devices.lis3dh import LIS3DH
from sunhob_sim.devices.pcf8583 import PCF8583
from sunhob_sim.plant import Plant
from sunhob_sim.sky import Site, Sky
from sunhob_sim.sun_sensor import MISMATCH, SunSensor


class Bus:
    """One chip at one address, `step_us` on at each transfer."""

    def __init__(self, chip, address, step_us=20_000):
        self.chip, self.address, self.step_us, self.now_us = chip, address, step_us, 0

    def _at(self, address):
        self.now_us += self.step_us
        if address != self.address:
            raise OSError(5)

    def readfrom_mem(self, address, reg, n):
        self._at(address)
        got = self.chip.read(reg, n, self.now_us)
        if got is None:
            raise OSError(5)
        return got

    def writeto_mem(self, address, reg, data):
        self._at(address)
        if not self.chip.write(reg, data, self.now_us):
            raise OSError(5)


# --- AS5600: ams data sheet v1-06, 2018, figure 21 (register map), figure 23 (status), I2C modes -----------


# A reading wanders a step to either side: the data sheet's output noise. 4096 steps to a turn.
@pytest.mark.parametrize(("deg", "raw"), [(0.0, 0), (45.0, 512), (90.0, 1024), (359.95, 4095), (-90.0, 3072)])
def test_an_as5600_tells_the_angle_in_its_registers_and_the_driver_reads_it(deg, raw):
    chip = AS5600(lambda _us: deg)
    seen = {int.from_bytes(chip.read(0x0C, 2, t), "big") for t in range(0, 2_000_000, 10_007)}
    assert seen == {(raw + k) % 4096 for k in (-1, 0, 1)}
    high, low = chip.read(0x0C, 1, 5)[0], chip.read(0x0D, 1, 5)[0]
    assert high <= 0x0F and chip.read(0x0B, 3, 5)[1:] == bytes((high, low)) == chip.read(0x0E, 2, 5)
    told = Encoder(Bus(chip, 0x36)).read_udeg() / 1e6
    assert (told - deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1.6 * 360.0 / 4096)


# Status: MD bit 5, ML bit 4, MH bit 3, as in Zephyr's drivers/sensor/ams/ams_as5600/ams_as5600.c
def test_an_as5600_without_its_magnet_says_so_and_keeps_its_last_angle():
    chip = AS5600(lambda us: us / 1e6)
    assert chip.read(0x0B, 1, 30_000_000)[0] & 0x38 == 0x20  # MD alone; bits 5, 4, 3 as below
    last = chip.read(0x0C, 2, 30_000_000)
    chip.magnet = False
    assert chip.read(0x0B, 1, 60_000_000)[0] & 0x38 == 0x10  # ML: "AGC maximum gain overflow"
    assert chip.read(0x0C, 2, 60_000_000) == last
    assert chip.read(0x1A, 1, 60_000_000)[0] == 128  # "reduced to 0-128 counts in 3.3V mode"
    bus = Bus(chip, 0x36)
    assert Encoder(bus).read_udeg() is None
    chip.magnet, chip.silent = True, True
    assert Encoder(bus).read_udeg() is None


def test_an_as5600_goes_over_an_angle_again_and_keeps_what_is_written():
    chip = AS5600(lambda _us: 200.0)
    raw = chip.read(0x0C, 2, 7)
    assert chip.read(0x0C, 5, 7) == (raw * 3)[:5]  # the pointer "suppresses the automatic increment" there
    chip.write(0x07, b"\x1f\x03", 8)  # CONF
    assert chip.read(0x07, 2, 9) == b"\x1f\x03"
    chip.write(0x0C, b"\x00\x00", 9)  # read only
    assert chip.read(0x0C, 2, 7) == raw


# --- LIS3DH: ST data sheet, register map and table of mechanical characteristics. Bits of CTRL_REG1 (rate
# 7 to 4, low power 3, z y x 2 to 0) and CTRL_REG4 (BDU 7, full scale 5 and 4, high resolution 3): the maker's
# lis3dh_reg.h; rates 1 to 8 for 1, 10, 25, 50, 100, 200, 400, 1600 Hz and who am I 0x33: Linux's
# st_accel_core.c, whose 1, 2, 4, 12 mg a step of 12 bits are those below -----------------------------------


def axes_of(chip, now_us=1_000_000):
    return np.frombuffer(chip.read(0x28 | 0x80, 6, now_us), "<i2")


def test_a_lis3dh_names_itself_and_needs_to_be_woken():
    chip = LIS3DH(lambda _us: (0.0, 0.0, 1.0))
    assert chip.read(0x0F, 1, 0) == b"\x33"
    assert chip.read(0x20, 1, 0) == b"\x07"  # reset value: power-down, three axes
    assert not axes_of(chip).any()
    chip.write(0x20, b"\x57", 0)
    assert chip.read(0x28, 6, 1)[0:1] * 6 == chip.read(0x28, 6, 2)  # without the top bit: one register
    assert axes_of(chip)[2] > 0


# Sensitivity in mg a digit at +-2, 4, 8, 16 g: high resolution, normal, low power; left-justified
@pytest.mark.parametrize(("ctrl1", "high", "bits", "steps_mg"), [
    (0x57, 0x08, 12, (1, 2, 4, 12)), (0x57, 0x00, 10, (4, 8, 16, 48)), (0x5F, 0x00, 8, (16, 32, 64, 192)),
])
def test_a_lis3dh_has_the_scale_of_its_data_sheet(ctrl1, high, bits, steps_mg):
    g = np.array([0.5, -0.25, 1.0])
    for k, step in enumerate(steps_mg):
        chip = LIS3DH(lambda _us: g)
        chip.write(0x20, bytes((ctrl1,)), 0)
        chip.write(0x23, bytes((k << 4 | high,)), 0)
        many = np.array([axes_of(chip, t) for t in range(1_000_000, 3_000_000, 10_000)])
        assert not (many & (1 << 16 - bits) - 1).any()
        told_mg = (many >> 16 - bits).mean(0) * step
        assert np.abs(told_mg - 1000.0 * g).max() < max(0.5, 0.51 * step)
        assert len(np.unique(many, axis=0)) > 1 or step > 8, "it has its noise"
    chip.gravity = lambda _us: (30.0, -30.0, 0.0)
    full = axes_of(chip, 9_000_000)
    assert full[0] == ((1 << bits - 1) - 1) << 16 - bits and full[1] == -32768


@pytest.mark.parametrize(("code", "hz"), [(1, 1), (2, 10), (3, 25), (4, 50), (5, 100), (6, 200), (7, 400)])
def test_a_lis3dh_has_the_rates_of_linux_and_bits_that_change_nothing_else(code, hz):
    chip = LIS3DH(lambda us: (us / 1e8, 0.0, 0.0))
    chip.write(0x20, bytes((code << 4 | 7,)), 0)
    chip.write(0x23, b"\x88", 0)  # BDU, high resolution, 2 g
    period = 1_000_000 // hz
    first = axes_of(chip, 5_000_000)
    assert (axes_of(chip, 5_000_000 + period * 9 // 10) == first).all()
    assert (axes_of(chip, 5_000_000 + period * 11 // 10) != first).any()
    assert chip.read(0x23, 1, 0) == b"\x88" and chip.read(0x20, 1, 0)[0] >> 4 == code


def test_a_lis3dh_takes_a_sample_at_its_rate_and_a_frozen_one_never():
    chip = LIS3DH(lambda us: (us / 1e6, 0.0, 0.0))
    chip.write(0x20, b"\x57", 0)  # 100 Hz
    chip.write(0x23, b"\x08", 0)
    first = axes_of(chip, 100_000)
    assert (axes_of(chip, 109_000) == first).all() and (axes_of(chip, 111_000) != first).any()
    chip.frozen = True
    assert (axes_of(chip, 900_000) == axes_of(chip, 500_000)).all()
    chip.silent = True
    assert chip.read(0x0F, 1, 0) is None and not chip.write(0x20, b"\x00", 0)


@pytest.mark.parametrize(("east", "north"), [(0.0, 0.0), (2.0, -1.0), (-6.0, 8.0)])
def test_the_driver_reads_the_lean_of_the_base_from_a_lis3dh(east, north):
    up = np.array([np.tan(np.radians(east)), np.tan(np.radians(north)), 1.0])
    base = BaseTilt(Bus(LIS3DH(lambda _us: up / np.linalg.norm(up)), 0x18))
    assert not base.read()  # set up by this
    many = [(base.read(), base.east_udeg, base.north_udeg) for _ in range(100)]
    assert all(one[0] for one in many)
    assert np.mean(many, axis=0)[1:] / 1e6 == pytest.approx([east, north], abs=0.06)
    assert np.abs(np.array(many)[:, 1:] / 1e6 - [east, north]).max() < 0.7  # 2.2 mg of noise, five sigmas


@pytest.mark.parametrize("deg", [0.0, 35.0, 90.0, 100.0])
def test_the_driver_reads_the_elevation_of_the_dish_from_a_lis3dh(deg):
    g = np.sin(np.radians(deg)), 0.0, np.cos(np.radians(deg))
    tilt = AxisTilt(Bus(LIS3DH(lambda _us: g), 0x19))
    assert tilt.read_udeg() is None
    assert np.mean([tilt.read_udeg() for _ in range(100)]) / 1e6 == pytest.approx(deg, abs=0.06)


# --- PCF8583: NXP data sheet rev. 6, sections 7.2 (control), 7.4 ("events are stored in BCD format. D5 is the
# most significant and D0 the least significant digit"), 7.8 (D1 D0 in register 1, D3 D2 in 2, D5 D4 in 3) ---


def test_a_pcf8583_counts_in_bcd_from_what_is_written_and_turns_over():
    total = [500]
    chip = PCF8583(lambda _us: total[0])
    assert chip.read(0, 4, 0)[0] & 0x30 == 0  # it starts as a clock
    total[0] += 40
    chip.write(1, b"\x56\x34\x12", 1)
    chip.write(0, b"\x20", 2)
    assert chip.read(0, 4, 3) == b"\x20\x56\x34\x12"  # what came before it counted is not in it
    total[0] += 7
    assert chip.read(1, 3, 4) == b"\x63\x34\x12"
    chip.write(0, b"\xa0", 5)  # bit 7: "stop counting"
    total[0] += 1000
    assert chip.read(1, 3, 6) == b"\x63\x34\x12"
    chip.write(0, b"\x20", 7)
    total[0] += 876_540
    assert chip.read(1, 3, 8) == b"\x03\x00\x00"
    chip.stands = True
    total[0] += 9
    assert chip.read(1, 1, 9) == b"\x03"


def test_the_driver_reads_the_pulses_from_a_pcf8583_over_its_turn():
    bus = Bus(PCF8583(lambda us: us * 0.013), 0x50, 1_000_000)  # 13 kHz: it turns over every 77 s
    wind = WindCounter(bus)
    assert wind.read() is None  # two transfers: it reads, it sets up
    told = [wind.read() for _ in range(200)]
    assert set(told) == {13_000} and sum(told) > 1_000_000
    bus.chip.silent = True
    assert wind.read() is None


# --- the sun-direction sensor -----------------------------------------------------------------------------

NOON = datetime(2026, 3, 12, 6, 45, tzinfo=UTC).timestamp()
SITE = Site(28.6139, 77.2090, 216.0)  # a city, no real cooker
CLOUD = (300.0, 300.0, 0.0)
CLEAR_S, DULL_S = 60.0, 450.0
FULL = 1500.0
LEAN = np.radians(30.0)  # as the driver and the notes tell it
DIODES = np.array([[np.sin(LEAN), 0, np.cos(LEAN)], [-np.sin(LEAN), 0, np.cos(LEAN)],
                   [0, np.sin(LEAN), np.cos(LEAN)], [0, -np.sin(LEAN), np.cos(LEAN)], [0, 0, 1.0]])


@pytest.fixture(scope="module")
def sky():
    return Sky(SITE, NOON - 5400.0, 900.0, [CLOUD])


def placed(sky, off, t_s=CLEAR_S, seed=3):
    """Sensor, the dish's frame (rows right, up, along) and the sun in it, the dish `off` the sun in azimuth
    and elevation [deg]."""
    sun = np.array(sky.sun_at(t_s))
    az, el = np.arctan2(sun[0], sun[1]) + np.radians(off[0]), np.arcsin(sun[2]) + np.radians(off[1])
    plant = Plant(None, sky, start_deg=(float(np.degrees(az)), float(np.degrees(el))))
    plant.now_us = int(t_s * 1e6)
    along = np.array([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)])
    right = np.array([np.cos(az), -np.sin(az), 0.0])
    frame = np.stack([right, np.cross(right, along), along])
    return SunSensor(plant, FULL, seed), frame, frame @ sun


def lit_by(sky, t_s, frame, beam_too=True):
    """Light on the five diodes as pvlib's isotropic sky has it [W/m2]."""
    sun, dni, ghi = np.array(sky.sun_at(t_s)), sky.beam_w_m2(t_s), sky.open_w_m2(t_s)
    e, n, u = (DIODES @ frame).T
    zenith, azimuth = np.degrees(np.arccos(sun[2])), np.degrees(np.arctan2(sun[0], sun[1]))
    told = pvlib.irradiance.get_total_irradiance(
        np.degrees(np.arccos(u)), np.degrees(np.arctan2(e, n)), zenith, azimuth,
        dni, ghi, max(0.0, ghi - dni * sun[2]), albedo=0.2, model="isotropic")
    return np.asarray(told["poa_global"] if beam_too else told["poa_diffuse"])


def told_w_m2(sensor, reads=1):
    v = np.mean([sensor.volts() for _ in range(reads)], axis=0)
    return np.array([v[0] / 1.65 - 1.0, v[1] / 1.65 - 1.0, v[2] / 3.3]) * FULL


BEHIND = (180.0, -60.0)
OFFS = [(0.0, 0.0), (4.0, -3.0), (-14.0, 6.0), (25.0, -20.0), (55.0, 10.0), (100.0, -20.0), (180.0, -30.0),
        BEHIND]


@pytest.mark.parametrize(("off", "t_s"), itertools.product(OFFS, (CLEAR_S, DULL_S)))
def test_each_diode_is_lit_as_pvlib_lights_its_plane(sky, off, t_s):
    sensor, frame, _ = placed(sky, off, t_s)
    ought = lit_by(sky, t_s, frame)
    assert np.array(sensor.light()) / sensor.gains == pytest.approx(ought, abs=0.5)
    assert np.abs(np.array(sensor.gains) - 1.0).max() <= MISMATCH


def direction(sky, got, frame, t_s=CLEAR_S):
    """The sun in the dish's frame by least squares, sky and ground taken off by pvlib."""
    pairs = np.array([[1, -1, 0, 0, 0], [0, 0, 1, -1, 0], [0, 0, 0, 0, 1.0]])
    direct = got - pairs @ lit_by(sky, t_s, frame, beam_too=False)
    found = np.linalg.lstsq(pairs @ DIODES, direct, rcond=None)[0]
    return found / np.linalg.norm(found)


def apart_deg(a, b):
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


@pytest.mark.parametrize("off", OFFS[:4])
def test_the_sun_s_direction_is_in_the_volts_within_the_diodes_mismatch(sky, off):
    errors = []
    for seed in range(20):
        sensor, frame, sun = placed(sky, off, seed=seed)
        errors.append(apart_deg(direction(sky, told_w_m2(sensor, 10), frame), sun))
        sensor.gains = [1.0] * 5
        assert apart_deg(direction(sky, told_w_m2(sensor, 100), frame), sun) < 0.03
    # a pair at worst: 2 cos 30 deg of the mismatch [rad]; two pairs, and a tenth more for the sky's light
    assert max(errors) < np.degrees(1.1 * np.sqrt(2.0) * 2.0 * np.cos(LEAN) * MISMATCH)
    assert max(errors) > 0.2, "the mismatch is there"


def test_the_driver_reads_the_same_through_its_converter(sky):
    sensor, _, _ = placed(sky, (7.0, -5.0))
    driver = SunAndSupply(Bus(ADS1115(lambda _us: (*sensor.volts(), 0.0), noise_steps=1), 0x49), 3)
    out, many = [0.0, 0.0, 0.0], []
    while len(many) < 50:
        driver.tick(100)
        if driver.rounds > len(many):
            driver.look(FULL, out)
            many.append(list(out))
    assert np.mean(many[1:], axis=0) == pytest.approx(told_w_m2(sensor, 200), abs=1.0)


def test_under_a_cloud_and_behind_the_dish_no_direction_is_told(sky):
    assert sky.beam_w_m2(DULL_S) == 0.0 and sky.beam_w_m2(CLEAR_S) > 600.0
    sensor, _, _ = placed(sky, (4.0, -3.0), DULL_S)
    right, up, along = told_w_m2(sensor, 20)
    assert abs(right) < 0.03 * along and 100.0 < along < sky.open_w_m2(DULL_S)
    assert 0.0 < up < 0.5 * sky.open_w_m2(DULL_S)  # more of the sky than of the ground
    sensor, frame, sun = placed(sky, BEHIND)
    assert sun[2] < -0.5
    assert max(sensor.light()) <= (1.0 + MISMATCH) * lit_by(sky, CLEAR_S, frame, beam_too=False).max() + 0.1
    assert abs(told_w_m2(sensor, 20)[0]) < 10.0


def test_a_spoilt_sensor_is_spoilt_as_it_says(sky):
    sensor, _, _ = placed(sky, (0.0, 0.0))
    well, lit = told_w_m2(sensor, 50), np.array(sensor.light())
    sensor.spoil("open", which=0)
    assert told_w_m2(sensor, 50)[0] == pytest.approx(-lit[1], abs=1.0)
    sensor.spoil("short", which=3)
    assert sensor.volts()[1] == 0.0
    sensor.spoil("short", which=4)
    assert sensor.volts()[2] == 3.3
    sensor.spoil("offset", 0.1, 1)
    assert told_w_m2(sensor, 50) - well == pytest.approx([0.0, 0.1 * FULL, 0.0], abs=1.0)
    sensor.spoil("noisy", 0.05)
    noisy = np.array([told_w_m2(sensor) for _ in range(300)]).std(0)
    assert noisy[:2] == pytest.approx([75.0, 75.0], rel=0.2) and noisy[2] < 1.0
    sensor.spoil("frozen")
    held = sensor.volts()
    sensor.plant.now_us = int(DULL_S * 1e6)
    assert sensor.volts() == held
