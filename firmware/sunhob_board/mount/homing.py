"""Finding home: cross the edge of the home flag slowly, in the direction in which moves end.

Units: micro-degrees, ms, permille of full speed. A flag is active while the axis stands at or below its home
angle. Passes: down to the edge, up over it, down over it, and up once more unless moves of this axis end
downwards; the last pass is slow and counts.
"""

_SEARCH_MARGIN_UDEG = 20000000
_BACK_PERMILLE = 125
_CAREFUL_PERMILLE = 550
_ROOM_UDEG = 5000000  # with less travel beyond home the search is slower
_SLOW_UDEG_PER_S = 100000
_NEAR_UDEG = 4000000


class Homing:
    """One axis after another; error holds the correction of each [udeg]."""

    def __init__(self, mount):
        self.mount = mount
        self.done = True
        self.failed = False
        self.error = [0, 0]
        self._order = ()
        self._within = 0
        self._i = 0
        self._pass = 0
        self._braking = False
        self._edge = 0

    def start(self, order, within=0):
        """within [udeg]: how far from home by the counts it looks; 0: all over the travel and beyond."""
        self._order = order
        self._within = within
        self._i = 0
        self._pass = 0
        self._braking = True
        self.done = False
        self.failed = False
        self.error[0] = self.error[1] = 0

    def tick(self, flags, now_ms):
        """True when the last axis has been placed."""
        if self.done:
            return not self.failed and len(self._order) > 0 and self._i >= len(self._order)
        if self._i >= len(self._order):
            self.done = not self.mount.moving
            return self.done
        n = self._order[self._i] - 1
        axis = self.mount.axes[n]
        if self._braking:
            if not axis.moving:
                self._braking = False
                self._go(axis)
            return False
        return self._watch(axis, n, bool(flags & (1 << n)), now_ms)

    def _watch(self, axis, n, active, now_ms):
        up = self._upwards()
        if active != up:  # the edge has been crossed
            self._edge = axis.here_udeg(now_ms)
            axis.stop()
            self._braking = True
            if self._pass == self._last(axis):
                self._found(axis, n)
            else:
                self._pass += 1
        elif not axis.moving:
            self.failed = True
            self.done = True
        return False

    @property
    def at(self):
        """The axis whose flag is looked for, 1 or 2; after a failure, that which was not found."""
        return self._order[self._i] if self._i < len(self._order) else 0

    def _upwards(self):
        """Whether this pass runs to larger readings."""
        return self._pass % 2 == 1

    def _last(self, axis):
        return 3 if axis.approach >= 0 else 2

    def _go(self, axis):
        way = axis.high_udeg - axis.low_udeg + _SEARCH_MARGIN_UDEG
        permille = _BACK_PERMILLE
        if self._pass == 0:
            room = min(axis.home_udeg - axis.low_udeg, axis.high_udeg - axis.home_udeg)
            permille = 1000 if room >= _ROOM_UDEG else _CAREFUL_PERMILLE
        if self._pass == self._last(axis):
            permille = max(1, axis.steps(_SLOW_UDEG_PER_S) * 1000 // axis.speed)
        if self._within:
            here, home = axis.position_udeg, axis.home_udeg
            if self._upwards():
                way = max(0, min(axis.high_udeg, home + self._within) - here)
            else:
                way = max(0, here - max(axis.low_udeg, home - self._within))
        if self._pass >= 2:  # the edge has been seen both ways: it is near, or the axis does not obey
            way = min(way, _NEAR_UDEG)
        axis.seek(way if self._upwards() else -way, permille)

    def _found(self, axis, n):
        """Shift the count of the axis so that the edge stands at home; it goes on braking meanwhile."""
        shift = axis.home_udeg - self._edge
        if axis.placed:
            self.error[n] = shift
        axis.shift(shift)
        self._pass = 0
        self._i += 1
