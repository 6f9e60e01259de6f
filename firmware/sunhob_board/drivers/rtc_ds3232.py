"""DS3232 real-time clock with battery RAM, over I2C.

Units: day = days since 2000-01-01 UTC, ms = milliseconds of that day; RAM offsets in bytes.
Registers as in the DS3232 data sheet (Maxim 19-5337, register map) and Linux's drivers/rtc/rtc-ds3232.c:
time 0x00..0x06 in BCD, control 0x0E, status 0x0F, battery RAM 0x14..0xFF. The chip keeps whole seconds and
knows 2000..2199.
"""

ADDRESS = 0x68
RAM_SIZE = 236
_CONTROL = 0x0E
_STATUS = 0x0F
_THERMOMETER = 0x11  # two's complement degC, then quarters in the two top bits
_RAM = 0x14
_OSF = 0x80  # status: the oscillator stopped at some time, so the time is not to be trusted
_EOSC = 0x80  # control: 1 stops the oscillator on battery
_CENTURY = 0x80
_DAYS_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)
LAST_DAY = 73048  # 2199-12-31


def is_leap(year):
    """Whether a Gregorian year has a 29 February."""
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def month_days(year, month):
    """Days in the month, 1..12."""
    extra = 1 if month == 2 and is_leap(year) else 0
    return _DAYS_BEFORE[month] - _DAYS_BEFORE[month - 1] + extra


def day_from_date(year, month, date):
    """Days since 2000-01-01 of a Gregorian date from 2000 on."""
    y = year - 2000
    days = y * 365 + (y + 3) // 4 - (y + 99) // 100 + (y + 399) // 400
    return days + _DAYS_BEFORE[month - 1] + (1 if month > 2 and is_leap(year) else 0) + date - 1


def date_from_day(day):
    """(year, month, date) of a day number since 2000-01-01, day >= 0."""
    year = 2000 + day // 366
    while day_from_date(year + 1, 1, 1) <= day:
        year += 1
    month = 12
    while day_from_date(year, month, 1) > day:
        month -= 1
    return year, month, day - day_from_date(year, month, 1) + 1


def _bcd(value):
    return value // 10 << 4 | value % 10


def _plain(code, low, high):
    """The number behind a BCD byte, or -1 if it is none or out of bounds."""
    value = (code >> 4) * 10 + (code & 15)
    return value if (code & 15) <= 9 and low <= value <= high else -1


class Rtc:
    """i2c: readfrom_mem(address, register, count), writeto_mem(address, register, bytes)."""

    def __init__(self, i2c):
        self.i2c = i2c

    def read(self):
        """(day2000, ms), or None where the chip is silent, was stopped, or tells no possible time."""
        try:
            raw = self.i2c.readfrom_mem(ADDRESS, 0, 7)
            status = self.i2c.readfrom_mem(ADDRESS, _STATUS, 1)[0]
        except OSError:
            return None
        return None if status & _OSF else self._decode(raw)

    def _decode(self, raw):
        second = _plain(raw[0], 0, 59)
        minute = _plain(raw[1], 0, 59)
        hour = _plain(raw[2], 0, 23)  # bit 6 set would be the 12-hour form, which is never written
        date = _plain(raw[4], 1, 31)
        month = _plain(raw[5] & ~_CENTURY, 1, 12)
        year = _plain(raw[6], 0, 99)
        if min(second, minute, hour, date, month, year) < 0:
            return None
        year += 2100 if raw[5] & _CENTURY else 2000
        if date > month_days(year, month):
            return None
        return day_from_date(year, month, date), ((hour * 60 + minute) * 60 + second) * 1000

    def temperature_c(self):
        """What the chip's own thermometer tells [degC, in quarters], or None where it is silent."""
        try:
            raw = self.i2c.readfrom_mem(ADDRESS, _THERMOMETER, 2)
        except OSError:
            return None
        whole = raw[0] - 256 if raw[0] & 0x80 else raw[0]
        return whole + (raw[1] >> 6) / 4

    def write(self, day, ms):
        """Set the chip to the nearest whole second and clear the stop flag; True if it took it."""
        if not (0 <= day <= LAST_DAY and 0 <= ms < 86_400_000):
            raise ValueError("rtc: day %d or ms %d is out of bounds" % (day, ms))
        seconds = (ms + 500) // 1000
        if seconds == 86_400:
            day, seconds = day + 1, 0
        year, month, date = date_from_day(day)
        buf = bytes((
            _bcd(seconds % 60), _bcd(seconds // 60 % 60), _bcd(seconds // 3600), (day + 5) % 7 + 1,
            _bcd(date), _bcd(month) | (_CENTURY if year >= 2100 else 0), _bcd(year % 100)))
        try:
            self.i2c.writeto_mem(ADDRESS, 0, buf)
            control = self.i2c.readfrom_mem(ADDRESS, _CONTROL, 2)
            self.i2c.writeto_mem(ADDRESS, _CONTROL, bytes((control[0] & ~_EOSC & 0xFF,)))
            self.i2c.writeto_mem(ADDRESS, _STATUS, bytes((control[1] & ~_OSF & 0xFF,)))
        except OSError:
            return False
        return True

    def ram_read(self, offset, count):
        """`count` bytes of battery RAM from `offset`, or None where the chip is silent."""
        self._bounds(offset, count)
        try:
            return self.i2c.readfrom_mem(ADDRESS, _RAM + offset, count)
        except OSError:
            return None

    def ram_write(self, offset, data):
        """Put bytes into battery RAM; True if the chip took them."""
        self._bounds(offset, len(data))
        try:
            self.i2c.writeto_mem(ADDRESS, _RAM + offset, data)
        except OSError:
            return False
        return True

    @staticmethod
    def _bounds(offset, count):
        if offset < 0 or count < 0 or offset + count > RAM_SIZE:
            raise ValueError("rtc RAM: %d bytes at %d do not fit in %d" % (count, offset, RAM_SIZE))
