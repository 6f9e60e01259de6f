"""The way off the sun and the way onto it: best of a few, hour-angle-behind at every sample.

Units: axis readings and angles in micro-degrees, ms. Each step() does a bounded piece of work. A sample is
admitted if the aim's hour angle lies 0 to 180 deg behind the moving sun's (half a deadband ahead on the sky
is borne), within 3 deg of the elevated pole, or where today's sun comes no nearer than the loose-clear angle
any more: a stall there is never met. A way off, once outside the pot's clear angle, never comes inside again.
Best is the quickest, unless the pot stays in the light more than 15 s: each second beyond counts five-fold.
Only where the dish already stands ahead of the sun may it leave by a way on which the distance from the sun
never shrinks until the light is harmless.
"""

import math

from .admission import Admission
from .profile import Profile
from .ways import Ways

LEAVE = "leave"
COME = "come"

_SAMPLES = 8
_WAYS = 4
_ENOUGH_STEPS = 28  # a way found by then is taken: the warning is about to end
_PER_SAMPLE_UDEG = 4000000
_MOST_PER_LEG = 32
_SUN_UDEG_PER_S = 4178
_SHRINK_UDEG = 500000
_CORNER_MS = 100
_CLEAR_MS = 15000
_CLEAR_WEIGHT = 4
_BEHIND, _GROWING = range(2)


