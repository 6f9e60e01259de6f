"""How to get to the home flags when the axes do not know their place.

Units: micro-degrees. After a stop chain or a restart in the middle of a move the last count is right to a
few degrees: from there a way to the flags beside the pole is planned as ever, at a margin, and they are
looked for there. Where the nearest end of the travel is another turn of axis 1, no flag is: from a clear
place it turns straight back if all of that is clear, else it rests at the pole with none looked for, for the
sun may stand between. With no count at all the dish may stand on the sun: one axis is turned home after the
other in an order that is behind the sun from there. If neither order is, it waits and asks again, until the
sun has moved on or the cook, who was told to cover the dish, presses LEAVE. No clock: one hemisphere turns
axis 1 the right way by itself, the other only from beyond the flag.
"""

from ..mount.planner import LEAVE
from .whereabouts import BLIND

_MARGIN_UDEG = 4000000
FLAGS_WITHIN_UDEG = 45000000  # how far from home, by counts that are doubted, the flags are looked for
_TURN = 360000000
_BOTH_WAYS = ((1, 2), (2, 1))


class FindHome:
    """begin(), then step() until finished. legs: a way to the flags; order: of the axes; both None: wait."""

    def __init__(self, s, sun, mount, planner):
        self.mount = mount
        self.sun = sun
        self.planner = planner
        self.finished = True
        self._north = s.site_latitude_udeg >= 0
        self._pair = [0, 0]
        self._vec = [0.0, 0.0, 0.0]

    def begin(self, rough, flags, sun_ok, pole):
        """rough: the counts are right to a few degrees; flags: bit 0 for axis 1, 1 for axis 2; pole: its
        readings."""
        self.legs = self.order = None
        self.finished = False
        self._rough = rough
        self._home = [axis.home_udeg for axis in self.mount.axes]
        if not sun_ok:
            self._end((1, 2) if self._north or flags & 1 else None)
        elif rough:
            self._tries = [0, 1]
            self._pole = pole
            home = pole if flags >= BLIND else self._home  # where no search follows, it rests
            self.planner.begin(home[0], home[1], LEAVE, None, _MARGIN_UDEG)
        elif not self._on_the_sun(flags):
            self._end((1, 2))
        else:
            self._tries = list(_BOTH_WAYS)
            self._next()

    def insist(self):
        """No order is behind the sun, and the cook at the dish wants it off: at once, and the cover is on."""
        self._end(_BOTH_WAYS[0])

    def _end(self, order):
        self.order = order
        self.finished = True

    def _on_the_sun(self, flags):
        """The readings at which it would stand on the sun, into _pair; False if the flags say that it does
        not, or the mount cannot reach it."""
        g = self.mount.geometry
        sun = self.sun
        pair = self._pair
        home = self._home
        keep = g.near
        g.near = home
        ok = g.axes_from_enu(sun.e, sun.n, sun.u, pair)
        g.near = keep
        lifted = self.mount.axes[1].homes and (pair[1] <= home[1]) != bool(flags & 2)
        if not ok or lifted:
            return False
        for turn in (0, -_TURN, _TURN):
            a1 = pair[0] + turn
            if g.low[0] <= a1 <= g.high[0] and (a1 <= home[0]) == bool(flags & 1):
                pair[0] = a1
                return True
        return False

    def _next(self):
        """Judge the next order of the axes, from the sun."""
        self._trying = self._tries.pop(0)
        a1, a2 = self._pair
        home = self._home
        corner = (home[0], a2) if self._trying[0] == 1 else (a1, home[1])
        self.planner.begin_given((a1, a2), [corner, home])

    def turned(self, a1_udeg):
        """Whether axis 1 at this reading is too far from its flag to look for it there."""
        axis = self.mount.axes[0]
        return axis.homes and abs(a1_udeg - axis.home_udeg) > FLAGS_WITHIN_UDEG

    def _back(self, turned):
        """Judge the straight way home from another turn of axis 1, out of a clear place; then to the pole."""
        v = self._vec
        self.mount.enu(v)
        away = self.sun.separation_udeg(v[0], v[1], v[2])
        if turned and self._tries.pop() and away >= self.planner.loose_udeg:
            self.mount.axes_udeg(self._pair)
            self.planner.begin_given(self._pair, [self._home], True)
        else:
            self._tries = []
            self.planner.begin(self._pole[0], self._pole[1], LEAVE)

    def step(self):
        """Do a bounded piece; True when finished."""
        if self.finished or not self.planner.step():
            return self.finished
        if self._rough:
            legs = self.legs = self.planner.legs
            turned = legs is not None and self.turned(legs[-1][0])
            if self._tries and (turned or legs is None):
                self._back(turned)
                return False
            self.finished = True
        elif self.planner.legs is not None:
            self._end(self._trying)
        elif self._tries:
            self._next()
        else:
            self._end(None)
        return self.finished
