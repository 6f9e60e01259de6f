"""Where the dish rests: the elevated pole, or a horizon while the summer sun comes too near the pole.

Units: micro-degrees, radians inside, unit vectors east, north, up. The least angle between a fixed aim and
the sun of one day lies where the sun crosses the aim's own hour circle, else at one end of its day; the sun
counts as set 0.9 deg below the level, where its upper rim vanishes. The air may lift it 0.3 deg nearer while
it has any strength (2 deg up; less above, and below that the beam is weak).
"""

import math

POLE, POLEWARD, EQUATORWARD = range(3)
PLACES = ("pole", "poleward horizon", "equatorward horizon")

_UDEG = 180000000.0 / math.pi
_HALF_TURN = 180000000
_SIN_SET = -0.0157
_AIR_UDEG = 300000
_OFF_END_DEG = 0.5  # a resting axis keeps this far from the end of its travel
_LOWEST_DEG, _HIGHEST_DEG, _STEP_DEG = -30.0, 20.0, 1.5
_COS_THERE = 0.9998  # 1.1 deg
_WORTH_UDEG = 5000000  # what a place that is not clear either must gain to be worth the lost morning sun
_TURNS_MS = 14400000  # the day turns at 20 h solar time: the choice is made for the day to come
_LOOK_MS = 60000


def least_udeg(latitude, dec, aim_dec, aim_ha, since=-math.pi):
    """Least angle [udeg] from a fixed aim to the sun from hour angle `since` until it sets; 180e6 if it
    is not up any more. All in radians, hour angles -pi to pi."""
    level = math.cos(latitude) * math.cos(dec)
    share = (_SIN_SET - math.sin(latitude) * math.sin(dec)) / level if level > 1e-6 else 0.0
    if level <= 1e-6 and latitude * dec > 0.0:
        share = -1.0
    if share >= 1.0:
        return _HALF_TURN
    half = math.acos(max(-1.0, share))
    first = max(since, -half)
    if share <= -1.0:
        apart = 0.0
    elif first > half:
        return _HALF_TURN
    elif first <= aim_ha <= half:
        apart = 0.0
    else:
        apart = min(_between(aim_ha, first), _between(aim_ha, half))
    cos = math.sin(aim_dec) * math.sin(dec) + math.cos(aim_dec) * math.cos(dec) * math.cos(apart)
    return int(math.acos(max(-1.0, min(1.0, cos))) * _UDEG) - _AIR_UDEG


def _between(a, b):
    turn = abs(a - b)
    return min(turn, 2.0 * math.pi - turn)