class Planner:
    """legs: the way found, None if none; reason tells why none. time_ms: until the end of the last leg;
    pot_clear_ms: until the pot is out of the light. s gives deadband and clear angles."""

    def __init__(self, mount, sun, s=None):
        self.mount = mount
        self.sun = sun
        deadband = s.tracking_deadband_deg if s else 0.08
        self._pot = int((s.dish_pot_clear_deg if s else 20) * 1000000)
        self._loose = int((s.dish_loose_clear_deg if s else 75) * 1000000)
        self._rule_sky = Admission(int(deadband * 650000) + 20000, self._loose)
        self._ways = Ways(mount, sun)
        self._profiles = (Profile(), Profile())
        self._from = [0, 0]
        self._enu = [0.0, 0.0, 0.0]
        self._found = []
        self.finished = True
        self.legs = None
        self.reason = ""
        self.time_ms = 0
        self.pot_clear_ms = 0

    def begin(self, a1, a2, purpose):
        """Plan from where the mount stands to these readings [udeg]; purpose is LEAVE or COME."""
        self.legs = None
        self.reason = ""
        self.time_ms = 0
        self.pot_clear_ms = 0
        self._leaving = purpose == LEAVE
        self._rule = _BEHIND
        self._found = []
        self._i = 0
        self._cost = -1
        self._steps = 0
        self._ready = False
        self.finished = False
        self.mount.axes_udeg(self._from)
        if not self.mount.geometry.admits(a1, a2):
            self._end("the aim lies outside the travel")
        elif self.sun is None:
            if self._leaving:
                self.legs = [(a1, a2)]
            self._end("" if self._leaving else "the sun's place is not known")
        else:
            self._rule_sky.begin(self.sun, self.mount.geometry.pole)
            self._ways.begin(self._from, a1, a2, self._leaving)

    def _end(self, reason):
        self.reason = reason
        self.finished = True

    def step(self):
        """Do a bounded piece; True when finished."""
        if self.finished:
            return True
        if not self._ready:
            self._list()
            return False
        self._steps += 1
        if self._steps > _ENOUGH_STEPS and self.legs is not None:
            self._end("")
            return True
        for _ in range(_SAMPLES):
            if not self._sample():
                return self.finished
            if not self._ready:
                return False
        return False

    def _list(self):
        """Time a few more ways; when all are known, start on the quickest."""
        for _ in range(_WAYS):
            way = self._ways.next()
            if way is None:
                self._found.sort()
                self._ready = True
                self._open()
                return
            self._found.append(self._guess(way))

    def _guess(self, way):
        """(cost to sort by, order, time, way): the time clear of the pot is guessed from the readings."""
        one, two = self.mount.axes
        a1, a2 = self._from
        total = -_CORNER_MS
        clear_ms = 0
        to_go = self._pot if self._leaving else 0
        for b1, b2 in way:
            ms = max(one.way_ms(a1, b1), two.way_ms(a2, b2))
            apart = max(abs(b2 - a2), int(abs(b1 - a1) * abs(math.cos(math.radians(a2 / 1000000)))))
            if to_go > 0:
                share = min(1.0, to_go / apart) if apart else 1.0
                clear_ms += int(ms * share)
                to_go -= apart
            total += ms + _CORNER_MS
            a1, a2 = b1, b2
        total = max(0, total)
        return total + self._late(clear_ms), len(self._found), total, way

    def _late(self, clear_ms):
        return _CLEAR_WEIGHT * max(0, clear_ms - _CLEAR_MS) if self._leaving else 0

    # --- one way after another ----------------------------------------------------------------------

    def _open(self):
        """Start on the next quickest way."""
        if self._i >= len(self._found) or 0 <= self._cost <= self._found[self._i][0]:
            if self.legs is not None:
                self._end("")
                return
            if self._ways.widen():
                self._found = []
                self._i = 0
                self._ready = False
                return
            if not self._leaving or self._rule == _GROWING or not self._ahead_now():
                self._end("no way keeps behind the sun")
                return
            self._rule = _GROWING
            self._i = 0
            if not self._found:
                self._end("no way keeps behind the sun")
                return
        self._leg = -1
        self._at = [self._from[0], self._from[1]]
        self._elapsed = 0
        self._clear_ms = -1
        self._far = 0
        self._before = 0
        self._before_ms = 0
        self._look(self._from[0], self._from[1], 0)
        self._next_leg()

    def _ahead_now(self):
        self.mount.geometry.enu_from_axes(self._from[0], self._from[1], self._enu)
        return not self._behind(0)

    def _next_leg(self):
        way = self._found[self._i][3]
        if self._leg >= 0:
            self._at[0], self._at[1] = way[self._leg]
            self._elapsed += self._leg_ms + _CORNER_MS
        self._leg += 1
        if self._leg >= len(way):
            return False
        one, two = self.mount.axes
        b1, b2 = way[self._leg]
        d1, d2 = b1 - self._at[0], b2 - self._at[1]
        self._share = self.mount.permille(self._at[0], self._at[1], b1, b2)
        self._leg_ms = max(one.way_ms(self._at[0], b1), two.way_ms(self._at[1], b2))
        self._profiles[0].start(abs(one.steps(d1)), one.speed, one.accel)
        self._profiles[1].start(abs(two.steps(d2)), two.speed, two.accel)
        self._sign = (1 if d1 >= 0 else -1, 1 if d2 >= 0 else -1)
        self._n = min(_MOST_PER_LEG, 3 + max(abs(d1), abs(d2)) // _PER_SAMPLE_UDEG)
        self._k = 0
        return True

    def _sample(self):
        """Check one point of the way; False when this step() should end."""
        t = self._sample_ms()
        at = [0, 0]
        for i in range(2):
            done = self._profiles[i].at(t * self._share[i] // 1000)
            at[i] = self._at[i] + self._sign[i] * self.mount.axes[i].udeg(done)
        t += self._elapsed
        if not self._look(at[0], at[1], t) or self._hopeless(t):
            self._i += 1
            self._open()
            return not self.finished
        self._k += 1
        if self._k > self._n + 1 and not self._next_leg():
            self._accept()
            return not self.finished
        return True

    def _hopeless(self, t):
        """Whether this way already costs more than the best so far."""
        return 0 <= self._cost <= self._found[self._i][2] + (self._late(t) if self._clear_ms < 0 else 0)

    def _sample_ms(self):
        """Even in time, with one more close to either end."""
        k, n = self._k, self._n
        if k == 0:
            return self._leg_ms // (4 * n)
        if k == n:
            return self._leg_ms - self._leg_ms // (4 * n)
        if k > n:
            return self._leg_ms
        return self._leg_ms * k // n

    def _accept(self):
        """Keep this way if it is the best so far; go on while a better one may follow."""
        time_ms = self._found[self._i][2]
        clear_ms = max(0, self._clear_ms)
        cost = time_ms + self._late(clear_ms)
        if self._cost < 0 or cost < self._cost:
            self._cost = cost
            self.time_ms = time_ms
            self.pot_clear_ms = clear_ms
            self.legs = self._found[self._i][3]
        self._i += 1
        self._open()

    # --- what is admitted ---------------------------------------------------------------------------

    def _look(self, a1, a2, t):
        enu = self._enu
        self.mount.geometry.enu_from_axes(a1, a2, enu)
        apart = self.sun.separation_udeg(enu[0], enu[1], enu[2])
        if apart >= self._pot and self._clear_ms < 0:
            gained = apart - self._before
            share = (self._pot - self._before) / gained if gained > 0 and self._before < self._pot else 0.0
            self._clear_ms = int(self._before_ms + (t - self._before_ms) * share)
        self._before = apart
        self._before_ms = t
        far = self._far
        self._far = max(far, apart)
        if self._rule == _GROWING:
            return apart >= min(far - _SHRINK_UDEG, self._loose)
        if self._leaving and apart < min(far, self._pot) - _SHRINK_UDEG:
            return False
        return self._behind(t)

    def _behind(self, t):
        """Whether the direction in _enu is admitted in t ms, when the sun has moved on."""
        e, n, u = self._enu
        return self._rule_sky.admits(e, n, u, self.sun.behind_udeg(e, n, u), t * _SUN_UDEG_PER_S // 1000)
