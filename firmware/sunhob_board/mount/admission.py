"""Which aims a planned way may pass or end at: behind the sun, at the pole, or never met by today's sun.

Units: micro-degrees for settings and hour angles, radians on the sky, unit vectors east, north, up.
Three axes fixed to the sun of begin(): along the elevated pole, across it towards the sun, and across it to
the side that is behind. In them an aim's component on the last axis is the sine of its distance from the
sun's hour circle, so that near the pole or the sun a lead is judged as it is on the sky.
A fixed aim meets the sun nearest where the sun's daily circle crosses the aim's own hour circle (there the
angle is the difference of declinations), or, if the sun does not get there in what is left of its day, at one
end of what is left. Without air; the sun counts as set 0.9 deg below the level, where its rim vanishes.
"""

import math

_UDEG = 180000000.0 / math.pi  # udeg in a radian
_HALF_TURN = 180000000
_NEAR_POLE = 0.05236  # 3 deg
_SIN_SET = -0.0157


def _dot(a, e, n, u):
    return a[0] * e + a[1] * n + a[2] * u


class Admission:
    """begin() with the sun as it stands, then margin(). ahead: udeg on the sky that an aim may lead by; near:
    how far from the pole [rad] all are admitted."""

    def __init__(self, ahead, loose, near=_NEAR_POLE):
        self._usual = near
        self.ahead = ahead / _UDEG
        self._loose = loose / _UDEG
        self._spot = [0.0, 0.0, 0.0]

    def begin(self, sun, pole):
        """Take the sun of this moment and the elevated pole [unit vector]."""
        self.sun = sun
        self._pole = pole
        self._admit(self._usual)
        z = _dot(pole, sun.e, sun.n, sun.u)
        x = sun.e - z * pole[0], sun.n - z * pole[1], sun.u - z * pole[2]
        r = math.sqrt(_dot(x, x[0], x[1], x[2]))
        side = -r if pole[1] < 0.0 else r
        self._to = x[0] / r, x[1] / r, x[2] / r
        self.behind = ((pole[1] * x[2] - pole[2] * x[1]) / side, (pole[2] * x[0] - pole[0] * x[2]) / side,
                       (pole[0] * x[1] - pole[1] * x[0]) / side)
        dec = sun.dec_udeg / _UDEG
        self._sin = math.sin(-dec if pole[1] < 0.0 else dec)  # counted towards the elevated pole
        self._cos = math.cos(dec)
        self._day(pole)

    def _admit(self, near):
        self._near = near
        self._cos_near = math.cos(near)

    def widens(self, near, e, n, u):
        """Admit all so near the pole [rad], for one that stands there; False if it does not, or all are."""
        if near <= self._near or _dot(self._pole, e, n, u) < math.cos(near):
            return False
        self._admit(near)
        return True

    def _day(self, pole):
        """What is left of the sun's day, as hour angles from now: until it is up, until it has set."""
        across = abs(pole[1]) * self._cos
        share = (_SIN_SET - pole[2] * self._sin) / across if across > 1e-6 else 2.0
        half = int(math.acos(max(-1.0, min(1.0, share))) * _UDEG)
        if share <= -1.0:
            self._first, self._left = 0, 2 * _HALF_TURN
        else:
            self._first, self._left = max(0, -half - self.sun.ha_udeg), half - self.sun.ha_udeg
        self._down = share >= 1.0 or self._left < 0
        self._ends = self._there(self._first), self._there(self._left)

    def _there(self, later):
        """Where the sun stands when it has gone on by so much hour angle."""
        at = self.sun.ha_udeg + later
        while at > _HALF_TURN:
            at -= 2 * _HALF_TURN
        self.sun.enu_from_dec_ha(self.sun.dec_udeg, at, self._spot)
        return tuple(self._spot)

    def margin(self, e, n, u, moved):
        """How far on the sky [rad] every aim around this one is admitted too; negative: this one is not.

        moved: hour angle the sun has gone on since begin() [rad], small.
        """
        to = _dot(self._to, e, n, u)
        behind = _dot(self.behind, e, n, u)
        now = behind + to * moved
        if now >= 0.0:
            return now
        z = _dot(self._pole, e, n, u)
        if z > self._cos_near:
            return self._near - math.acos(min(1.0, z))
        if now >= -self.ahead and to > 0.0:
            return 0.0
        if self._down:
            return math.pi
        return math.acos(max(-1.0, min(1.0, self._least_cos(e, n, u, z, to, behind)))) - self._loose

    def at_pole(self, e, n, u):
        """Whether an aim lies near the elevated pole."""
        return _dot(self._pole, e, n, u) > self._cos_near

    def _least_cos(self, e, n, u, z, to, behind):
        """Cosine of the least angle to the sun in what is left of its day."""
        ahead = int(-math.atan2(behind, to) * _UDEG)
        if ahead < self._first:
            ahead += 2 * _HALF_TURN
        if ahead <= self._left:
            return z * self._sin + math.sqrt(max(0.0, 1.0 - z * z)) * self._cos
        return max(_dot(self._ends[0], e, n, u), _dot(self._ends[1], e, n, u))
