"""Light against expectation: the sun sensor against clock and base, and light sensors that cannot be right.

Units: W/m2, degrees, ms. judge() puts the rows of declared/interlocks.py that are bad now.
"""

import math

from ..declared import interlocks as table
from ..declared import modes

_I = table.INDEX
_LOWEST_DEG = 30.0  # the sensor's diodes lean so far: a lower sun does not light them all
_BEAM_W_M2 = 150.0  # of the beam's horizontal part: below it the sensor tells nothing of the side
_AGREES_MS = 60_000
_SILENT_MS = 2_000
_NEAR_FULL = 65_000  # of 65535
_LIT = 200  # counts: below them a value that stands still is night
_DAY_SIN = 0.1736  # 10 deg
_DARK_W_M2 = 20.0
_TUBE_SEES_W_M2 = 200.0
_LONG_MS = 1 << 28


class SunCheck:
    """agreed_day: the day on which sun sensor and clock last agreed for a minute; apart_mdeg: by how much."""

    def __init__(self, s, locks):
        self.s = s
        self.locks = locks
        self.agreed_day = -1
        self.apart_mdeg = 0
        self._agrees_ms = 0
        self._last = [-1, -1]
        self._same_ms = [0, 0]

    def judge(self, dt_ms, c, sun, north_deg, north_age_h, clock, sensors, extras):
        """sun: None where its place is not known; north_age_h: hours since north was set, -1 never."""
        if self.s.sensor_sun:
            self._sun(dt_ms, sun, north_deg, clock, extras)
            sighted = 0 <= north_age_h <= 12
            if clock.day != self.agreed_day and not sighted:
                self.locks.put(_I["sun_unseen"])
        if extras.second is not None and extras.second.silent_ms > _SILENT_MS:
            self.locks.put(_I["sun_sensor"])
        day = sun is not None and sun.u > _DAY_SIN
        self._plausible(dt_ms, c, day, sensors)

    # --- direction -----------------------------------------------------------------------------------

    def _sun(self, dt_ms, sun, north_deg, clock, extras):
        got = extras.sun_w_m2
        if sun is None or got is None or sun.elevation_deg < _LOWEST_DEG:
            return
        flat = math.sqrt(got[0] * got[0] + got[1] * got[1])
        if flat < _BEAM_W_M2:
            return  # cloud, or a sun near the zenith
        c = math.cos(math.radians(north_deg))
        s = math.sin(math.radians(north_deg))
        east, north = sun.e * c - sun.n * s, sun.e * s + sun.n * c
        size = math.sqrt(flat * flat + got[2] * got[2])
        cos = (east * got[0] + north * got[1] + sun.u * got[2]) / size
        apart = math.degrees(math.acos(max(-1.0, min(1.0, cos))))
        self.apart_mdeg = int(apart * 10) * 100
        if apart > self.s.interlock_sun_sensor_deg:
            self.locks.put(_I["sun_disagrees"], self.apart_mdeg)
            self._agrees_ms = 0
            return
        self._agrees_ms = min(self._agrees_ms + dt_ms, _LONG_MS)
        if self._agrees_ms >= _AGREES_MS:
            self.agreed_day = clock.day

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
