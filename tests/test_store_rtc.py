"""The clock chip: every day of two centuries, nothing absurd believed. Units: days since 2000-01-01, ms."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob_board.drivers import rtc_ds3232 as chip


class Bus:
    """A DS3232 as a plain file of registers that does not run."""

    def __init__(self):
        self.reg = bytearray(256)
        self.reg[0x0F] = 0x88
        self.reg[0x0E] = 0x9C
        self.silent = False

    def readfrom_mem(self, address, register, count):
        if self.silent or address != 0x68:
            raise OSError(5)
        return bytes(self.reg[register:register + count])

    def writeto_mem(self, address, register, data):
        if self.silent or address != 0x68:
            raise OSError(5)
        self.reg[register:register + len(data)] = data


def test_every_day_agrees_with_the_calendar():
    first = date(2000, 1, 1)
    for day in range(chip.LAST_DAY + 1):
        d = first + timedelta(days=day)
        assert chip.date_from_day(day) == (d.year, d.month, d.day)
        assert chip.day_from_date(d.year, d.month, d.day) == day
    assert first + timedelta(days=chip.LAST_DAY) == date(2199, 12, 31)


@given(st.integers(0, chip.LAST_DAY - 1), st.integers(0, 86_399_999))
def test_what_is_set_is_read_to_the_nearest_second(day, ms):
    bus = Bus()
    rtc = chip.Rtc(bus)
    assert rtc.read() is None  # the stop flag is up after the battery was put in
    assert rtc.write(day, ms)
    got = rtc.read()
    assert abs((got[0] - day) * 86_400_000 + got[1] - ms) <= 500 and got[1] % 1000 == 0
    d = date(2000, 1, 1) + timedelta(days=got[0])
    assert bus.reg[3] == d.isoweekday() and bus.reg[0x0F] == 0x08 and bus.reg[0x0E] == 0x1C


@given(st.binary(min_size=7, max_size=7))
def test_absurd_registers_are_not_a_time(raw):
    bus = Bus()
    rtc = chip.Rtc(bus)
    rtc.write(0, 0)
    bus.reg[0:7] = raw
    got = rtc.read()
    if got is not None:
        assert rtc.write(*got)
        assert bus.reg[0:3] == raw[0:3] and bus.reg[4:7] == raw[4:7]


@pytest.mark.parametrize(("at", "value"), [
    (0, 0x60), (0, 0x0A), (1, 0x99), (2, 0x24), (2, 0x52), (4, 0), (4, 0x31), (5, 0), (5, 0x13), (6, 0xA0)])
def test_each_absurd_field(at, value):
    bus = Bus()
    rtc = chip.Rtc(bus)
    rtc.write(chip.day_from_date(2026, 2, 1), 0)
    bus.reg[at] = value
    assert rtc.read() is None


def test_a_silent_chip_is_no_time_and_no_crash():
    bus = Bus()
    rtc = chip.Rtc(bus)
    bus.silent = True
    assert rtc.read() is None and rtc.ram_read(0, 4) is None
    assert rtc.write(1, 1) is False and rtc.ram_write(0, b"x") is False


def test_battery_ram():
    rtc = chip.Rtc(Bus())
    assert rtc.ram_write(232, b"abcd") and rtc.ram_read(230, 6) == b"\0\0abcd"
    for offset, count in ((233, 4), (-1, 1), (0, 237)):
        with pytest.raises(ValueError, match="do not fit"):
            rtc.ram_read(offset, count)
