"""Which of the aims behind the sun to hold, and how much heat the dish gives where it really stands.

Units: angles in udeg, position angles in degrees, heat in permille of what a dish dead on the sun would give
now, W, W/m2; stray in 1/250 of the light. A few trails are looked at in turn, a bounded piece at each tick.
Of those that the mount reaches and that keep the whole dwell behind the sun, the one with the least stray
light is taken; the sun's own path wins ties, and another must be clearly better to be changed to.
"""

import math

from .table import STRAY_UNIT, UNIT
from .trail import Attitude, Trail

ANGLES_DEG = (0, 30, -30, 55, -55)  # the first is the sun's own path
_HALF_TURN = 180000000
_OUT = 10000
_PATH_WINS = STRAY_UNIT // 50
_CHANGE = STRAY_UNIT // 25
_PAUSE_MS = 60000  # the sun goes 0.25 deg meanwhile
_SAME_UDEG = 1000000  # nearer the sun than this, trails are much the same


class Aims:
    """ready: a trail is in use; angle_deg tells which. permille_now: heat where the axes stand."""

    def __init__(self, table, sun, mount, s):
        self.sun = sun
        self.mount = mount
        self.table = table
        lat = s.site_latitude_udeg * 1.7453293e-8
        self._pole = (math.cos(lat), math.sin(lat))
        self._least = int(s.heat_least_percent * 10)
        self.half_udeg = int(s.tracking_deadband_deg * 500_000)
        self._pair = (Trail(table, lat), Trail(table, lat))
        self._in_use = -1
        self._used = 0  # index in ANGLES_DEG
        self._trying = -1
        self._pause_ms = self._looked_for = 0
        self._whole = True  # this round looks at all trails
        self._turn = 0
        self._angles = ANGLES_DEG[:1] if s.axis2_drive == "hand" else ANGLES_DEG
        self._scores = [_OUT] * len(self._angles)
        self._vec = [0.0, 0.0, 0.0]
        self._axes = [0, 0]
        self._here = Attitude()
        self.permille_now = 0
        self.share_now = 0
        self._full_now = UNIT

    @property
    def ready(self):
        return self._in_use >= 0

    @property
    def angle_deg(self):
        return self._pair[self._in_use].angle_deg if self._in_use >= 0 else 0

    def lag_udeg(self, permille):
        """Lag on the trail in use at which the pot gets no more than this; 0 before one is known."""
        return self._pair[self._in_use].lag_udeg(permille) if self._in_use >= 0 else 0

    def aim(self, lag_udeg, out):
        """Fill out with the direction to aim at; along the sun's own path up to the lag 0 and ahead of it."""
        if lag_udeg <= 0 or self._in_use < 0:
            self.sun.trailing_aim(lag_udeg, out)
            return
        trail = self._pair[self._in_use]
        trail.turn(self.sun)
        trail.aim(lag_udeg, out)

    def turn_with_sun(self, angle_rad, vec):
        """Turn vec about the pole, the way the sun goes, in place."""
        c, s = self._pole
        e, n, u = vec
        cos, sin = math.cos(angle_rad), math.sin(angle_rad)
        along = (n * c + u * s) * (1.0 - cos)
        vec[0] = e * cos + (n * s - u * c) * sin
        vec[1] = n * cos - e * s * sin + c * along
        vec[2] = u * cos + e * c * sin + s * along

    # --- looking at the trails in turn ---------------------------------------------------------

    def step(self, permille, dt_ms=_PAUSE_MS):
        """A bounded piece of looking, for heat of so many permille; the sun must be known. For another heat a
        round of all trails; else, after a pause, the trail in use and one more. dt_ms: time since the last
        call."""
        if self._pause_ms > 0:
            self._pause_ms -= dt_ms
            if self._pause_ms > 0 and permille == self._looked_for:
                return
            self._pause_ms = 0
        spare = self._pair[1 - self._in_use] if self._in_use >= 0 else self._pair[0]
        if self._trying < 0:
            self._trying = 0
            self._whole = permille != self._looked_for
            self._looked_for = permille
            spare.start(self.sun, self._order(0))
            return
        if not spare.step(self._least):
            return
        index = self._angles.index(spare.angle_deg)
        self._scores[index] = self._score(spare, permille)
        if index == self._used:
            self._in_use = 1 - self._in_use if self._in_use >= 0 else 0
            spare = self._pair[1 - self._in_use]
        if self._trying > 0 and not self._whole:
            self._trying = len(self._angles)
        self._trying += 1
        if self._trying >= len(self._angles) or self.lag_udeg(permille) < _SAME_UDEG:
            self._choose(permille)
            self._trying = 0
            if self.angle_deg == self._order(0):  # another trail is looked at afresh at once
                self._trying = -1
                self._pause_ms = _PAUSE_MS
                return
        elif not self._whole:
            self._turn = self._turn % (len(self._angles) - 1) + 1
            self._trying = self._turn
        spare.start(self.sun, self._order(self._trying))

    def _order(self, i):
        """The trail in use first, so that it is the freshest."""
        return self._angles[(self._used + i) % len(self._angles)]

    def _score(self, trail, permille):
        """Stray light of an aim, or _OUT where the mount or the sun forbids it."""
        lag = trail.lag_udeg(permille)
        if lag <= self.half_udeg:
            return 0
        vec = self._vec
        trail.aim(lag - self.half_udeg, vec)
        if not 0 < self.sun.behind_udeg(vec[0], vec[1], vec[2]) < _HALF_TURN:
            return _OUT
        trail.aim(lag, vec)
        if not self.mount.geometry.axes_from_enu(vec[0], vec[1], vec[2], self._axes):
            return _OUT
        return trail.stray(lag)

    def _choose(self, permille):
        """Take the best trail; it comes into use when it has been looked at afresh."""
        best, least = 0, _OUT
        if self.lag_udeg(permille) >= _SAME_UDEG:
            for i in range(len(self._angles)):
                score = self._scores[i] + (_PATH_WINS if i else 0) - (_CHANGE if i == self._used else 0)
                if self._scores[i] < _OUT and score < least:
                    best, least = i, score
        self._used = best

    # --- where it really stands -------------------------------------------------------------------

    def estimate(self):
        """Heat from where the axes are: permille_now of full heat now, share_now in the table's unit."""
        self.mount.enu(self._vec)
        sun, here, table = self.sun, self._here, self.table
        here.look(self._vec[0], self._vec[1], self._vec[2], sun.e, sun.n, sun.u)
        flat = math.sqrt(max(0.0, 1.0 - sun.u * sun.u))
        self._full_now = max(1, table.share(0, int(math.degrees(math.atan2(sun.u, flat)) * 1000000), 0))
        if here.lag_udeg // 1000 > table.lags_mdeg[-1] or sun.u <= 0.0:
            self.share_now = 0
        else:
            self.share_now = table.share(here.lag_udeg, here.elevation_udeg, here.direction_udeg)
        self.permille_now = (min(self.share_now, 2 * self._full_now) * 1000) // self._full_now

    def heat_w(self, beam_w_m2):
        """Heat into the pot now [W], at this beam."""
        return self.table.full_dw * 1e-4 * beam_w_m2 * self.share_now / UNIT

    def full_w(self, beam_w_m2):
        """Heat it would get now from a dish dead on the sun [W], at this beam."""
        return self.table.full_dw * 1e-4 * beam_w_m2 * self._full_now / UNIT
