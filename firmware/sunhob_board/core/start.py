"""Everything on the board is made and wired here, once, and learns where the dish was left.

Part of the app, whose state it works on.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..heat.dial import Dial
from ..heat.regulate import Regulator
from ..mount.axis import axis_of
from ..mount.geometry import Geometry
from ..mount.mount import Mount
from ..mount.planner import Planner
from ..safety.watch import Watch
from ..sun.position import Sun
from ..sun.rough import RoughSun
from ..sun.table import SunTable, TableError
from .controller import Controller
from .north import DailyNorth
from .park import Park
from .place import MOVING, ON_SUN, Boots, Place
from .tracking import Tracker
from .whereabouts import Whereabouts

_C = ev.CODES


class Start:
    """Done before the first tick."""

    def _wire(self):
        s = self.s
        drives = self.board.drives(s)
        hand = s.axis2_drive == "hand"
        if hand:
            from . import season

            geometry = season.HandGeometry(s)
        else:
            geometry = Geometry(s)
        axes = (axis_of(drives[0], 1, s), axis_of(drives[1], 2, s))
        self.mount = Mount(axes, geometry)
        self.north_deg = s.mount_north_deg
        self.daily = DailyNorth(self.slots)
        if self.daily.deg is not None:
            self.set_north(self.daily.deg, False)
        self.planner = Planner(self.mount, self.sun, s)
        self.heating.wire(s, self.sun, self.mount)
        self.tracker = Tracker(s, self.sun, self.mount, self.heating.aims)
        self.dial = Dial(int(s.heat_least_percent * 10), Regulator(s), self.sensors.contents)
        self.rest = (season.HandPark if hand else Park)(s, self.sun, self.mount)
        self.watch = Watch(self.board, s, self.locks, self.mount)
        self.watch.around.set_here(self.daily.lean)
        self.controller = Controller(self)
        self.whereabouts = Whereabouts(s, self.mount)
        if hand:
            self.season = season.Season(self)
        self.set_park()
        if s.cook_display:
            from .page import Page

            self.page = Page(self)
        self.place = Place(self.board.rtc)
        self.boots = Boots(self.board.rtc, self.clock.day * 1440 + self.clock.ms // 60_000)
        self._recall()

    def set_park(self):
        """The resting places in axis angles; the next sight of sun and clock chooses among them."""
        if not self.rest.place():
            self.trouble = "park: the pole is outside the travel limits"
            self.conditions.settings_bad = True

    def _recall(self):
        """Where the axes were. A restart in the middle of a move leaves the place known only roughly."""
        c = self.controller
        got = self.place.read()
        if got is None:
            c.homing_needed = True
            c.on_sun = True  # nothing says that it is not
            self.conditions.restarted = True
        else:
            a1, a2, flags = got
            if self.season is not None:  # what the cook confirmed counts
                a2 = self.mount.axes[1].position_udeg
            self.mount.set_position(a1, a2)
            c.on_sun = bool(flags & ON_SUN)
            c.sun_axes[0], c.sun_axes[1] = a1, a2
            self.conditions.restarted = c.on_sun
            if flags & MOVING:
                c.homing_needed = c.rough = True
                self.conditions.restarted = True
        cause = 0 if self.checks.tried and self.checks.proven else self.board.reset_cause()
        self.emit(_C["boot"], cause, int(got is not None))

    def _load_table(self):
        s = self.s
        row = -1
        data = b""
        try:
            with open(self.shelf + "sun.tab", "rb") as f:
                data = f.read()
        except OSError:
            row = table.INDEX["table_missing"]
        self.table = None
        if row < 0:
            try:
                self.table = SunTable(data)
            except TableError as err:
                row = table.INDEX["table_missing" if err.args[0] == "missing" else "table_corrupt"]
                self.trouble = "sun table %s: %s" % (err.args[0], err.args[1])
        if not data and not self.trouble:
            self.trouble = "sun table missing: no file"
        self._rough = RoughSun()
        self.table = self.table or self._rough  # it never comes by that, but it leaves by it
        self.sun = Sun(self.table, s.site_latitude_udeg, s.site_longitude_udeg, s.site_altitude_m,
                       s.site_pressure_pa, s.site_temp_c)
        self.conditions.table_row = row
