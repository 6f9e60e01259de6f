"""Ways worth trying between an aim near the sun and one far from it, one at a time.

Units: axis readings in micro-degrees. Each is thought of as leading off the sun and turned about for coming:
the sun only runs on, so what trails it one way trails it the other way too. Straight; one axis first; over
the top or past it; a quarter turn of axis 1 first, or to where all below the zenith is behind the sun; by way
of points that trail the sun on its path, from which the pole is reached along an hour circle; all that to
each turn of axis 1, or to the same end past the zenith.
"""

_TURN = 360000000
_HALF = 180000000
_TOP = 89900000
_PAST = 115000000  # past the zenith, where the travel reaches it
_PAST_LEAST = 100000000
_QUARTER = 90000000
_HARDLY_UDEG = 20000000  # from there it does not wind back by day
_TRAILS = (25000000, 50000000, 80000000)
_HEIGHTS = (35000000, 65000000)
_STEEP = 60000000  # with the sun higher than this the sides of its hour circle are tried
_SIDE = 89000000
_SPARE = 300000
_KINDS = 3 + len(_TRAILS)


class Ways:
    """begin(), then next() until it gives None; each way is a list of (axis 1, axis 2)."""

    def __init__(self, mount, sun):
        self.mount = mount
        self.sun = sun
        self._vec = [0.0, 0.0, 0.0]
        self._point = [0, 0]

    def begin(self, start, a1, a2, leaving, behind, spare, any_turn):
        """From the readings in start to (a1, a2) [udeg]; behind: a unit vector square to the sun's hour
        circle, on the side behind it. spare: another end for widen(), or None. any_turn: each turn of axis 1
        will do, for nothing matters but to be quick."""
        self._leaving = leaving
        self._start1, self._start2 = start
        self._behind = behind
        ends = self._all_ends(a1, a2)
        if leaving and any_turn:  # a little short of the next turn will do too
            g = self.mount.geometry
            for a, end in ((a1 - _TURN, g.low[0]), (a1 + _TURN, g.high[0])):
                if abs(a - end) < _HARDLY_UDEG:
                    ends.append((end, a2))
        near = _HARDLY_UDEG if self.sun.u > 0.0 else 0
        kept = [end for end in ends if any_turn or self.eastern(end) or abs(end[0] - self._start1) < near]
        if spare is not None:
            ends += [end for end in self._all_ends(spare[0], spare[1]) if self.eastern(end)]
        self._others = [end for end in ends if end not in kept] if kept else []
        self._open(kept or ends)

    def _open(self, ends):
        self._ends = ends
        self._end = 0
        self._kind = 0
        self._queue = []

    def widen(self):
        """Go on with the ends left out at first; False if there are none."""
        self._open(self._others)
        self._others = []
        return len(self._ends) > 0

    def _all_ends(self, a1, a2):
        g = self.mount.geometry
        low, high = g.low[0], g.high[0]
        ends = [(a, a2) for a in (a1, a1 - _TURN, a1 + _TURN) if low <= a <= high]
        over = _HALF - a2
        if g.low[1] <= over <= g.high[1]:
            ends += [(a, over) for a in (a1 - _HALF, a1 + _HALF) if low <= a <= high]
        return ends

    def eastern(self, end):
        """Whether axis 1 stands on the turn from which the morning sun is reached from behind."""
        east = _QUARTER - int(self.mount.geometry.north_deg * 1000000)
        if end[1] > _QUARTER:
            east += _HALF
        return abs(end[0] - east) <= _HALF

    def next(self):
        """The next way, or None when there are no more."""
        while not self._queue:
            if self._end >= len(self._ends):
                return None
            here = self._start1, self._start2
            there = self._ends[self._end]
            near, far = (here, there) if self._leaving else (there, here)
            kind = self._kind
            if kind < 3:
                (self._plain, self._heights, self._sides)[kind](near, far)
            else:
                self._trail(near, far, _TRAILS[kind - 3])
            self._kind += 1
            if self._kind == _KINDS:
                self._kind = 0
                self._end += 1
        return self._queue.pop(0)

    def _offer(self, near, far, corners):
        """Put a way off the sun, or the same turned about, into the queue if the mount can go it."""
        for a1, a2 in corners:
            if not self.mount.geometry.admits(a1, a2):
                return
        if self._leaving:
            self._queue.append(corners + [far])
        else:
            self._queue.append(corners[::-1] + [near])

    def _plain(self, near, far):
        self._offer(near, far, [])
        self._offer(near, far, [(near[0], far[1])])
        self._offer(near, far, [(far[0], near[1])])

    def _heights(self, near, far):
        high = self.mount.geometry.high[1]
        for height in (min(high, _TOP),) + _HEIGHTS:
            self._offer(near, far, [(near[0], height), (far[0], height)])
        if high >= _PAST_LEAST:
            height = min(high, _PAST)
            self._offer(near, far, [(near[0], height), (far[0], height)])

    def _sides(self, near, far):
        """Axis 1 first: a quarter turn; near the zenith, to either side of the sun's hour circle, so high
        that the turn does not cross it."""
        for m1 in (near[0] - _QUARTER, near[0] + _QUARTER):
            self._offer(near, far, [(m1, near[1])])
        if near[1] < _STEEP:
            return
        g = self.mount.geometry
        v = self._behind
        middle = g.axis1_of(v[0], v[1], v[2])
        height = max(near[1], min(g.high[1], g.turning_udeg(v[0], v[1], v[2]) + _SPARE))
        for side in (-_SIDE, 0, _SIDE):
            m1 = g.fold(middle + side, near[0])
            if m1 is None:
                continue
            rise = [(near[0], height)] if height > near[1] else []
            self._offer(near, far, rise + [(m1, height)])

    def _trail(self, near, far, lag):
        """By way of the point `lag` behind the sun, where the mount reaches it."""
        g = self.mount.geometry
        keep = g.near[0], g.near[1]
        g.near[0], g.near[1] = near
        v = self._vec
        self.sun.trailing_aim(lag, v)
        ok = g.axes_from_enu(v[0], v[1], v[2], self._point)
        g.near[0], g.near[1] = keep
        if ok:
            m1, m2 = self._point
            self._offer(near, far, [(m1, m2)])
            self._offer(near, far, [(m1, m2), (m1, far[1])])
