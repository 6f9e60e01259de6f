"""Off the sun with the one axis that still turns: the farthest reading it can go to behind the sun.

Units: micro-degrees. The other axis stays where it stood when the dish was last on the sun; or its flag lies,
and it stands where it was sent: what is near the sun in one of these cases is not taken. Readings evenly
over the travel, ends included, are tried, the farthest from the sun first; the planner judges each way. Where
none is behind the sun, for the dish stands ahead of it, one is taken that only goes away from it, if it can
be to where it is behind.
"""

_PARTS = 16  # of the travel
_GAIN_UDEG = 3000000
_TELLS_UDEG = 12000000
_OFF_END_UDEG = 3000000  # of its travel, what is turned by time is sent no nearer
_UNSURE = 0.03  # rad, 1.7 deg: so much nearer than it knows its place it may stand behind


class OneAxis:
    """begin(), then step() until finished. legs: the way found, None if none; away_udeg: where it ends."""

    def __init__(self, sun, mount, planner):
        self.sun = sun
        self.mount = mount
        self.planner = planner
        self.legs = None
        self.away_udeg = 0
        self._pair = [0, 0]
        self._vec = [0.0, 0.0, 0.0]
        self._tries = []
        self._n = 0

    def away(self, a1, a2):
        """Angle from the sun at two readings [udeg]."""
        v = self._vec
        self.mount.geometry.enu_from_axes(a1, a2, v)
        return self.sun.separation_udeg(v[0], v[1], v[2])

    def begin(self, dead, a1, a2, sent, pole, tries):
        """dead: 1 or 2, the axis that does not turn; from these readings [udeg]; sent: where it should be;
        pole: the other one's reading there, beside which it may rest on either side. tries: any other reading
        will do, to see whether the axis left turns."""
        self._pair[0], self._pair[1] = a1, a2
        self.legs = None
        self.away_udeg = min(self.away(a1, a2), self.away(sent, a2) if dead == 1 else self.away(a1, sent))
        axis = self.mount.axes[2 - dead]
        off_end = _OFF_END_UDEG * axis.by_time  # turned by time it might push its stop
        low, high = axis.low_udeg + off_end, axis.high_udeg - off_end
        self._tries = []
        for i in range(_PARTS + 2):
            at = pole if i > _PARTS else low + (high - low) // _PARTS * i
            pair = (a1, at) if dead == 1 else (at, a2)
            away = min(self.away(pair[0], pair[1]), self.away(sent, at) if dead == 1 else self.away(at, sent))
            gains = away > self.away_udeg + _GAIN_UDEG or self.away_udeg < self.planner.loose_udeg <= away
            if abs(at - self._pair[2 - dead]) > _TELLS_UDEG if tries else gains:
                self._tries.append((-away, pair))
        self._tries.sort()
        self._n = 0
        self._next()

    def _next(self):
        """Each behind the sun; from ahead of it, where none is, each on which its distance never shrinks."""
        left = len(self._tries)
        if self._n == left and left and not self.planner.ahead_now(_UNSURE):
            self._n = 3 * left
        if self._n < 3 * left:
            self.planner.begin_given(self._pair, [self._tries[self._n % left][1]], self._n >= left, True)

    @property
    def finished(self):
        """Whether a way is found, or none is left to try."""
        return self._n >= 3 * len(self._tries)

    def step(self):
        """Do a bounded piece; True when finished."""
        left = len(self._tries)
        if self.finished or not self.planner.step():
            return self.finished
        away, pair = self._tries[self._n % left]
        # The way may pass the pole a little ahead, as one to the flags does; there it must not stay.
        ahead = self._n < 2 * left and self.planner.ahead_at(pair[0], pair[1])
        if self.planner.legs is not None and not ahead:
            self.legs = [pair]
            self.away_udeg = -away
            self._n = 3 * left
        else:
            self._n += 1
            self._next()
        return self.finished
