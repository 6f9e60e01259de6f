"""Judges every interlock row's condition at this tick and hands back the mask of bad ones.

Units: W/m2, degrees, s, ms. The only place where a measured value becomes a condition.
"""

import math

from ..declared import interlocks as table
from ..declared import modes

_I = table.INDEX
_OPEN_SHARE = 0.5  # of clear-sky light on the open cell; common practice, no source


def haurwitz_w_m2(sin_elevation):
    """Clear-sky global irradiance [W/m2] (Haurwitz 1945, as in pvlib.clearsky.haurwitz)."""
    if sin_elevation <= 0.01:
        return 0.0
    return 1098.0 * sin_elevation * math.exp(-0.057 / sin_elevation)


class Conditions:
    """mask(...) -> bits of the rows that are bad now. Values for the log go to locks.value."""

    def __init__(self, s, locks):
        self.s = s
        self.locks = locks
        self.table_row = -1
        self.table_days_left = 10_000
        self.north_age_h = -1
        self.heat_table_bad = 0  # a row of heat.table.CODES, counted from 1
        self.settings_bad = False
        self.late_ms = 0
        self.restarted = False
        self.place_known = False
        self.axis_stuck = False
        self.attendance_out = False

    def mask(self, c, clock, sun, chain_closed, beam_w_m2, open_w_m2):
        bad = 0
        v = self.locks.value
        if not chain_closed:
            bad |= 1 << _I["stop_chain"]
        if self.settings_bad:
            bad |= 1 << _I["settings"]
        if not clock.known:
            bad |= 1 << _I["clock_unset"]
        if clock.jumped_ms:
            v[_I["clock_jumped"]] = clock.jumped_ms // 1000
            bad |= 1 << _I["clock_jumped"]
        if self.table_row >= 0:
            bad |= 1 << self.table_row
        if self.table_days_left < self.s.interlock_table_warn_days:
            v[_I["table_ageing"]] = self.table_days_left
            bad |= 1 << _I["table_ageing"]
        if 0 < self.s.interlock_north_old_h <= self.north_age_h:
            v[_I["north_old"]] = self.north_age_h
            bad |= 1 << _I["north_old"]
        if self.heat_table_bad:
            v[_I["heat_table"]] = self.heat_table_bad
            bad |= 1 << _I["heat_table"]
        if not self.place_known:
            bad |= 1 << _I["place_unknown"]
        if self.axis_stuck:
            bad |= 1 << _I["axis_limit"]
        if self.attendance_out:
            bad |= 1 << _I["attendance"]
        if self.late_ms:
            v[_I["loop_late"]] = self.late_ms
            bad |= 1 << _I["loop_late"]
        if self.restarted:
            bad |= 1 << _I["restarted"]
        if sun is not None and clock.known:
            bad |= self._sky(c, sun, beam_w_m2, open_w_m2)
        return bad

    def _sky(self, c, sun, beam_w_m2, open_w_m2):
        s = self.s
        bad = 0
        if c.mode == modes.PARKED:
            if c.rest.cover:
                self.locks.value[_I["park_bright"]] = c.rest.rest_udeg // 100_000
                bad |= 1 << _I["park_bright"]
            if c.rest.not_yet:
                self.locks.value[_I["way_closed"]] = int(sun.elevation_deg)
                bad |= 1 << _I["way_closed"]
        row = _I["sun_low"]
        limit = s.interlock_sun_low_deg
        if self.locks.is_tripped(row):
            limit += s.interlock_sun_low_hysteresis_deg
        if sun.u < math.sin(math.radians(limit)):
            self.locks.value[row] = int(sun.elevation_deg * 1000)
            return bad | 1 << row  # a low sun's light says nothing of cloud
        row = _I["light_low"]
        weak = self.locks.is_tripped(row)
        if c.mode == modes.COOKING:
            level = s.interlock_light_back_w_m2 if weak else s.interlock_light_low_w_m2
            light = beam_w_m2
        else:
            # Turned away, the tube sees no sun: judge the open cell against a clear sky for this elevation.
            level = _OPEN_SHARE * haurwitz_w_m2(sun.u)
            light = open_w_m2
        if light < level:
            self.locks.value[row] = int(light)
            bad |= 1 << row
        return bad
