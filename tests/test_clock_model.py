"""The bench's clock chip against what is published of the DS3232. Units: s, degC, us of bench time.

Sources: the Linux driver drivers/rtc/rtc-ds3232.c (GPL, read for its numbers: time from 0x00 in BCD, century
0x80 of the month, 12 hours 0x40 and afternoon 0x20 of the hour, control 0x0E with nEOSC 0x80, status 0x0F
with OSF 0x80, BSY 0x04, A2F 0x02, A1F 0x01, temperature 0x11 as ten bits of a quarter degree, SRAM 0x14 to
0xFF, 236 bytes; what probing writes for control and status, 0x1C and 0x88), and the maker's data sheet,
"Control/Status Register (0Fh)": OSF "is set to logic 1 any time that the oscillator stops", first of all
when power is applied, and "remains at logic 1 until written to logic 0"; EN32kHz (bit 3) powers up as 1.
"""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob_board.drivers.rtc_ds3232 import Rtc
from sunhob_sim.devices.ds3232 import DS3232

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
OSF, BSY, A2F, A1F = 0x80, 0x04, 0x02, 0x01


class Bus:
    """The chip as a driver sees it, at one moment of the bench."""

    def __init__(self, chip, now_us=0):
        self.chip, self.now_us = chip, now_us

    def readfrom_mem(self, address, reg, n):
        got = self.chip.read(reg, n, self.now_us) if address == 0x68 else None
        if got is None:
            raise OSError(5)
        return got

    def writeto_mem(self, address, reg, data):
        if address != 0x68 or not self.chip.write(reg, data, self.now_us):
            raise OSError(5)


def bcd2bin(code):
    """As the kernel's of that name."""
    return (code & 15) + (code >> 4) * 10


def linux_time(regs):
    """The moment that rtc-ds3232.c makes of seven registers, in the form of 24 hours."""
    second, minute, hour, week, day, month, year = regs
    assert not hour & 0x40
    when = datetime(2000 + bcd2bin(year) + (100 if month & 0x80 else 0), bcd2bin(month & 0x7F), bcd2bin(day),
                    bcd2bin(hour), bcd2bin(minute), bcd2bin(second), tzinfo=UTC)
    assert bcd2bin(week) == when.isoweekday() and all((one & 15) <= 9 for one in regs)
    return when


@given(st.integers(0, 200 * 365 * 86_400))
def test_time_is_told_in_bcd_as_linux_reads_it(seconds):
    regs = DS3232(seconds).read(0x00, 7, 0)
    assert linux_time(regs) == EPOCH + timedelta(seconds=seconds)


def test_named_moments_stand_in_the_registers_digit_by_digit():
    at = datetime(2026, 3, 12, 23, 59, 58, tzinfo=UTC)  # a Thursday
    chip = DS3232((at - EPOCH).total_seconds())
    assert chip.read(0x00, 7, 0) == bytes((0x58, 0x59, 0x23, 4, 0x12, 0x03, 0x26))
    assert chip.read(0x00, 7, 2_000_000) == bytes((0x00, 0x00, 0x00, 5, 0x13, 0x03, 0x26))
    chip.write(0x00, bytes((0x00, 0x00, 0x00, 5, 0x01, 0x81, 0x05)), 0)  # the century bit: 2105
    assert chip.read(0x05, 2, 0) == bytes((0x81, 0x05))
    assert Rtc(Bus(chip)).read() == ((datetime(2105, 1, 1, tzinfo=UTC) - EPOCH).days, 0)


@pytest.mark.parametrize(("hour", "code"), [
    (0, 0x52), (1, 0x41), (11, 0x51), (12, 0x72), (13, 0x61), (23, 0x71)])
def test_twelve_hours_when_it_was_set_so(hour, code):
    chip = DS3232(0.0)
    chip.write(0x00, bytes((0x30, 0x15, code, 6, 0x01, 0x01, 0x00)), 0)
    assert chip.read(0x02, 1, 0)[0] == code
    assert chip.seconds(0) == hour * 3600 + 15 * 60 + 30


def test_the_stop_flag_stays_until_zero_is_written_to_it():
    chip = DS3232(800_000_000)
    assert not chip.read(0x0F, 1, 0)[0] & OSF  # set and running on its battery
    chip.lose_battery(5)
    assert chip.read(0x0E, 2, 6) == bytes((0x1C, 0x88))  # as after the first power
    chip.write(0x00, bytes((0, 0, 0x12, 4, 0x12, 0x03, 0x26)), 7)
    assert chip.read(0x0F, 1, 8)[0] & OSF, "setting the time does not clear it"
    chip.write(0x0F, bytes((0xFF,)), 9)
    assert chip.read(0x0F, 1, 10)[0] & OSF
    chip.write(0x0F, bytes((0x08,)), 11)
    assert chip.read(0x0F, 1, 12)[0] == 0x08
    chip.write(0x0F, bytes((OSF | BSY | A2F | A1F | 0x08,)), 13)
    assert chip.read(0x0F, 1, 14)[0] == 0x08, "a write raises none of the flags"
    chip.write(0x0F, bytes((0x30,)), 15)  # rate of conversion: kept
    assert chip.read(0x0F, 1, 16)[0] == 0x30


def test_the_driver_believes_no_time_from_the_stop_until_it_was_set():
    chip = DS3232(800_000_000)
    rtc = Rtc(Bus(chip))
    assert rtc.read() is not None
    chip.lose_battery(0)
    assert rtc.read() is None
    assert rtc.write(9567, 45_000_000) and rtc.read() == (9567, 45_000_000)
    assert chip.read(0x0E, 1, 0)[0] == 0x1C and not chip.read(0x0F, 1, 0)[0] & OSF


def test_battery_ram_is_236_bytes_of_its_own():
    chip = DS3232(800_000_000)
    rtc, all_of_it = Rtc(Bus(chip)), bytes(range(1, 237))
    assert rtc.ram_write(0, all_of_it)
    assert chip.read(0x14, 236, 0) == all_of_it and chip.read(0xFF, 1, 0)[0] == 236
    assert rtc.write(9000, 0) and chip.write(0x0F, b"\x00", 0)
    assert rtc.ram_read(0, 236) == all_of_it, "neither time nor status reaches into it"
    assert chip.read(0xFE, 4, 0) == bytes((235, 236)) + chip.read(0x00, 2, 0)  # round to the first register
    chip.lose_battery(0)
    assert rtc.ram_read(0, 236) != all_of_it


@pytest.mark.parametrize("celsius", [-40.0, -0.25, 0.0, 25.5, 84.75])
def test_temperature_is_ten_bits_of_a_quarter_degree_and_read_only(celsius):
    chip = DS3232(0.0)
    chip.set_temperature(celsius)
    chip.write(0x11, b"\x7f\xc0", 0)
    word = int.from_bytes(chip.read(0x11, 2, 0), "big", signed=True)
    assert (word >> 6) * 250 == round(1000 * celsius) and not word & 0x3F  # mC, as rtc-ds3232.c reckons
    assert Rtc(Bus(chip)).temperature_c() == celsius


def test_it_runs_fast_by_its_drift_and_a_frozen_one_stands():
    chip = DS3232(1000.0, drift_ppm=50.0)
    assert chip.seconds(86_400_000_000) == pytest.approx(1000.0 + 86_400 * 1.00005)
    chip.freeze(86_400_000_000)
    assert chip.read(0x00, 7, 0) == chip.read(0x00, 7, 10**13)
