"""Axis angles to a direction and back, for any mount of two turning axes.

Units: axis angles in micro-degrees (integers), settings in degrees, directions as unit vectors e, n, u.

Base frame: z along axis 1; axis 1 is counted clockwise seen against z, from y towards x; axis 2 lifts from
the x-y plane towards z. An altaz mount set true has x east, y north, z up. A polar mount has z at the
elevated celestial pole and y at the foot of the meridian below it, so that axis 1 stands at 180 deg with the
sun at noon in either hemisphere. Then: turn by `north` clockwise, lean to the east, lean to the north.
True angle = axis reading + zero. `square` is the tilt of axis 2 out of the plane square to axis 1.
"""

import math

_UDEG = 1000000.0
_TURN = 360000000
_HALF = 180000000
_ROUGH_UDEG = 1000000.0
_CONE = 0.000001  # square of 0.001: how far inside the blind cone of a non-square mount still counts


def _product(p, q):
    """Matrix product of two 3 x 3 matrices kept row by row in 9 floats."""
    return [p[3 * i] * q[j] + p[3 * i + 1] * q[3 + j] + p[3 * i + 2] * q[6 + j]
            for i in range(3) for j in range(3)]


def _to_udeg(rad):
    return int(math.degrees(rad) * _UDEG)


class Geometry:
    """pole: the elevated pole. near: present readings [udeg]; of several solutions the soonest counts."""

    def __init__(self, s):
        self.near = [int(s.axis1_home_deg * _UDEG), int(s.axis2_home_deg * _UDEG)]
        self.low = (int(s.axis1_low_deg * _UDEG), int(s.axis2_low_deg * _UDEG))
        self.high = (int(s.axis1_high_deg * _UDEG), int(s.axis2_high_deg * _UDEG))
        self._zero = (int(s.axis1_zero_deg * _UDEG), int(s.axis2_zero_deg * _UDEG))
        self._slow = (1.0 / s.axis1_speed_deg_s, 1.0 / s.axis2_speed_deg_s)
        square = math.radians(s.mount_square_deg)
        self._sin_sq = math.sin(square)
        self._cos_sq = math.cos(square)
        self._polar = s.mount_kind == "polar"
        self._lat = math.radians(s.site_latitude_deg)
        self.pole = (0.0, math.copysign(math.cos(self._lat), self._lat), abs(math.sin(self._lat)))
        east = math.radians(s.mount_tilt_east_deg)
        north = math.radians(s.mount_tilt_north_deg)
        ce, se, cn, sn = math.cos(east), math.sin(east), math.cos(north), math.sin(north)
        self._lean = [ce, 0.0, se, -se * sn, cn, ce * sn, -se * cn, -sn, ce * cn]
        self.set_north_deg(s.mount_north_deg)

    def set_north_deg(self, deg):
        """Take the turn of the base from true north, clockwise [deg]."""
        self.north_deg = deg
        c = math.cos(math.radians(deg))
        s = math.sin(math.radians(deg))
        base = _product(self._lean, [c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0])
        if self._polar:
            base = _product(base, self._pole_frame())
        self._told = [None, None, 0.0, 0.0, 0.0]
        self._r = base  # columns: base axes x, y, z in east, north, up

    def _pole_frame(self):
        c = math.cos(self._lat)
        s = math.sin(self._lat)
        if self._lat >= 0:
            return [1.0, 0.0, 0.0, 0.0, s, c, 0.0, -c, s]
        return [-1.0, 0.0, 0.0, 0.0, s, -c, 0.0, -c, -s]

    def axes_from_enu(self, e, n, u, out):
        """Fill out with the readings [udeg] that aim at a unit vector; False, out as it was, if none."""
        r = self._r
        x = r[0] * e + r[3] * n + r[6] * u
        y = r[1] * e + r[4] * n + r[7] * u
        z = r[2] * e + r[5] * n + r[8] * u
        sin2 = z / self._cos_sq
        x0 = sin2 * self._sin_sq
        square = x * x + y * y - x0 * x0
        if square < -_CONE:
            return False
        cos2 = math.sqrt(square) if square > 0 else 0.0
        turn = math.atan2(x, y)
        best = self._take(turn - math.atan2(x0, cos2), math.atan2(sin2, cos2), -1.0, out)
        best = self._take(turn - math.atan2(x0, -cos2), math.atan2(sin2, -cos2), best, out)
        return best >= 0

    def _take(self, a1, a2, best, out):
        """Offer one solution [rad]; keeps it in out if it lies in the travel and is the soonest so far."""
        two = _to_udeg(a2) - self._zero[1]
        if two < self.low[1] - _HALF:
            two += _TURN
        if two < self.low[1] or two > self.high[1]:
            return best
        one = self.fold(_to_udeg(a1) - self._zero[0], self.near[0])
        if one is None:
            return best
        cost = max(abs(one - self.near[0]) * self._slow[0], abs(two - self.near[1]) * self._slow[1])
        if best < 0 or cost < best:
            out[0] = one
            out[1] = two
            return cost
        return best

    def fold(self, a1, near):
        """The turn of axis 1 [udeg] inside the travel that lies nearest to `near`; None if none does."""
        low = self.low[0]
        a1 = low + (a1 - low) % _TURN
        found = None
        while a1 <= self.high[0]:
            if found is None or abs(a1 - near) < abs(found - near):
                found = a1
            a1 += _TURN
        return found

    def admits(self, a1, a2):
        """Whether both readings [udeg] lie inside the travel."""
        return self.low[0] <= a1 <= self.high[0] and self.low[1] <= a2 <= self.high[1]

    def across(self, a2):
        """Share of a turn of axis 1 that the aim makes on the sky, axis 2 at this reading [udeg]."""
        return abs(math.cos(math.radians((a2 + self._zero[1]) / _UDEG)))

    def axis1_of(self, e, n, u):
        """Reading of axis 1 [udeg], any turn, whose half plane holds a direction (square axes)."""
        r = self._r
        x = r[0] * e + r[3] * n + r[6] * u
        y = r[1] * e + r[4] * n + r[7] * u
        return _to_udeg(math.atan2(x, y)) - self._zero[0]

    def turning_udeg(self, e, n, u):
        """Least reading of axis 2 [udeg] at which axis 1 may turn right round within 90 deg of a direction;
        its lower end where there is none."""
        z = self._r[2] * e + self._r[5] * n + self._r[8] * u
        return _to_udeg(math.acos(min(1.0, z))) - self._zero[1] if z > 0.0 else self.low[1]

    def enu_from_axes(self, a1, a2, out):
        """Fill out with the unit vector east, north, up aimed at with these readings [udeg]. A mount at rest
        asks for the same again and again: the last answer is kept."""
        told = self._told
        if told[0] == a1 and told[1] == a2:
            out[0], out[1], out[2] = told[2], told[3], told[4]
            return
        one = math.radians((a1 + self._zero[0]) / _UDEG)
        two = math.radians((a2 + self._zero[1]) / _UDEG)
        sin2 = math.sin(two)
        x0 = sin2 * self._sin_sq
        y0 = math.cos(two)
        c = math.cos(one)
        s = math.sin(one)
        x = c * x0 + s * y0
        y = c * y0 - s * x0
        z = sin2 * self._cos_sq
        r = self._r
        for i in range(3):
            told[2 + i] = out[i] = r[3 * i] * x + r[3 * i + 1] * y + r[3 * i + 2] * z
        told[0], told[1] = a1, a2

    def _to_base(self, e, n, u):
        """A direction in the base's axes x, y, z."""
        r = self._r
        return (r[0] * e + r[3] * n + r[6] * u, r[1] * e + r[4] * n + r[7] * u,
                r[2] * e + r[5] * n + r[8] * u)

    def seen_from_dish(self, e, n, u, a1, a2, out):
        """Fill out with a direction as seen from the dish at these readings [udeg]: to its right as one looks
        out along it, up from it, along it. The axes are taken as square."""
        x, y, z = self._to_base(e, n, u)
        one = math.radians((a1 + self._zero[0]) / _UDEG)
        two = math.radians((a2 + self._zero[1]) / _UDEG)
        ahead = x * math.sin(one) + y * math.cos(one)
        out[0] = x * math.cos(one) - y * math.sin(one)
        out[1] = z * math.cos(two) - ahead * math.sin(two)
        out[2] = ahead * math.cos(two) + z * math.sin(two)

    def axes_seeing(self, e, n, u, seen, near1, near2, out):
        """Fill out with the readings [udeg] at which a direction is seen so from the dish, those nearest to
        near1 and near2. Returns the cosine of its height over the plane of axis 1: how well that one is
        told."""
        x, y, z = self._to_base(e, n, u)
        size = math.sqrt(seen[1] * seen[1] + seen[2] * seen[2])
        height = math.asin(max(-1.0, min(1.0, z / max(size, 0.001))))
        off = math.atan2(seen[1], seen[2])
        across = math.sqrt(max(0.0, 1.0 - z * z))
        least = 0.0
        for at in (height - off, math.pi - height - off):  # before the zenith of axis 1, and beyond
            by = self._fold(_to_udeg(at) - self._zero[1] - near2)
            c = math.cos(at)
            s = math.sin(at)
            one = _to_udeg(math.atan2(x, y) - math.atan2(seen[0], seen[2] * c - seen[1] * s))
            turn = self._fold(one - self._zero[0] - near1)
            far = (abs(by) + _ROUGH_UDEG) * (abs(turn) * across + _ROUGH_UDEG)
            if far < least or not least:
                least = far
                out[0] = near1 + turn
                out[1] = near2 + by
        return across

    @staticmethod
    def _fold(udeg):
        return (udeg + _HALF) % _TURN - _HALF
