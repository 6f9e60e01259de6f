"""Drivers of the further sensors against registers laid out as in their data sheets. Units: udeg, V, W/m2.

Registers: LIS3DH 0x0F, 0x20, 0x23, 0x28; AS5600 0x0B to 0x0D; PCF8583 0 to 3; ADS1115 0 and 1.
"""

import math
from datetime import UTC, datetime

import pytest
from sunhob_board.drivers.accel_lis3dh import AxisTilt, BaseTilt
from sunhob_board.drivers.encoder_as5600 import Encoder
from sunhob_board.drivers.spare_probes import SpareProbes
from sunhob_board.drivers.sun_ads1115 import SunAndSupply
from sunhob_board.drivers.wind_pcf8583 import WindCounter
from sunhob_sim.devices.spare_probes import MCP9600, TMP102

from .fake_board import FakeBoard
from .test_controller import save_settings


class Bus:
    """Registers of one chip; silent: it does not answer."""

    def __init__(self, **registers):
        self.at = {int(k[1:], 16): v for k, v in registers.items()}
        self.silent = False

    def readfrom_mem(self, _address, reg, n):
        if self.silent:
            raise OSError(5)
        return bytes(self.at.get((reg & 0x7F) + i, 0) for i in range(n))

    def writeto_mem(self, _address, reg, data):
        if self.silent:
            raise OSError(5)
        for i, byte in enumerate(data):
            self.at[reg + i] = byte

    def gravity(self, x, y, z):
        """In g: 1 mg is 16 counts, low byte first."""
        for i, g in enumerate((x, y, z)):
            word = round(g * 16_000) & 0xFFFF
            self.at[0x28 + 2 * i], self.at[0x29 + 2 * i] = word & 255, word >> 8


@pytest.mark.parametrize("deg", [-5.0, 0.0, 24.6, 90.0, 110.0])
def test_an_accelerometer_tells_the_elevation_past_the_zenith_too(deg):
    bus = Bus(x0f=0x33)
    tilt = AxisTilt(bus)
    assert tilt.read_udeg() is None  # it is being set up
    assert bus.at[0x20] == 0x57 and bus.at[0x23] == 0x88
    bus.gravity(math.sin(math.radians(deg)), 0.0, math.cos(math.radians(deg)))
    assert tilt.read_udeg() == pytest.approx(deg * 1e6, abs=5_000)
    bus.gravity(0.0, 0.0, 1.5)  # shaken
    assert tilt.read_udeg() is None
    bus.silent = True
    assert tilt.read_udeg() is None


def test_the_base_tells_its_lean_and_another_chip_tells_nothing():
    bus = Bus(x0f=0x33)
    base = BaseTilt(bus)
    base.read()
    bus.gravity(0.02, -0.05, 0.998)
    assert base.read()
    assert base.east_udeg == pytest.approx(math.degrees(math.atan2(0.02, 0.998)) * 1e6, abs=5_000)
    assert base.north_udeg == pytest.approx(math.degrees(math.atan2(-0.05, 0.998)) * 1e6, abs=5_000)
    other = BaseTilt(Bus(x0f=0x32))
    assert not other.read() and not other.read()


@pytest.mark.parametrize(("raw", "deg"), [(0, 0.0), (1024, 90.0), (4095, 359.912)])
def test_the_encoder_tells_its_angle_while_it_sees_a_magnet(raw, deg):
    bus = Bus(x0b=0x20, x0c=raw >> 8, x0d=raw & 255)
    assert Encoder(bus).read_udeg() == pytest.approx(deg * 1e6, abs=500)
    bus.at[0x0B] = 0x10
    assert Encoder(bus).read_udeg() is None


def test_the_counter_is_set_up_once_and_its_turn_over_loses_no_pulse():
    bus = Bus(x00=0x00)
    wind = WindCounter(bus)
    assert wind.read() is None and bus.at[0] == 0x20
    bus.at[1], bus.at[2], bus.at[3] = 0x42, 0x17, 0x00
    assert wind.read() == 1742
    bus.at[1], bus.at[2], bus.at[3] = 0x98, 0x99, 0x99
    wind.read()
    bus.at[1], bus.at[2], bus.at[3] = 0x05, 0x00, 0x00
    assert wind.read() == 7
    bus.silent = True
    assert wind.read() is None


