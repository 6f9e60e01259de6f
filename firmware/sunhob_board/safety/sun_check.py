"""Light against expectation: what the sun sensor has found, and light sensors that cannot be right.

Units: W/m2, degrees, ms. judge() puts the rows of declared/interlocks.py that are bad now.
"""

from ..declared import interlocks as table
from ..declared import modes

_I = table.INDEX
_FROZEN = 30  # frames of the sun sensor, all the same
_SILENT_MS = 2_000
_NEAR_FULL = 65_000  # of 65535
_LIT = 200  # counts: below them a value that stands still is night
_DAY_SIN = 0.1736  # 10 deg
_DARK_W_M2 = 20.0
_TUBE_SEES_W_M2 = 200.0
_LONG_MS = 1 << 28


class SunCheck:
    """agreed_day: the day on which sun sensor and clock last agreed while the dish was on the sun."""

    def __init__(self, s, locks):
        self.s = s
        self.locks = locks
        self.agreed_day = -1
        self._last = [-1, -1]
        self._same_ms = [0, 0]

    def judge(self, dt_ms, c, sun, north_age_h, clock, sensors, extras, sight):
        """sun: None where its place is not known; north_age_h: hours since north was set, -1 never; sight:
        None without a sun sensor."""
        if sight is not None:
            self._sight(c, sun, north_age_h, clock, sensors, sight)
        if extras.second is not None and extras.second.silent_ms > _SILENT_MS:
            self.locks.put(_I["sun_sensor"])
        day = sun is not None and sun.u > _DAY_SIN
        self._plausible(dt_ms, c, day, sensors)

    def _sight(self, c, sun, north_age_h, clock, sensors, sight):
        if sight.row >= 0:
            self.locks.put(sight.row, sight.axis or sight.apart_udeg // 1000)
        if sight.contrary_ms > _SILENT_MS or sight.frozen > _FROZEN:
            self.locks.put(_I["sun_sensor"])
        if c.mode == modes.COOKING:
            if sight.agreed_anew(clock.day != self.agreed_day):
                self.agreed_day = clock.day
            if sun is not None and sight.ought(sun, sensors.beam_w_m2, sensors.open_w_m2):
                if sight.size < _TUBE_SEES_W_M2:
                    sight.agrees_ms = 0
                if clock.day != self.agreed_day and not 0 <= north_age_h <= 12:
                    self.locks.put(_I["sun_unseen"])

    # --- light that cannot be ----------------------------------------------------------------------------

    def _plausible(self, dt_ms, c, day, sensors):
        light = (sensors.light.beam.read_u16(), sensors.light.open.read_u16())
        for k in range(2):
            if light[k] >= _NEAR_FULL:
                self.locks.put(_I["light_short"], k)
            same = light[k] == self._last[k] and light[k] > _LIT
            self._same_ms[k] = min(self._same_ms[k] + dt_ms, _LONG_MS) if same and day else 0
            self._last[k] = light[k]
            if self._same_ms[k] > 2 * _SILENT_MS:
                self.locks.put(_I["light_stuck"], k)
        if day and c.mode == modes.COOKING and sensors.open_w_m2 < _DARK_W_M2 and (
                sensors.beam_w_m2 > _TUBE_SEES_W_M2):
            self.locks.put(_I["open_cell"])
