"""Ways worth trying between two attitudes, one at a time. Units: axis readings in micro-degrees.

Straight; one axis first; over the top or past it; a quarter turn first; the same to the other turns of axis 1
or to the same end past the zenith; by way of points that trail the sun on its path, from which the pole or
the sun is reached along an hour circle.
"""

_TURN = 360000000
_HALF = 180000000
_TOP = 89900000
_PAST = 115000000  # past the zenith, where the travel reaches it
_PAST_LEAST = 100000000
_QUARTER = 90000000
_TRAILS = (25000000, 50000000, 80000000)
_HEIGHTS = (35000000, 65000000)


class Ways:
    """begin(), then next() until it gives None; each way is a list of (axis 1, axis 2)."""

    def __init__(self, mount, sun):
        self.mount = mount
        self.sun = sun
        self._vec = [0.0, 0.0, 0.0]
        self._point = [0, 0]

    def begin(self, start, a1, a2, leaving):
        """From the readings in start to (a1, a2) [udeg]."""
        self._p1, self._p2 = start
        self._leaving = leaving
        ends = self._all_ends(a1, a2, leaving)
        kept = [end for end in ends if self._eastern(end)] if leaving else ends
        self._others = [end for end in ends if end not in kept] if kept else []
        self._start(kept or ends)

    def _start(self, ends):
        self._ends = ends
        self._end = 0
        self._kind = 0
        self._queue = []

    def widen(self):
        """Go on with the ends left out at first; False if there are none."""
        self._start(self._others)
        self._others = []
        return len(self._ends) > 0

    def _all_ends(self, a1, a2, leaving):
        g = self.mount.geometry
        low, high = g.low[0], g.high[0]
        ends = [(a, a2) for a in (a1, a1 - _TURN, a1 + _TURN) if low <= a <= high]
        over = _HALF - a2
        if leaving and over <= g.high[1]:
            ends += [(a, over) for a in (a1 - _HALF, a1 + _HALF) if low <= a <= high]
        return ends

    def _eastern(self, end):
        """Whether axis 1 ends on the turn from which the morning sun is reached from behind."""
        east = _QUARTER - int(self.mount.geometry.north_deg * 1000000)
        if end[1] > _QUARTER:
            east += _HALF
        return abs(end[0] - east) <= _HALF

    def next(self):
        """The next way, or None when there are no more."""
        while not self._queue:
            if self._end >= len(self._ends):
                return None
            q1, q2 = self._ends[self._end]
            if self._kind == 0:
                self._plain(q1, q2)
            else:
                self._trail(q1, q2, _TRAILS[self._kind - 1])
            self._kind += 1
            if self._kind > len(_TRAILS):
                self._kind = 0
                self._end += 1
        return self._queue.pop(0)

    def _plain(self, q1, q2):
        p1, p2 = self._p1, self._p2
        self._queue.append([(q1, q2)])
        self._queue.append([(p1, q2), (q1, q2)])
        self._queue.append([(q1, p2), (q1, q2)])
        top = min(self.mount.geometry.high[1], _TOP)
        heights = (top,) + _HEIGHTS
        if self.mount.geometry.high[1] >= _PAST_LEAST:
            heights += (min(self.mount.geometry.high[1], _PAST),)
        for height in heights:
            if self.mount.geometry.admits(p1, height):
                self._queue.append([(p1, height), (q1, height), (q1, q2)])
        if self._leaving:
            for m1 in (p1 - _QUARTER, p1 + _QUARTER):
                if self.mount.geometry.admits(m1, p2):
                    self._queue.append([(m1, p2), (q1, q2)])
                    self._queue.append([(m1, p2), (m1, _HEIGHTS[0]), (q1, q2)])

    def _trail(self, q1, q2, lag):
        """By way of the point `lag` behind the sun, where the mount reaches it."""
        g = self.mount.geometry
        v = self._vec
        near = g.near
        keep = near[0], near[1]
        if not self._leaving:
            near[0], near[1] = q1, q2
        self.sun.trailing_aim(lag, v)
        ok = g.axes_from_enu(v[0], v[1], v[2], self._point)
        near[0], near[1] = keep
        if not ok:
            return
        m1, m2 = self._point
        self._queue.append([(m1, m2), (q1, q2)])
        if self._leaving:
            self._queue.append([(m1, m2), (m1, q2), (q1, q2)])
        else:
            self._queue.append([(m1, self._p2), (m1, m2), (q1, q2)])
