"""Step-and-wait tracking: aim, rest while the sun walks through the deadband, aim again.

Units: micro-degrees, ms. At full heat the aim is half a deadband ahead of the sun; dialled down, the whole
deadband lies behind it.
"""

import math

_SUN_UDEG_PER_S = 4178  # 15.041 deg/h on the celestial equator
_SLOW_MS = 60_000
_FLAT = 985  # above this heat the curve is flat: no trim is needed there
_SHORT_UDEG = 250_000  # a motor that has just been quick runs so far past its aim
_LARGE = 0.0175  # 1 deg, in radians: a move that hands at the pot must be warned of


class Tracker:
    """wanted_udeg: the lag asked for. due_ms: time left until the next step. aims: what holds the heat, or
    None where the board has no heat table."""

    def __init__(self, s, sun, mount, aims):
        self.sun = sun
        self.mount = mount
        self.aims = aims
        self.half = int(s.tracking_deadband_deg * 500_000)
        self.least = int(s.heat_least_percent * 10)
        self.trim_udeg = 0  # by how much the true lag is larger than believed
        self.wanted_udeg = 0
        self.due_ms = 0
        self.reachable = True
        self._short = False
        self._aim = [0.0, 0.0, 0.0]
        self._now = [0.0, 0.0, 0.0]

    @property
    def ready(self):
        """Whether the lag of a heat is known."""
        return self.aims is not None and self.aims.ready

    def want(self, permille):
        """Take the lag at which the pot gets this heat under the present sun."""
        lag = self.aims.lag_udeg(permille) if self.ready else 0
        if self.trim_udeg and permille < _FLAT:
            # Never ahead of the sun, and never further behind it than the least heat is believed to be.
            lag = max(0, min(lag - self.trim_udeg, self.aims.lag_udeg(self.least)))
        self.wanted_udeg = lag

    @property
    def angle_deg(self):
        """Position angle of the trail in use, from the east of the sun's path towards the north pole."""
        return self.aims.angle_deg if self.ready and self.wanted_udeg > 0 else 0

    def centre_udeg(self):
        """Lag of the middle of the deadband: 0, or at least half a deadband behind."""
        if 0 < self.wanted_udeg < self.half:
            return self.half
        return self.wanted_udeg

    def aim(self, out):
        """Fill out with the direction of the middle of the deadband."""
        self._direction(self.centre_udeg(), out)

    def _direction(self, lag_udeg, out):
        if self.ready:
            self.aims.aim(lag_udeg, out)
        else:
            self.sun.trailing_aim(lag_udeg, out)

    def dwell_start(self, out):
        """Fill out with where a dwell begins: where the middle of the deadband will be half a dwell later.

        The sun walks along its own path, so on a trail beside it the start lies along that path too, and not
        along the trail; but for aims so near the sun that this could lead it.
        """
        centre = self.centre_udeg()
        if self.angle_deg == 0 or centre <= 4 * self.half:
            self._direction(centre - self.half, out)
            return
        self._direction(centre, out)
        self.aims.turn_with_sun(self.half * 1.7453293e-8 / self._cos_dec(), out)

    def _cos_dec(self):
        return math.cos(self.sun.dec_udeg * 1.7453293e-8)

    def is_large(self):
        """Whether the next step is a move that hands at the pot must be warned of."""
        self.dwell_start(self._aim)
        self.mount.enu(self._now)
        apart = 0.0
        for i in range(3):
            apart += (self._aim[i] - self._now[i]) ** 2
        large = apart > _LARGE * _LARGE
        self._short = large and self.mount.measured
        if self._short:
            self._direction(self.centre_udeg() + _SHORT_UDEG, self._aim)
        return large

    def swings(self):
        """After is_large(): whether axis 1 turns far for a little step, by a way that has to be found."""
        return self.mount.swings(self._aim[0], self._aim[1], self._aim[2])

    def step(self):
        """After is_large(): start the move to that aim; sets when the one after is due."""
        self.reachable = self.mount.aim(self._aim[0], self._aim[1], self._aim[2])
        self.due_ms = min(_SLOW_MS, int(2 * self.half * 1000 / (_SUN_UDEG_PER_S * self._cos_dec())))
        if self._short:  # the rest of the way in a small step
            self.due_ms = 0
