"""Which aims a planned way may pass or end at: behind the sun, at the pole, or never met by today's sun.

Units: micro-degrees, unit vectors east, north, up. A fixed aim meets the sun nearest where the sun's daily
circle crosses the aim's own hour circle (there the angle is the difference of declinations), or, if the sun
does not get there in what is left of its day, at one end of what is left: cos(angle) = z sin(dec) +
cos(dec) r cos(hour angle apart) has no other maximum. Without air; the sun counts as set 0.9 deg below the
level, where its upper rim vanishes.
"""

import math

_UDEG = 180000000.0 / math.pi  # udeg in a radian
_HALF_TURN = 180000000
_COS_NEAR_POLE = 0.99863  # 3 deg
_SIN_SET = -0.0157


class Admission:
    """begin() with the sun as it stands, then admits(). ahead: udeg on the sky that an aim may lead by."""

    def __init__(self, ahead, loose):
        self._ahead = ahead
        self._cos_loose = math.cos(loose / _UDEG)
        self._spot = [0.0, 0.0, 0.0]

    def begin(self, sun, pole):
        """Take the sun of this moment and the elevated pole [unit vector]."""
        self.sun = sun
        self.pole = pole
        dec = sun.dec_udeg / _UDEG
        if pole[1] < 0.0:
            dec = -dec  # counted towards the elevated pole
        self._sin = math.sin(dec)
        self._cos = math.cos(dec)
        across = abs(pole[1]) * self._cos
        share = (_SIN_SET - pole[2] * self._sin) / across if across > 1e-6 else 2.0
        half = int(math.acos(max(-1.0, min(1.0, share))) * _UDEG)
        self._first = max(0, -half - sun.ha_udeg)  # hour angle until it is up, and until it has set
        self._left = half - sun.ha_udeg
        self._down = share >= 1.0 or (self._left < 0 and share > -1.0)
        if share <= -1.0:
            self._first = 0
            self._left = 2 * _HALF_TURN
        self._ends = (self._there(self._first), self._there(self._left))

    def _there(self, later):
        """Where the sun stands when it has gone on by so much hour angle."""
        at = self.sun.ha_udeg + later
        while at > _HALF_TURN:
            at -= 2 * _HALF_TURN
        self.sun.enu_from_dec_ha(self.sun.dec_udeg, at, self._spot)
        return tuple(self._spot)

    def admits(self, e, n, u, behind, moved):
        """Whether an aim is allowed: behind is its hour angle behind the sun of begin() [udeg, -180e6 to
        180e6], moved what the sun has gone on since."""
        now = behind + moved
        if 0 <= now <= _HALF_TURN:
            return True
        pole = self.pole
        z = e * pole[0] + n * pole[1] + u * pole[2]
        if z > _COS_NEAR_POLE:
            return True
        r = math.sqrt(max(0.0, 1.0 - z * z))
        if now < 0 and -now * r <= self._ahead:
            return True
        return self._down or self.least_cos(e, n, u, behind, z, r) <= self._cos_loose

    def least_cos(self, e, n, u, behind, z, r):
        """Cosine of the least angle to the sun in what is left of its day; z along the pole, r across."""
        ahead = -behind
        if ahead < self._first:
            ahead += 2 * _HALF_TURN
        if ahead <= self._left:
            return z * self._sin + r * self._cos
        best = -1.0
        for end in self._ends:
            best = max(best, e * end[0] + n * end[1] + u * end[2])
        return best
