"""DS3232 real-time clock with battery RAM, at register level. Units: us of bench time, s, ppm.

Registers 0x00-0x06 time in BCD, 0x0E control, 0x0F status (bit 7: the oscillator has stopped),
0x11-0x12 temperature, 0x14-0xFF battery RAM. These and their bits as in the Linux driver
drivers/rtc/rtc-ds3232.c; how the stop flag behaves and what bit 3 powers up as, from the maker's data sheet,
"Control/Status Register (0Fh)". That a read goes on from 0xFF at 0x00: data sheet, from memory.
"""

from datetime import UTC, datetime, timedelta

_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
ADDRESS = 0x68
STATUS = 0x0F
STOPPED = 0x80
_CLEAR_ONLY = 0x83  # stopped, both alarms
_KEPT = 0x78  # outputs, rate of conversion; bit 2, busy, is neither
RAM = 0x14


def _bcd(n: int) -> int:
    return n // 10 << 4 | n % 10


def _plain(b: int) -> int:
    return (b >> 4) * 10 + (b & 15)


class DS3232:
    """start_s: seconds since 2000-01-01 UTC at bench time 0; drift_ppm: + runs fast."""

    def __init__(self, start_s: float, drift_ppm: float = 0.0, temperature_c: float = 25.0) -> None:
        self._base_s = float(start_s)
        self._base_us = 0
        self._rate = 1.0 + drift_ppm * 1e-6
        self._rest = bytearray(256)
        self._rest[0x0E], self._rest[STATUS] = 0x1C, 0x08
        self._12_hours = False
        self.silent = False  # True: does not answer, as with a broken wire
        self.frozen = False  # True: answers, but its time stands still
        self.set_temperature(temperature_c)

    def set_temperature(self, celsius: float) -> None:
        """The chip's own thermometer [deg C], in quarters."""
        quarters = round(celsius * 4)
        self._rest[0x11] = (quarters >> 2) & 0xFF
        self._rest[0x12] = (quarters & 3) << 6

    def seconds(self, now_us: int) -> float:
        """What the chip believes [s since 2000-01-01 UTC]."""
        if self.frozen:
            return self._base_s
        return self._base_s + (now_us - self._base_us) * 1e-6 * self._rate

    def freeze(self, now_us: int) -> None:
        """The time stands still from now on (a fault)."""
        self._base_s = self.seconds(now_us)
        self.frozen = True

    def drift(self, ppm: float, now_us: int) -> None:
        """It runs fast by `ppm` from now on (a fault)."""
        self._base_s, self._base_us = self.seconds(now_us), now_us
        self._rate = 1.0 + ppm * 1e-6

    def jump(self, by_s: float) -> None:
        """The time is off by `by_s` from now on (a fault)."""
        self._base_s += by_s

    def lose_battery(self, now_us: int) -> None:
        """Both supplies gone: time back to the start, RAM empty, the stopped flag up."""
        self._base_s, self._base_us = 0.0, now_us
        self._rest[RAM:] = bytes(256 - RAM)
        self._rest[0x0E], self._rest[STATUS] = 0x1C, STOPPED | 0x08

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes from `reg` on, wrapping from 0xFF to 0; None: no answer."""
        if self.silent:
            return None
        if reg >= RAM and reg + n <= 256:
            return bytes(self._rest[reg : reg + n])
        whole = self._time_registers(now_us) + self._rest[7:]
        return bytes(whole[(reg + i) & 0xFF] for i in range(n))

    def write(self, reg: int, data: bytes, now_us: int) -> bool:
        """Write `data` from `reg` on; writing the seconds starts the second anew."""
        if self.silent:
            return False
        at = [(reg + i) & 0xFF for i in range(len(data))]
        if any(a < 7 for a in at):
            self._set_time(at, data, now_us)
        for a, value in zip(at, data, strict=True):
            if a == STATUS:
                self._rest[a] = value & (_KEPT | self._rest[a] & _CLEAR_ONLY)
            elif a >= 7 and a not in (0x11, 0x12, 0x13):
                self._rest[a] = value
        return True

    def _time_registers(self, now_us: int) -> bytearray:
        t = _EPOCH + timedelta(seconds=int(self.seconds(now_us)))
        hours = _bcd(t.hour)
        if self._12_hours:
            hours = 0x40 | (0x20 if t.hour >= 12 else 0) | _bcd(t.hour % 12 or 12)
        century = 0x80 if t.year >= 2100 else 0
        return bytearray(
            (_bcd(t.second), _bcd(t.minute), hours, t.isoweekday(), _bcd(t.day),
             _bcd(t.month) | century, _bcd(t.year % 100))
        )  # fmt: skip

    def _set_time(self, at: list[int], data: bytes, now_us: int) -> None:
        fraction = 0.0 if 0 in at else self.seconds(now_us) % 1.0
        regs = self._time_registers(now_us)
        for a, value in zip(at, data, strict=True):
            if a < 7:
                regs[a] = value
        self._12_hours = bool(regs[2] & 0x40)
        if self._12_hours:
            hour = _plain(regs[2] & 0x1F) % 12 + (12 if regs[2] & 0x20 else 0)
        else:
            hour = _plain(regs[2] & 0x3F)
        year = 2000 + _plain(regs[6]) + (100 if regs[5] & 0x80 else 0)
        start = datetime(year, 1, 1, tzinfo=UTC)
        try:
            start = datetime(year, _plain(regs[5] & 0x1F), _plain(regs[4] & 0x3F), tzinfo=UTC)
        except ValueError:
            pass  # an impossible date: the chip's count is undefined, here the first of January
        t = start + timedelta(hours=hour, minutes=_plain(regs[1] & 0x7F), seconds=_plain(regs[0] & 0x7F))
        self._base_s = (t - _EPOCH).total_seconds() + fraction
        self._base_us = now_us