class Converter:
    """An ADS1115 that is ready at once; volts of its inputs 0 to 3 against ground."""

    def __init__(self, volts):
        self.volts, self.config, self.silent = volts, 0x0583, False

    def readfrom_mem(self, _address, reg, _n):
        if self.silent:
            raise OSError(5)
        word = self.config | 0x8000 if reg else round(self.volts[(self.config >> 12 & 7) - 4] / 0.000125)
        return word.to_bytes(2, "big")

    def writeto_mem(self, _address, _reg, data):
        if self.silent:
            raise OSError(5)
        self.config = int.from_bytes(data, "big") & 0x7FFF


def test_the_second_converter_tells_the_sun_and_the_supply():
    half = 3.3 / 2.0
    chip = SunAndSupply(bus := Converter([half * 1.4, half * 0.8, 1.1, 2.1]))
    for _ in range(6):
        chip.tick(100)
    assert chip.ready
    out = [0.0, 0.0, 0.0]
    chip.look(1500.0, out)
    assert out == pytest.approx([600.0, -300.0, 500.0], abs=1.0)
    assert chip.supply_v(6.0) == pytest.approx(12.6, abs=0.01)
    bus.silent = True
    for _ in range(8):
        chip.tick(100)
    assert not chip.ready and chip.silent_ms >= 700


# TMP102: 12-bit data format of TI SBOS397, table 2; MCP9600: 1/16 degC as by DS20005426, section 5.1.1
@pytest.mark.parametrize(("celsius", "word"), [
    (100.0, 0x640), (75.0, 0x4B0), (25.0, 0x190), (0.25, 0x004), (0.0, 0x000), (-0.25, 0xFFC), (-25.0, 0xE70),
])
def test_the_air_and_other_pots_are_read_as_their_chips_tell_them(celsius, word):
    chips = {0x4A: TMP102(lambda _us: celsius), 0x60: MCP9600(lambda _us: 8 * celsius)}
    raw = chips[0x4A].read(0, 2, 0)
    assert int.from_bytes(raw, "big") >> 4 == word
    assert int.from_bytes(chips[0x60].read(0, 2, 0), "big", signed=True) == round(8 * celsius * 16)
    probes = SpareProbes(Several(chips), True, 2)
    for _ in range(3):
        probes.tick()
    assert probes.air_mc == pytest.approx(1000 * celsius, abs=1)
    assert probes.pots_mc == [pytest.approx(8000 * celsius, abs=1), None]  # the second is missing
    chips[0x4A].silent = True
    chips[0x60].celsius = lambda _us: "open"
    for _ in range(3):
        probes.tick()
    assert probes.air_mc is None and probes.pots_mc == [None, None]


class Several:
    """A bus with models of chips by their addresses."""

    def __init__(self, chips):
        self.chips = chips

    def readfrom_mem(self, address, reg, n):
        got = self.chips[address].read(reg, n, 0) if address in self.chips else None
        if got is None:
            raise OSError(5)
        return got


def test_the_status_tells_the_air_and_other_pots_where_they_are_fitted(tmp_path):
    b = FakeBoard(tmp_path, datetime(2026, 3, 1, 4, 0, tzinfo=UTC))
    chips = {0x4A: TMP102(lambda _us: 31.25), 0x60: MCP9600(lambda _us: 88.5)}
    b.spare = SpareProbes(Several(chips), True, 1)
    save_settings(tmp_path)
    b.boot()
    b.run(4)
    told = b.ask("status")["result"]
    assert told["air_c"] == 31.2 and told["spare_c"] == [88.5]


def test_what_a_turning_dish_reads_one_after_the_other_is_taken_to_one_moment():
    bus = Converter([0.0, 0.0, 0.0, 0.0])
    chip = SunAndSupply(bus, 3)
    half, k = 3.3 / 2.0, 0
    while chip.rounds < 3:  # 10 W/m2 more across and less along at each conversion
        bus.volts = [half * (1.0 + 10.0 * k / 1500.0), half * (1.0 - 10.0 * k / 1500.0),
                     3.3 * (900.0 - 10.0 * k) / 1500.0, 0.0]
        chip.tick(100)
        k += 1
    out = [0.0, 0.0, 0.0]
    chip.look(1500.0, out)
    last = 10.0 * (k - 1)
    assert out == pytest.approx([last, -last, 900.0 - last], abs=0.5)
