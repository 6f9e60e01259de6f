"""Where the sun is from this site. Units: udeg (integer micro-degrees) for declination, hour angle (west +)
and lag; unit vectors east, north, up; Pa, degC, m. Stable in single floats: no angle is taken from a sine
near 90 deg, and time and hour angle stay integers.

Parallax and refraction as in NREL/TP-560-34302 (Reda & Andreas, SPA, rev. 2008), equations 35-42.
"""

import math

from sunhob_board.sun.table import fold_udeg

UDEG = 180000000.0 / math.pi  # udeg in a radian
DEG = 180.0 / math.pi
PARALLAX_UDEG = 2442.8  # 8.794" at 1 au
EARTH_RADIUS_M = 6378140.0
FLATTEN = 0.99664719
LOWEST_REFRACTED_DEG = -0.83337  # solar radius and 0.5667 deg below the horizon; lower, SPA lifts nothing


def _whole(angle):
    """Nearest integer of a float, for both signs."""
    return int(angle + 0.5) if angle >= 0.0 else int(angle - 0.5)


class Sun:
    """The apparent sun of one site; update() first, then every method speaks of that instant."""

    def __init__(self, table, lat_udeg, lon_udeg, altitude_m, pressure_pa, temp_c):
        self.table = table
        self.lon_udeg = lon_udeg
        lat = lat_udeg / UDEG
        self._sin = math.sin(lat)
        self._cos = math.cos(lat)
        squashed = math.atan2(FLATTEN * self._sin, self._cos)
        high = altitude_m / EARTH_RADIUS_M
        self._from_axis = (math.cos(squashed) + high * self._cos) * PARALLAX_UDEG
        self._from_equator = (FLATTEN * math.sin(squashed) + high * self._sin) * PARALLAX_UDEG
        self.set_air(pressure_pa, temp_c)
        self._distance_day = -1
        self._distance = 1.0
        self._spot = [0.0, 0.0, 1.0]
        self.dec_udeg = 0
        self.ha_udeg = 0
        self.e = 0.0
        self.n = 0.0
        self.u = 1.0
        self.elevation_deg = 90.0

    def set_air(self, pressure_pa, temp_c):
        """Air at the site, for refraction."""
        self._air_deg = pressure_pa / 101000.0 * 283.0 / (273.0 + temp_c) * 1.02 / 60.0

    def update(self, day, ms):
        """The sun at (day since 2000-01-01 UTC, ms of day): dec_udeg and ha_udeg as seen from the site
        without air, the apparent e, n, u and elevation_deg. TableError where the table has no answer."""
        table = self.table
        table.at(day, ms)
        if day != self._distance_day:
            self._distance_day = day
            year = (day % 1461) * 100 % 36525  # hundredths of a day in the year; perihelion about 3 January
            self._distance = 1.0 - 0.0167 * math.cos((year - 300) * 6.2831853 / 36525.0)
        dec = table.dec_udeg
        ha = fold_udeg(table.gha_udeg + self.lon_udeg)
        dec_rad = dec / UDEG
        ha_rad = ha / UDEG
        cos_dec = math.cos(dec_rad)
        axis = self._from_axis / self._distance
        fall = axis * math.sin(dec_rad) * math.cos(ha_rad) - self._from_equator / self._distance * cos_dec
        self.dec_udeg = dec + _whole(fall)
        self.ha_udeg = fold_udeg(ha + _whole(axis * math.sin(ha_rad) / cos_dec))
        spot = self._spot
        self.enu_from_dec_ha(self.dec_udeg, self.ha_udeg, spot)
        self.elevation_deg = self.refract(spot)
        self.e = spot[0]
        self.n = spot[1]
        self.u = spot[2]

    def enu_from_dec_ha(self, dec_udeg, ha_udeg, out):
        """Unit vector (no air) of a declination and hour angle, into out[0..2]."""
        dec = dec_udeg / UDEG
        ha = ha_udeg / UDEG
        z = math.sin(dec)
        c = math.cos(dec)
        x = c * math.cos(ha)
        out[0] = -c * math.sin(ha)
        out[1] = z * self._cos - x * self._sin
        out[2] = z * self._sin + x * self._cos

    def dec_ha_from_enu(self, e, n, u, out):
        """Declination and hour angle of a direction, udeg into out[0..1]."""
        x = u * self._cos - n * self._sin
        z = u * self._sin + n * self._cos
        out[0] = _whole(math.atan2(z, math.sqrt(x * x + e * e)) * UDEG)
        out[1] = fold_udeg(_whole(math.atan2(-e, x) * UDEG))

    def refract(self, out):
        """Lift a direction without air, in place, as the air lifts the sun; its apparent elevation in deg."""
        u = out[2]
        level = math.sqrt(out[0] * out[0] + out[1] * out[1])
        bare_deg = math.atan2(u, level) * DEG
        if bare_deg < LOWEST_REFRACTED_DEG or level < 1e-5:
            return bare_deg
        lift_deg = self._air_deg / math.tan((bare_deg + 10.3 / (bare_deg + 5.11)) / DEG)
        lift = lift_deg / DEG
        c = math.cos(lift)
        s = math.sin(lift)
        keep = c - u * s / level
        out[0] *= keep
        out[1] *= keep
        out[2] = u * c + level * s
        return bare_deg + lift_deg

    def behind_udeg(self, e, n, u):
        """Apparent sun's hour angle less the aim's, in (-180e6, 180e6] udeg; positive: the aim is behind."""
        aim = u * self._cos - n * self._sin
        sun = self.u * self._cos - self.n * self._sin
        angle = math.atan2(e * sun - self.e * aim, sun * aim + self.e * e)
        return fold_udeg(_whole(angle * UDEG))

    def separation_udeg(self, e, n, u):
        """Angle between the apparent sun and a direction, udeg; exact when small."""
        x = n * self.u - u * self.n
        y = u * self.e - e * self.u
        z = e * self.n - n * self.e
        along = e * self.e + n * self.n + u * self.u
        return _whole(math.atan2(math.sqrt(x * x + y * y + z * z), along) * UDEG)

    def trailing_aim(self, lag_udeg, out):
        """Into out: the apparent direction `lag_udeg` of arc behind the sun (negative: ahead) on its path."""
        turned = self.ha_udeg
        if lag_udeg:
            share = math.sin(0.5 * lag_udeg / UDEG) / math.cos(self.dec_udeg / UDEG)
            turned = fold_udeg(turned - _whole(2.0 * math.asin(max(-1.0, min(1.0, share))) * UDEG))
        self.enu_from_dec_ha(self.dec_udeg, turned, out)
        self.refract(out)
