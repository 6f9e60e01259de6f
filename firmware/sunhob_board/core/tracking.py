"""Step-and-wait tracking: aim, rest while the sun walks through the deadband, aim again.

Units: micro-degrees, ms. At full heat the aim is half a deadband ahead of the sun; dialled down, the whole
deadband lies behind it.
"""

import math

_SUN_UDEG_PER_S = 4178  # 15.041 deg/h on the celestial equator
_SLOW_MS = 60_000
_LARGE_UDEG = 1_000_000


class Tracker:
    """wanted_udeg: the lag asked for. due_ms: time left until the next step."""

    def __init__(self, s, sun, mount):
        self.sun = sun
        self.mount = mount
        self.half = int(s.tracking_deadband_deg * 500_000)
        self.wanted_udeg = 0
        self.due_ms = 0
        self.reachable = True
        self._aim = [0.0, 0.0, 0.0]

    def centre_udeg(self):
        """Lag of the middle of the deadband: 0, or at least half a deadband behind."""
        if 0 < self.wanted_udeg < self.half:
            return self.half
        return self.wanted_udeg

    def is_large(self, lag_udeg):
        """Whether going to this lag is a move that hands at the pot must be warned of."""
        return abs(lag_udeg - self.wanted_udeg) > _LARGE_UDEG

    def step(self):
        """Start the move to the next aim; sets when the one after is due."""
        self.sun.trailing_aim(self.centre_udeg() - self.half, self._aim)
        self.reachable = self.mount.aim(self._aim[0], self._aim[1], self._aim[2])
        cos_dec = math.cos(self.sun.dec_udeg * 1.7453293e-8)
        self.due_ms = min(_SLOW_MS, int(2 * self.half * 1000 / (_SUN_UDEG_PER_S * cos_dec)))
