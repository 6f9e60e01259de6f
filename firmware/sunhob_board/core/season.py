"""The season of a mount whose axis 2 is turned by hand: what the cook set, what to set, and when again.

Units: micro-degrees of axis 2's scale, days. The sun's season moves by up to 0.4 deg a day. The angle to set
lies ahead of it by most of the band that `tracking.season_band_deg` allows, so that it holds for longest.
Confirmed over the link, or at the dish: parked, CONFIRM held for three seconds with no fault to clear takes
the angle told as set.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..link.rpc import RpcRefusal
from ..mount.hand_axis import HandGeometry  # noqa: F401 (App takes it and HandPark from here)
from ..sun.table import TableError
from . import panel as keys
from .hand_park import HandPark  # noqa: F401

_I = table.INDEX
_SLOT = "season"
_MARK_UDEG = 100000  # the scale is read to a tenth of a degree
_DAY_UDEG = 400000  # the most that the season moves in a day
_AHEAD = 0.8  # of the band
_LONGEST = 60  # days looked ahead
_HOLD_MS = 3000
_AT_REST = (modes.PARKED, modes.LOCKED, modes.BY_HAND)


class Season:
    """set_udeg: as confirmed, None never; off_udeg: sun's season less that; to_udeg: what to set today;
    due_days: until it is off by more than the band, -1 not known yet."""

    def __init__(self, app):
        s = app.s
        self.app = app
        self.sun = app.sun
        self.locks = app.locks
        self.set_udeg = self.to_udeg = None
        self.off_udeg = 0
        self.due_days = -1
        self._sign = 1 if s.site_latitude_udeg >= 0 else -1
        self._zero = int(s.axis2_zero_deg * 1000000)
        self._band = int(s.tracking_season_band_deg * 1000000)
        self._day = self._k = -1
        self._free = False
        try:
            self._put(int(app.slots.load(_SLOT) or b""))
        except ValueError:
            pass

    def _put(self, udeg):
        self.set_udeg = udeg
        mount = self.app.mount
        mount.axes[1].set_position(udeg)
        mount.geometry.near[1] = udeg

    def take(self, udeg):
        """The cook has set axis 2 to this reading; the place where the dish rests goes with it."""
        a = self.app
        self._put(udeg)
        self._day = -1
        self.off_udeg = self._reading(self.sun.dec_udeg) - udeg
        a.emit(ev.CODES["saved"], 0, int(a.slots.save(_SLOT, str(udeg).encode())))
        a.emit(ev.CODES["season_set"], udeg // 1000, self.off_udeg // 1000)
        a.set_park()
        a.controller.rest.look(not a.controller.homing_needed)
        a.controller.disarm_afar()

    def asked(self, params):
        """The link's `set` with what = season: the reading confirmed from afar."""
        deg = params.get("angle_deg")
        if deg is None:
            raise RpcRefusal(-32602, "season: angle_deg is needed")
        if not self._may_set():
            raise RpcRefusal(-32000, "the season is set only while parked, at rest and covered")
        self.take(int(deg * 1000 + (0.5 if deg >= 0 else -0.5)) * 1000)
        return self.told()

    def _may_set(self):
        """Whether hands may be at the screw now."""
        return self.app.controller.mode in _AT_REST and not self.app.controller.busy

    def _reading(self, dec_udeg):
        return self._sign * dec_udeg - self._zero

    def judge(self):
        """Put the rows that are bad; take what was told as set where the cook confirms it at the dish."""
        a = self.app
        if self.set_udeg is None:
            self.locks.put(_I["season_off"])
        if not a.sun_ok:
            return
        if self.set_udeg is not None:
            off = self.off_udeg = self._reading(self.sun.dec_udeg) - self.set_udeg
            if abs(off) > self._band:
                self.locks.put(_I["season_due"], off // 1000)
            if abs(off) > self._band + _DAY_UDEG:
                self.locks.put(_I["season_off"], off // 1000)
        self._look_ahead(a.clock.day, a.clock.ms)
        held = a.panel.held & keys.CONFIRM
        if not held or a.panel.held_ms < _HOLD_MS:
            self._free = held and not self.locks.latch
        elif self._free:
            self._free = False
            if self._may_set() and self.to_udeg is not None:
                self.take(self.to_udeg)

    def _look_ahead(self, day, ms):
        """One day more at each call: what to set, then until when what is set will do."""
        if day != self._day:
            self._day, self._k = day, 0
            self.due_days = -1
        if self.due_days >= 0 or (self._k > 0 and self.set_udeg is None):
            return
        self._k += 1
        try:
            self.sun.table.at(day + self._k, ms)
        except TableError:
            self.due_days = self._k
            return
        then = self._reading(self.sun.table.dec_udeg)
        if self._k == 1:
            now = self._reading(self.sun.dec_udeg)
            ahead = self._band * _AHEAD if then > now else -self._band * _AHEAD
            self.to_udeg = (now + int(ahead) + _MARK_UDEG // 2) // _MARK_UDEG * _MARK_UDEG
        if self.set_udeg is not None and (abs(then - self.set_udeg) > self._band or self._k >= _LONGEST):
            self.due_days = self._k

    def told(self):
        """For the status [deg, days]."""
        told = {"season_off_deg": self.off_udeg / 1e6, "season_due_days": self.due_days}
        for name, udeg in (("season_deg", self.set_udeg), ("season_set_to_deg", self.to_udeg)):
            told[name] = None if udeg is None else udeg / 1e6
        return told
