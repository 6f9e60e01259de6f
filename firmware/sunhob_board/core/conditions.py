"""Judges at each tick the conditions of clock, tables, place, cook and light.

Units: W/m2, degrees, s, ms. The pot's are judged in heat/guards.py.
"""

import math

from ..declared import interlocks as table
from ..declared import modes
from .whereabouts import BY_ENCODER

_I = table.INDEX
_AT_REST = (modes.PARKED, modes.LOCKED)
_DAY_W_M2 = 100.0  # on the open cell; twilight gives 10 at most, from memory
_OPEN_SHARE = 0.5  # of clear-sky light on the open cell; common practice, no source


def haurwitz_w_m2(sin_elevation):
    """Clear-sky global irradiance [W/m2] (Haurwitz 1945, as in pvlib.clearsky.haurwitz)."""
    if sin_elevation <= 0.01:
        return 0.0
    return 1098.0 * sin_elevation * math.exp(-0.057 / sin_elevation)


class Conditions:
    """judge(...) puts the rows that are bad now into the interlocks."""

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
        self.storm = False
        self.doubt = 0  # see whereabouts.py
        self.blamed = 0  # bits of what spoke against the counts, and wrongly
        self.axis_stuck = False
        self.attendance_out = False

    def judge(self, c, clock, sun, chain_closed, beam_w_m2, open_w_m2, clear_w_m2):
        """sun: None where its place is not known; clear_w_m2: the open cell's light under a clear sky."""
        s, put = self.s, self.locks.put
        if not chain_closed:
            put(_I["stop_chain"])
        if self.settings_bad:
            put(_I["settings"])
        if not clock.known:
            put(_I["clock_unset"])
        if clock.jumped_ms:
            put(_I["clock_jumped"], clock.jumped_ms // 1000)
        if self.table_row >= 0:
            put(self.table_row)
        if self.table_days_left < s.interlock_table_warn_days:
            put(_I["table_ageing"], self.table_days_left)
        if 0 < s.interlock_north_old_h <= self.north_age_h:
            put(_I["north_old"], self.north_age_h)
        if self.heat_table_bad:
            put(_I["heat_table"], self.heat_table_bad)
        if c.mount.fault:
            put(_I["drive_fault"], c.mount.fault)
        if c.homing_needed:
            put(_I["place_unknown"])
        if self.axis_stuck:
            put(_I["axis_limit"])
        if self.attendance_out:
            put(_I["attendance"])
        if self.late_ms:
            put(_I["loop_late"], self.late_ms)
        if 0 < self.doubt < BY_ENCODER:  # one cause, one row: the others have their own
            put(_I["place_doubt"], self.doubt)
        if self.restarted:
            put(_I["restarted"])
        if self.storm:
            put(_I["brown_outs"])
        if sun is not None and clock.known:
            self._sky(c, sun, beam_w_m2, open_w_m2, clear_w_m2)
        elif c.mode in _AT_REST:
            put(_I["park_bright"], -1)  # where the sun stands is not known: it may shine in

    def _sky(self, c, sun, beam_w_m2, open_w_m2, clear_w_m2):
        s, put = self.s, self.locks.put
        # where its place is doubted the light may go anywhere
        rests = c.mode in _AT_REST and (c.rest.cover or (c.homing_needed and self.doubt))
        if c.mode == modes.LEAVING and not c.mount.moving:  # until it moves its light is what it was
            rests = self.locks.is_tripped(_I["park_bright"])
        bare = c.waits or (c.on_sun and c.mode == modes.LOCKED) or rests
        if bare or (c.mode in (modes.ASIDE, modes.RESTING) and not c.busy and c.rest.bright):
            put(_I["park_bright"], c.rest.rest_udeg // 100_000)
        elif sun.elevation_deg < 0.0 and open_w_m2 > _DAY_W_M2 and c.mode in _AT_REST:
            put(_I["park_bright"], -1)  # broad day where the clock has night: nobody knows where the sun is
        if c.mode == modes.PARKED:
            if c.rest.not_yet:
                put(_I["way_closed"], int(sun.elevation_deg))
        row = _I["sun_low"]
        limit = s.interlock_sun_low_deg
        if self.locks.is_tripped(row):
            limit += s.interlock_sun_low_hysteresis_deg
        if sun.elevation_deg < limit:
            put(row, int(sun.elevation_deg * 1000))
            return  # a low sun's light says nothing of cloud
        row = _I["light_low"]
        weak = self.locks.is_tripped(row)
        if c.mode == modes.COOKING:
            level = s.interlock_light_back_w_m2 if weak else s.interlock_light_low_w_m2
            light = beam_w_m2
        else:
            # Turned away, the tube sees no sun: judge the open cell against a clear sky for this elevation.
            level = _OPEN_SHARE * clear_w_m2
            light = open_w_m2
        if light < level:
            put(row, int(light))
