"""One line of aims behind the sun, and the heat along it: lag from heat and back, never rising.

Units: lag and angles in udeg, position angles in whole degrees, heat in permille of what the pot would get
now from a dish dead on the sun, stray in 1/250 of the light. A trail leaves the apparent sun along a great
circle at a position angle from the east of its daily path, positive towards the north celestial pole; between
-90 and 90 deg its aims are hour-angle-behind. Profiles are filled a few lags at a time.
"""

import array
import math

UDEG = 180000000.0 / math.pi
_FINE = 100  # parts of a permille in the profile
_KNOTS = 2  # lags looked up in one call of step(): a few ms on the slowest board


def _udeg(y, x):
    """Angle of (x, y), to the nearest: at a lag of the grid the last bit of a float must not decide."""
    return math.floor(math.atan2(y, x) * UDEG + 0.5)


class Attitude:
    """Where a dish axis stands to the sun: lag_udeg, elevation_udeg, direction_udeg."""

    def __init__(self):
        self.lag_udeg = self.elevation_udeg = self.direction_udeg = 0

    def look(self, e, n, u, sun_e, sun_n, sun_u):
        """Take a dish axis and a sun, both unit vectors east, north, up."""
        flat2 = e * e + n * n
        flat = math.sqrt(flat2)
        right = sun_e * n - sun_n * e
        up = sun_u * flat2 - u * (sun_e * e + sun_n * n)
        if flat > 1e-4:
            right /= flat
            up /= flat
        along = sun_e * e + sun_n * n + sun_u * u
        self.lag_udeg = _udeg(math.sqrt(right * right + up * up), along) if flat > 1e-4 else _udeg(
            math.sqrt(sun_e * sun_e + sun_n * sun_n), along)
        self.elevation_udeg = _udeg(u, flat)
        self.direction_udeg = _udeg(right, up)


class Trail:
    """One trail of one sun; ready when its profile is whole."""

    def __init__(self, table, latitude_rad):
        self.table = table
        self._pole = (math.cos(latitude_rad), math.sin(latitude_rad))
        n = len(table.lags_mdeg)
        self.profile = array.array("i", [0] * n)
        self._n = n
        self._k = 0
        self.ready = False
        self.angle_deg = 0
        self._sun = [0.0, 0.0, 1.0]
        self._way = [1.0, 0.0, 0.0]
        self._aim = [0.0, 0.0, 1.0]
        self._seen = Attitude()

    def start(self, sun, angle_deg):
        """Begin anew from the sun as it stands, at this position angle."""
        self.angle_deg = angle_deg
        self.turn(sun)
        self._k = 0
        self.ready = False

    def turn(self, sun):
        """Take the sun as it stands now; the profile stays as it was filled."""
        c, s = self._pole
        e, n, u = sun.e, sun.n, sun.u
        east = (c * u - s * n, s * e, -c * e)
        size = math.sqrt(east[0] * east[0] + east[1] * east[1] + east[2] * east[2])
        a = math.cos(math.radians(self.angle_deg)) / size
        b = math.sin(math.radians(self.angle_deg)) / size
        self._sun[0], self._sun[1], self._sun[2] = e, n, u
        way = self._way
        way[0] = a * east[0] + b * (n * east[2] - u * east[1])
        way[1] = a * east[1] + b * (u * east[0] - e * east[2])
        way[2] = a * east[2] + b * (e * east[1] - n * east[0])

    def aim(self, lag_udeg, out):
        """Fill out with the direction `lag_udeg` behind the sun on this trail."""
        c = math.cos(lag_udeg / UDEG)
        s = math.sin(lag_udeg / UDEG)
        for i in range(3):
            out[i] = c * self._sun[i] + s * self._way[i]

    def step(self, least=0):
        """Look up a few more lags; True when the profile is whole. Beyond the lag that gives less than
        `least` permille it is flat: nobody aims there."""
        table = self.table
        for _ in range(_KNOTS):
            if self._k >= self._n:
                self.ready = True
                return True
            self._place(table.lags_mdeg[self._k] * 1000)
            seen = self._seen
            self._keep(self._k, table.share_on(self._k, seen.elevation_udeg, seen.direction_udeg))
            self._k += 1
            if self.profile[self._k - 1] < least * _FINE:
                while self._k < self._n:
                    self.profile[self._k] = self.profile[self._k - 1]
                    self._k += 1
        return False

    def _place(self, lag_udeg):
        """See the sun from the aim at this lag."""
        self.aim(lag_udeg, self._aim)
        e, n, u = self._aim
        self._seen.look(e, n, u, self._sun[0], self._sun[1], self._sun[2])

    def _keep(self, k, share):
        """Into the profile, no higher than the lag before: of heat on the sun in hundredths of a permille."""
        if k == 0:
            self._full = max(1, share)
            self.profile[0] = 1000 * _FINE
            return
        fine = min(share, 2 * self._full) * 10000 // self._full * 10
        self.profile[k] = min(fine, self.profile[k - 1])

    def lag_udeg(self, permille):
        """Least lag at which the pot gets no more than `permille`; the last of the grid where none does."""
        want = permille * _FINE
        profile, lags = self.profile, self.table.lags_mdeg
        if want >= profile[0]:
            return 0
        low, high = 0, self._n - 1
        if profile[high] > want:
            return lags[high] * 1000
        while high - low > 1:
            mid = (low + high) >> 1
            if profile[mid] <= want:
                high = mid
            else:
                low = mid
        fall = profile[low] - profile[high]
        part = (profile[low] - want) * 4096 // fall
        return lags[low] * 1000 + (lags[high] - lags[low]) * part // 4096 * 1000 + (
            (lags[high] - lags[low]) * part % 4096 * 1000 // 4096)

    def stray(self, lag_udeg):
        """Stray light at a lag of this trail, in 1/250 of all."""
        self._place(lag_udeg)
        seen = self._seen
        return self.table.stray(seen.lag_udeg, seen.elevation_udeg, seen.direction_udeg)
