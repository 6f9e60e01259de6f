"""Off the sun with the one axis that still turns: the farthest reading it can go to behind the sun.

Units: micro-degrees. The other axis stays where it stood when the dish was last on the sun; or its flag lies,
and it stands where it was sent: what is near the sun in one of these cases is not taken. Readings every few
degrees of the travel are tried, the farthest from the sun first; the planner judges each way.
"""

_STEP_UDEG = 12000000
_GAIN_UDEG = 3000000


class OneAxis:
    """begin(), then step() until True. legs: the way found, None if none; away_udeg: where it ends."""

    def __init__(self, sun, mount, planner):
        self.sun = sun
        self.mount = mount
        self.planner = planner
        self.legs = None
        self.away_udeg = 0
        self._pair = [0, 0]
        self._vec = [0.0, 0.0, 0.0]
        self._tries = []

    def away(self, a1, a2):
        """Angle from the sun at two readings [udeg]."""
        v = self._vec
        self.mount.geometry.enu_from_axes(a1, a2, v)
        return self.sun.separation_udeg(v[0], v[1], v[2])

    def begin(self, dead, a1, a2, sent):
        """dead: 1 or 2, the axis that does not turn; from these readings [udeg]; sent: where it should be."""
        self._pair[0], self._pair[1] = a1, a2
        self.legs = None
        self.away_udeg = min(self.away(a1, a2), self.away(sent, a2) if dead == 1 else self.away(a1, sent))
        axis = self.mount.axes[2 - dead]
        self._tries = []
        at = axis.low_udeg
        while at <= axis.high_udeg:
            pair = (a1, at) if dead == 1 else (at, a2)
            away = min(self.away(pair[0], pair[1]), self.away(sent, at) if dead == 1 else self.away(at, sent))
            if away > self.away_udeg + _GAIN_UDEG:
                self._tries.append((-away, pair))
            at += _STEP_UDEG
        self._tries.sort()
        self._next()

    def _next(self):
        if self._tries:
            self.planner.begin_given(self._pair, [self._tries[0][1]])

    def step(self):
        """Do a bounded piece; True when finished."""
        if not self._tries:
            return True
        if not self.planner.step():
            return False
        away, pair = self._tries.pop(0)
        if self.planner.legs is not None:
            self.legs = [pair]
            self.away_udeg = -away
            self._tries = []
            return True
        self._next()
        return not self._tries
