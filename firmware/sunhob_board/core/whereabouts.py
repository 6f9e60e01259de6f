"""Whether light and home flags agree with where the axes are counted to be.

Units: micro-degrees, W/m2, ms. The tube sees the whole sun to 16 deg off its axis and none of it beyond 22
(hardware notes). A cloud that takes the beam takes the open cell's light too: a dark tube under a bright sky
is a dish that looks elsewhere. A bright tube far off the sun is a dish that stayed on it.
"""

from ..safety.interlocks import FIRST_MS

# the last three have rows of their own: they are found in safety/place_check.py, sun_sight.py and by a drive
DARK, BRIGHT, FLAG1, FLAG2, BY_ENCODER, BY_SUN, BY_DRIVE = range(1, 8)

_INSIDE_UDEG = 13000000
_OUTSIDE_UDEG = 27000000
_DARK_W_M2 = 80.0
_BRIGHT_W_M2 = 200.0
_FULL_SHARE = 0.98  # a tube or cell at full scale is shorted, and says nothing
_OPEN_SHARE = 0.7  # of a clear sky; cloud over the sun alone leaves less; common practice, no source
_JUMP = 0.1  # of a clear sky, from look to look: no cloud does that
_HIGH_U = 0.26  # below 15 deg the open cell says too little
_FLAG_UDEG = 4000000  # nearer to home no flag speaks against a count,
REST_UDEG = 1200000  # nor that of an axis that stands: the pole lies 2 deg past it
_LIES_UDEG = 20000000  # no axis slips so far at once
BLIND = 4  # in the place of a third flag: none is seen
_DWELL_MS = (0, 6000, 1500, 1500, 1500)


class Whereabouts:
    """tick() returns what speaks against the counts (DARK, BRIGHT, FLAG1, FLAG2), or 0. suspects: something
    does, but not yet for long. lies: it is a flag that told right on this side of its home, and changed where
    the axis cannot have passed it. borne: since it last moved, a bright sky left the tube dark: it rests off
    the sun."""

    def __init__(self, s, mount):
        self.mount = mount
        self._most = s.sensor_beam_w_m2_full * _FULL_SHARE
        self._most_open = s.sensor_open_w_m2_full * _FULL_SHARE
        self._ms = [0, 0, 0, 0, 0]
        self._past = [0, 0]  # how far past home each flag was last seen right [udeg]
        self.lies = self.borne = False
        self.away_udeg = 0
        self._open = 0.0
        self._there = 0.0  # what the tube told last on the sun
        self.suspects = False
        self._vec = [0.0, 0.0, 0.0]

    def forget(self):
        """The counts are being mended: begin anew."""
        self.suspects = False
        for i in range(5):
            self._ms[i] = 0

    def tick(self, dt_ms, sun, beam_w_m2, open_w_m2, clear_w_m2, flags, odd=False):
        """sun: None where it is not known; clear_w_m2: the open cell's light under a clear sky; odd: the sun
        sensor sees it beside the tube, which is as good as dark then."""
        found = 0
        self.suspects = False
        if self.mount.moving:
            self.borne = False
        light = 0 if sun is None or sun.u < _HIGH_U else self._light(
            sun, beam_w_m2, open_w_m2, clear_w_m2, odd)
        for i in (DARK, BRIGHT, FLAG1, FLAG2):
            if i == light or (i >= FLAG1 and self._wrong(i - FLAG1, flags)):
                self._ms[i] += dt_ms if self._ms[i] else min(dt_ms, FIRST_MS)
                self.suspects = True
                if self._ms[i] >= _DWELL_MS[i]:
                    found = i
                    self.lies = i >= FLAG1 and self.changed(i - FLAG1, _LIES_UDEG)
            else:
                self._ms[i] = 0
        return found

    def _light(self, sun, beam_w_m2, open_w_m2, clear_w_m2, odd):
        v = self._vec
        self.mount.enu(v)
        jumps = abs(open_w_m2 - (self._open or open_w_m2)) > _JUMP * clear_w_m2
        self._open = open_w_m2
        away = self.away_udeg = sun.separation_udeg(v[0], v[1], v[2])
        if away < _INSIDE_UDEG:
            self._there = beam_w_m2
            bright = _OPEN_SHARE * clear_w_m2 < open_w_m2 < self._most_open
            return DARK if bright and (odd or beam_w_m2 < _DARK_W_M2) and not jumps else 0
        least = max(_BRIGHT_W_M2, 0.5 * self._there)  # by less, it has lost its sun, and reads too much
        if away > _OUTSIDE_UDEG:
            if least < beam_w_m2 < self._most:
                return BRIGHT
            self.borne = self.borne or open_w_m2 > _OPEN_SHARE * clear_w_m2
        return 0

    def _wrong(self, k, flags):
        axis = self.mount.axes[k]
        past = axis.position_udeg - axis.home_udeg
        least = _FLAG_UDEG if self.mount.moving else REST_UDEG
        if flags >= BLIND or not axis.homes or abs(past) <= least:
            return False
        if (past <= 0) != bool(flags & 1 << k):
            return True
        self._past[k] = past
        return False

    def changed(self, k, beyond_udeg):
        """Whether the flag of axis k + 1, wrong now, was right on this side of home, and the axis is counted
        so far from it: it has not just failed to change, as one whose axis stands still does."""
        axis = self.mount.axes[k]
        past = axis.position_udeg - axis.home_udeg
        return abs(past) > beyond_udeg and past * self._past[k] > 0
