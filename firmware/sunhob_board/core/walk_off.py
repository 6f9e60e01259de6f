"""When a dish that can no longer move is off the sun by itself, and when the sun comes back to it.

Units: minutes, micro-degrees. The sun is turned on at its present declination, five minutes at a time.
"""

_STEP_UDEG = 1250000
_STEP_MIN = 5
_DAY_STEPS = 288
_A_TICK = 12
_TURN = 360000000
_DOWN = -0.0157


class WalkOff:
    """begin(), then step() until True. pot_min, loose_min: until pot and surroundings are clear; back_min:
    until the light is on the pot again; -1: not within a day."""

    def __init__(self, s, sun):
        self.sun = sun
        self._pot = int(s.dish_pot_clear_deg * 1000000)
        self._loose = int(s.dish_loose_clear_deg * 1000000)
        self._aim = (0.0, 0.0, 1.0)
        self._spot = [0.0, 0.0, 0.0]
        self._k = _DAY_STEPS

    def begin(self, e, n, u):
        """Take the aim that stays [unit vector]."""
        self._aim = (e, n, u)
        self._k = 0
        self.pot_min = self.loose_min = self.back_min = -1

    def step(self):
        """Do a bounded piece; True when finished."""
        for _ in range(_A_TICK):
            if self._k >= _DAY_STEPS:
                return True
            self._look(self._k * _STEP_MIN)
            self._k += 1
        return False

    def _look(self, minute):
        sun = self.sun
        ha = sun.ha_udeg + self._k * _STEP_UDEG
        sun.enu_from_dec_ha(sun.dec_udeg, ha - _TURN if ha > _TURN // 2 else ha, self._spot)
        e, n, u = self._spot
        away = _TURN if u < _DOWN else self._apart(e, n, u)
        if self.pot_min < 0 and away >= self._pot:
            self.pot_min = minute
        if self.loose_min < 0 and away >= self._loose:
            self.loose_min = minute
        if self.loose_min >= 0 and self.back_min < 0 and away < self._pot:
            self.back_min = minute

    def _apart(self, e, n, u):
        """Angle between aim and spot [udeg], by the sun's own rule."""
        sun = self.sun
        keep = sun.e, sun.n, sun.u
        sun.e, sun.n, sun.u = e, n, u
        away = sun.separation_udeg(self._aim[0], self._aim[1], self._aim[2])
        sun.e, sun.n, sun.u = keep
        return away
