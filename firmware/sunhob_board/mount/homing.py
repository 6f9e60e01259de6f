"""Finding home: cross the edge of the home flag, go back a little, and cross it again, each time slower.

Units: micro-degrees, ms, permille of full speed. A flag is active while the axis stands at or below its home
angle, and so tells which way home lies: no search need run farther than home is from that end of the travel.
All but the first pass run in the direction in which moves of the axis end; the last one counts. An axis that
comes near its flag by a rough count makes its first pass slowly, and only one after it.
"""

_MARGIN_UDEG = 3000000  # an axis may stand a little past its travel
_CAREFUL_PERMILLE = 550
_ROOM_UDEG = 5000000  # with less travel beyond home the search is slower
_SLOW_UDEG_PER_S = 100000
_AGAIN_PERMILLE = 125
_LEAD_UDEG = 250000
_LATE_MS = 60  # at which an edge is seen
_NEAR_UDEG = 4000000
_FAR_UDEG = 45000000  # so far from home by a rough count a flag is looked for,
_PAST_UDEG = 5000000  # and so far past the travel: it may be wrong by that
_SHORT_UDEG = 60000000  # of more, most may have been pushed against a stop
_FIRST, _AGAIN, _SLOW, _FOUND, _FAILED = range(5)


class Search:
    """One axis: start(), then tick() until True. error: by how much its count was wrong [udeg], 0 if it had
    none. stays: it does not go back, its flag not found."""

    def __init__(self, axis):
        self.axis = axis
        self.stage = _FOUND
        self.error = 0

    def start(self, within, near):
        self.stage = _FIRST
        self.error = 0
        self.stays = False
        self._within = within
        self._far = within or (near and _FAR_UDEG)
        self._near = near
        self._stands = self._back = False  # it may still brake

    def tick(self, active, now_ms):
        """True when it has ended, found or not."""
        axis = self.axis
        if self.stage >= _FOUND:
            return not axis.moving
        if not self._stands:
            if not axis.moving:
                self._stands = True
                if self.stage == _FIRST:
                    self._began = axis.position_udeg
                self._go(active)
        elif not self._back and active != self._up:  # the edge has been crossed
            edge = axis.crossing(now_ms)
            if edge is not None:
                self._cross(edge)
        elif not axis.moving:
            lies = self._back and active != (axis.approach >= 0)  # gone back over the edge, it says otherwise
            if (self._back or self._near) and not lies:  # not near: look farther, as fast as ever
                self._back = self._near = False
                self._go(active)
            else:
                self.stage = _FAILED
                back = self._began - axis.position_udeg
                if not self.stays and (self._within or abs(back) < _SHORT_UDEG):
                    # flag or axis: to where it came from
                    axis.seek(back, 1000)
        return False

    def _cross(self, edge):
        axis = self.axis
        axis.stop()
        self._stands = False
        self._edge = edge
        self._back = self.stage < _SLOW
        self.stage += 2 if self._near and self.stage == _FIRST else 1
        if self._back:
            return
        shift = axis.home_udeg - edge  # the edge stands at home: it goes on braking meanwhile
        if axis.placed:
            self.error = shift
        axis.shift(shift)

    def _go(self, active):
        axis = self.axis
        last_up = axis.approach >= 0
        if self._back:
            lead = _LEAD_UDEG + axis.udeg(axis.speed) // 1000 * self._permille // 1000 * _LATE_MS
            axis.seek(self._edge - axis.position_udeg + (-lead if last_up else lead), 1000)
            return
        self._up = last_up
        way = _NEAR_UDEG
        twice = 2 if self._within else 1  # in a doubt, perhaps in loose light: quick rather than fine
        permille = _AGAIN_PERMILLE * twice
        if self.stage == _SLOW:
            permille = max(1, axis.steps(_SLOW_UDEG_PER_S) * twice * 1000 // axis.speed)
        elif self.stage == _FIRST:
            self._up = active
            if not self._near:
                room = min(axis.home_udeg - axis.low_udeg, axis.high_udeg - axis.home_udeg)
                way = self._way()
                permille = 1000 if room >= _ROOM_UDEG else _CAREFUL_PERMILLE
            elif self._within:
                way = min(way, self._way())
        self._permille = permille
        axis.seek(way if self._up else -way, permille)

    def _way(self):
        axis = self.axis
        low, high, home = axis.low_udeg, axis.high_udeg, axis.home_udeg
        if not self._far:
            return (home - low if self._up else high - home) + _MARGIN_UDEG
        here = axis.position_udeg
        past = 0 if self._within else _PAST_UDEG
        if self._up:
            return max(0, min(high + past, home + self._far) - here)
        return max(0, here - max(low - past, home - self._far))


class Homing:
    """Both axes at once, or one after the other."""

    def __init__(self, axes):
        self.searches = (Search(axes[0]), Search(axes[1]))
        self.done = True
        self._order = ()
        self._together = False

    def start(self, order, within=0, together=False):
        """within [udeg]: how far from home by the counts it looks; 0: all over the travel. together: the axes
        came near their flags by a rough count, and need not be quick."""
        self._order = order
        self._together = together
        self.done = False
        for n in order:
            self.searches[n - 1].start(within, together)

    def tick(self, flags, now_ms):
        """True when the last axis has been placed."""
        if self.done:
            return not self.missed
        for n in self._order:
            search = self.searches[n - 1]
            if not search.tick(bool(flags & n), now_ms) and not self._together:
                return False
            if search.stage == _FAILED and not self._together:
                break
        else:
            for n in self._order:
                if self.searches[n - 1].axis.moving or self.searches[n - 1].stage < _FOUND:
                    return False
        self.done = True
        return not self.missed

    def found(self, n):
        """Whether axis 1 or 2 has just been placed."""
        return self.searches[n - 1].stage == _FOUND

    @property
    def missed(self):
        """The axis whose flag was not found where it was looked for, 1 or 2; 0: none, or not yet."""
        for n in self._order:
            if self.done and not self.found(n):
                return n
        return 0