class Park:
    """axes: readings of the place chosen; pole: those of the pole; which: its row in PLACES.

    look() judges where the axes stand: rest_udeg, bright (another place may be better), cover (the dish
    wants its cover: until the sun is far off, loose light remains, though not near the pot), not_yet.
    moves_on(): whether to go to `which`.
    """

    words = PLACES

    def __init__(self, s, sun, mount):
        self.s = s
        self.sun = sun
        self.mount = mount
        self.axes = [0, 0]
        self.pole = [0, 0]
        self.which = POLE
        self.day = -1
        self.rest_udeg = _HALF_TURN
        self.standing = -1
        self.bright = self.cover = False
        self.not_yet = False
        self._loose = int(s.dish_loose_clear_deg * 1000000)
        self._cover = int(s.dish_cover_below_deg * 1000000)
        self._latitude = s.site_latitude_udeg / _UDEG
        low_deg = s.axis2_low_deg + s.axis2_zero_deg if s.mount_kind != "polar" else 0.0
        self._low = math.sin(math.radians(low_deg))
        self._places = [None, None, None]
        self._least = [0, 0, 0]
        self._wait_ms = 0
        self._vec = [0.0, 0.0, 0.0]
        self._pair = [0, 0]

    # --- the places --------------------------------------------------------------------------------

    def place(self):
        """Find the readings of every place, at start and when north is set; False if none for the pole."""
        s = self.s
        north = self._latitude >= 0.0
        pole = self.mount.geometry.pole
        self._places = [None, None, None]
        if s.mount_kind == "polar":  # its first axis may rest anywhere
            middle = int((s.axis1_low_deg + s.axis1_high_deg) * 500000)
            self._places[POLE] = (middle, 90000000, pole[0], pole[1], pole[2])
        else:
            self._offer(POLE, pole[1], pole[2])
        self._horizon(POLEWARD, 1.0 if north else -1.0)
        self._horizon(EQUATORWARD, -1.0 if north else 1.0)
        if self._places[POLE] is None:
            return False
        self.pole[0], self.pole[1] = self._places[POLE][:2]
        self.day = -1
        self._take(POLE)
        return True

    def _horizon(self, which, side):
        """The lowest aim due north or south that the travel admits."""
        s = self.s
        deg = 0.0
        if s.mount_kind != "polar":
            deg = max(_LOWEST_DEG, s.axis2_low_deg + s.axis2_zero_deg + _OFF_END_DEG)
        while deg <= _HIGHEST_DEG and self._places[which] is None:
            self._offer(which, side * math.cos(math.radians(deg)), math.sin(math.radians(deg)))
            deg += _STEP_DEG

    def _offer(self, which, n, u):
        pair = self._pair
        if self.mount.geometry.axes_from_enu(0.0, n, u, pair):
            self._places[which] = (pair[0], pair[1], 0.0, n, u)

    def _take(self, which):
        self.which = which
        self.axes[0], self.axes[1] = self._places[which][:2]

    def aside_aim(self, away_udeg, out):
        """Fill out with the aim so far behind the sun where hands may be at the pot."""
        self.sun.trailing_aim(away_udeg, out)

    # --- the choice ----------------------------------------------------------------------------------

    def solar_day(self, day, ms):
        """Number of the day the choice is for, by the sun at the site."""
        ms += self.s.site_longitude_udeg // 25 * 6 + _TURNS_MS
        return day + ms // 86400000

    def choose(self, day, decs_udeg):
        """Choose for a solar day, by the sun's declinations of that day and of the next."""
        self.day = day
        pair = self._pair
        for i in range(3):
            self._least[i] = -1
            at = self._places[i]
            if at is None:
                continue
            self.sun.dec_ha_from_enu(at[2], at[3], at[4], pair)
            self._least[i] = _HALF_TURN
            for dec in decs_udeg:
                least = least_udeg(self._latitude, dec / _UDEG, pair[0] / _UDEG, pair[1] / _UDEG)
                self._least[i] = min(self._least[i], least)
        best = POLE
        if self._least[POLE] < self._loose:
            for i in (POLEWARD, EQUATORWARD):
                if self._least[i] > self._least[best] and self._is_worth(i, self._least[POLE]):
                    best = i
        self._take(best)

    def _is_worth(self, which, now_udeg):
        """Whether a place is clear, or at least much better than this angle from the sun."""
        return self._least[which] >= min(self._loose, now_udeg + _WORTH_UDEG)

    def least_at(self, which):
        """Least angle [udeg] from the sun at a place over the days chosen for; -1 if out of reach."""
        return self._least[which]

    # --- where it stands -------------------------------------------------------------------------------

    def look(self, placed):
        """Judge the resting place by where the axes are (by the pole where that is not known)."""
        sun = self.sun
        vec = self._vec
        if placed:
            self.mount.enu(vec)
        else:
            vec[0], vec[1], vec[2] = self.mount.geometry.pole
        self.standing = -1
        for i in range(3):
            at = self._places[i]
            if at is not None and vec[0] * at[2] + vec[1] * at[3] + vec[2] * at[4] > _COS_THERE:
                self.standing = i
                break
        sun.dec_ha_from_enu(vec[0], vec[1], vec[2], self._pair)
        aim = self._pair[0] / _UDEG, self._pair[1] / _UDEG
        since = sun.ha_udeg / _UDEG
        if self._down():
            since = -math.pi  # tomorrow's sun
        self.rest_udeg = least_udeg(self._latitude, sun.dec_udeg / _UDEG, aim[0], aim[1], since)
        self.bright = self.rest_udeg < self._loose
        self.cover = self.rest_udeg < self._cover
        self.not_yet = self.standing == EQUATORWARD and sun.u > 0.0 and not self.is_open()

    def _down(self):
        return self.sun.u < _SIN_SET and self.sun.ha_udeg > 0

    def is_open(self):
        """Whether a way between the equatorward horizon and the sun, or the pole, can be open. In the morning
        it crosses the sun's own hour circle at the level, which must be loose-clear of the sun there."""
        sun = self.sun
        if sun.ha_udeg >= 0 or EQUATORWARD not in (self.which, self.standing):
            return True
        step = -self._loose if self._latitude >= 0.0 else self._loose
        self.sun.enu_from_dec_ha(sun.dec_udeg + step, sun.ha_udeg, self._vec)
        return self._vec[2] >= self._low

    def goal(self):
        """The place to rest at now: the one chosen, or by night the pole where the cook chose that."""
        if self.which != POLE and self.s.park_pole_by_night and self._down():
            return POLE
        return self.which

    def tick(self, dt_ms):
        """Count down to the next look of a parked dish; True when it is due."""
        self._wait_ms -= dt_ms
        if self._wait_ms > 0:
            return False
        self._wait_ms = _LOOK_MS
        return True

    def moves_on(self):
        """Whether a dish parked and looked at should go to its goal by itself."""
        goal = self.goal()
        if goal == self.standing:
            return False
        if goal != self.which:
            return True
        return self.bright and self._is_worth(goal, self.rest_udeg) and self.is_open()
