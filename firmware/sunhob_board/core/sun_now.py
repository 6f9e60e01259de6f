"""Where the sun stands now, as often as somebody needs it, and the resting places that follow from it.

Units: ms, W/m2. Part of the app, whose state it works on.
"""

from ..declared import interlocks as table
from ..sun.table import TableError
from .conditions import haurwitz_w_m2

_SUN_EVERY_MS = 1_000
SUN_AT_REST_MS = 3_500  # it goes 0.015 deg meanwhile


class SunNow:
    """By the table, or by the rough formula where the table has no answer."""

    def sun_changed(self):
        self._since_sun = SUN_AT_REST_MS

    def _sky(self, dt, c):
        """Where the sun stands, for whoever judges or steps at this tick; dt: time since the last call."""
        self._since_sun += dt
        if not self.clock.known:
            self.sun_ok = False
            return
        every_ms = _SUN_EVERY_MS if c is None or c.busy else SUN_AT_REST_MS
        if self._since_sun < every_ms and not (c is not None and self._steps(c)):
            return
        self._since_sun = 0
        if c is not None:
            self.conditions.north_age_h = self.daily.age_h(self.clock.day, self.clock.ms)
        self._see_sun(self.clock.day, self.clock.ms)
        self.clear_w_m2 = haurwitz_w_m2(self.sun.u)
        self.sun_ok = True
        if c is not None:
            self._choose_park()

    def _see_sun(self, day, ms):
        """By the table, or where that has no answer by the rough formula: the dish still leaves by it."""
        expired = table.INDEX["table_expired"]
        self.conditions.table_days_left = self.table.last_day - day
        self.sun.table = self.table
        try:
            self.sun.update(day, ms)
            if self.conditions.table_row == expired:
                self.conditions.table_row = -1
        except TableError:
            self.sun.table = self._rough
            self.sun.update(day, ms)
            self.conditions.table_row = expired

    def _choose_park(self):
        """Once a solar day: by the sun's declination now and two days on, which bound today and tomorrow."""
        day, ms = self.clock.day, self.clock.ms
        solar = self.rest.solar_day(day, ms)
        if solar == self.rest.day:
            return
        decs = (self.sun.dec_udeg,)
        try:
            self.sun.table.at(day + 2, ms)
            decs = (self.sun.dec_udeg, self.sun.table.dec_udeg)
        except TableError:
            pass  # the table's last days: today's sun alone
        self.rest.choose(solar, decs)
