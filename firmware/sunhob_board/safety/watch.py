"""Everything that is watched beside clock, tables and pot, in one pass a tick. Units: ms.

What each part puts is declared in declared/interlocks.py.
"""

from ..core import panel as keys
from ..core.extras import Extras
from ..declared.interlocks import INDEX
from .around import Around
from .sun_check import SunCheck

_REFERENCE = INDEX["reference"]
_SMALL_UDEG = 300_000  # no more is mended at once by the sun: an axis that stands must show


class Watch:
    """extras: the further sensors and what they told last. sight: the sun as seen from the dish; place_check:
    the axes by their encoders; None where none are fitted."""

    def __init__(self, board, s, locks, mount):
        self.locks = locks
        self.mount = mount
        self.sight = None
        self.believes = True  # in the sun sensor, where it speaks against the counts
        self._sight_ms = self._new_ms = 0
        self.told = 0  # bit k: the encoder of axis k + 1 has just told anew
        if s.sensor_sun:
            from .sun_sight import SunSight

            self.sight = SunSight(s, mount)
        self.extras = Extras(board, s)
        self.around = Around(s, locks)
        self.sun_check = SunCheck(s, locks)
        self.place_check = None
        if s.sensor_axis1_encoder or s.sensor_axis2_tilt:
            from .place_check import PlaceCheck

            self.place_check = PlaceCheck(s, locks, mount, self.extras)

    def judge(self, dt_ms, app):
        extras, c, sensors = self.extras, app.controller, app.sensors
        sun = app.sun if app.sun_ok else None
        self.around.judge(extras, app.panel)
        if self.sight is not None:
            self._look(dt_ms, sun, sensors, app.clear_w_m2)
        self._by_time(app.panel.held // keys.HOME1)
        self.sun_check.judge(dt_ms, c, sun, app.conditions.north_age_h, app.clock, sensors, extras,
                             self.sight)
        if self.place_check is not None:
            self.place_check.judge(c, extras, self.sight)
            if self.sight is not None:
                self.sight.kept = self.place_check.kept
        self.told = extras.fresh & 3
        extras.fresh = 0

    def _look(self, dt_ms, sun, sensors, clear_w_m2):
        self._sight_ms += dt_ms
        self._new_ms = 0
        if self.extras.fresh & 4:
            self._new_ms, self._sight_ms = self._sight_ms, 0
            # tube and cell tell what of its light is the sun's: misread they set it beside its place
            got = None if self.locks.is_tripped(_REFERENCE) else self.extras.sun_w_m2
            self.sight.tick(self._new_ms, sun, got, sensors.beam_w_m2, sensors.open_w_m2, clear_w_m2)

    @property
    def fresh(self):
        """Whether the sun sensor has just told anew."""
        return self._new_ms > 0

    def _by_time(self, flags):
        """What an axis turned by time has done: it passes home as its flag changes, else by the sun
        where no encoder tells."""
        for k in (0, 1):
            axis = self.mount.axes[k]
            if axis.by_time and axis.moving:
                off = axis.home_udeg - axis.position_udeg
                if (off < 0) == bool(flags >> k & 1):
                    axis.seen(off)
                elif self._new_ms and self.sees and self.encoder(k + 1) is None:
                    axis.seen(self.sight.nearer(k, _SMALL_UDEG))

    def sun_speaks(self, leaving):
        """True when the sun sensor has news against the counts."""
        if self._new_ms == 0 or (leaving and not self.believes):
            return False
        return self.sight.speaks(self._new_ms, leaving)

    @property
    def suspects(self):
        """Whether the sun sensor speaks against the counts, but not yet for long."""
        return self.sight is not None and self.sight.bad_ms > 0

    @property
    def sees(self):
        """Whether the sun sensor tells where the sun is."""
        return self.believes and self.sight is not None and self.sight.lit

    def encoder(self, axis):
        """Reading [udeg] of axis 1 or 2 by its encoder; None without one."""
        return None if self.place_check is None else self.place_check.led(axis - 1)
