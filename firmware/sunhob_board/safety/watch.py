"""Everything that is watched beside clock, tables and pot, in one pass a tick. Units: ms.

What each part puts is declared in declared/interlocks.py.
"""

from ..core.extras import Extras
from ..declared import interlocks as table
from .around import Around
from .place_check import PlaceCheck
from .sun_check import SunCheck

_DOUBTS = tuple([table.INDEX[name] for name in table.PLACE_DOUBT])


class Watch:
    """extras: the further sensors and what they told last."""

    def __init__(self, board, s, locks, mount):
        self.locks = locks
        self._doubted = False
        self.extras = Extras(board, s)
        self.around = Around(s, locks)
        self.sun_check = SunCheck(s, locks)
        self.place_check = PlaceCheck(s, locks, mount)

    def judge(self, dt_ms, app):
        extras, c, sensors = self.extras, app.controller, app.sensors
        extras.tick(dt_ms)
        sun = app.sun if app.sun_ok else None
        self.around.judge(extras, app.panel)
        self.sun_check.judge(dt_ms, c, sun, app.north_deg, app.conditions.north_age_h, app.clock, sensors,
                             extras)
        self.place_check.judge(c, extras)

    def doubts(self):
        """True once, when an encoder has spoken against the count of its axis."""
        found = False
        for i in _DOUBTS:
            if self.locks.tripped[i]:
                found = True
        new = found and not self._doubted
        self._doubted = found
        return new
