"""The way off the sun and the way onto it: best of a few, behind the sun all along.

Units: axis readings and angles in micro-degrees, ms. Each step() does a bounded piece of work: it lists up to
4 ways, or looks at up to 5 aims of one. An aim is admitted as `admission.py` says; `walk.py` sets the aims
so close that none between them can be far from admitted. A way off, once outside the pot's clear angle, never
comes inside again; inside, it comes no nearer to the sun unless no other way is found. Best is the quickest,
unless the pot stays in the light more than 15 s: each second beyond counts five-fold. It ends on the turn of
axis 1 from which tomorrow's sun is reached, unless only another has the pot out of the light within 20 s: see
wound(). Only where the dish already stands ahead of the sun may it leave by a way on which the distance from
the sun never shrinks until the light is harmless. By less than 8 deg in the pot's light it first looks for
a way that crosses to behind there, beside the pole for one back to it. With one axis alone it may cross the
sun over the pot.
"""

import math

from .admission import Admission
from .walk import CORNER_MS, Walk
from .ways import Ways

LEAVE = "leave"
COME = "come"

_TURN = 360000000
_SAMPLES = 5
_WAYS = 4
_ENOUGH_STEPS = 120  # a way found by then is taken: the warning is about to end
_RAD = math.pi / 180000000.0
_SUN_RAD_PER_MS = 7.292e-8
_SHRINK = 0.0087  # 0.5 deg
_STRIDE = 0.07  # 4 deg
_FAR_AHEAD = -0.02
_BORNE = 0.005  # 0.3 deg
_FAR_BORNE = 0.05  # 3 deg: the flag of axis 1 lies that far beyond the meridian
_OVER = 0.14  # 8 deg ahead it may yet cross over the pot
_FAR = 0.7  # 40 deg from the sun
_POLE_UDEG = 66000000
_FLAGS_NEAR = 0.14  # 8 deg of the pole: the home flags lie beside it, and are passed on either side
_PARTS = (8, 16, 24, 31, 32)  # of a leg in 32, looked at before the walk
_CLEAR_MS = 15000
_CLEAR_WEIGHT = 4
_CLEAR_MOST_MS = 20000  # longer than this: better to end on the other turn of axis 1


class Planner:
    """legs: the way found, None if none; reason tells why none. time_ms: until the end of the last leg;
    pot_clear_ms: until the pot is out of the light. s gives deadband and clear angles."""

    def __init__(self, mount, sun, s=None):
        self.mount = mount
        self.sun = sun
        deadband = s.tracking_deadband_deg if s else 0.08
        loose = int((s.dish_loose_clear_deg if s else 75) * 1000000)
        self.loose_udeg = loose
        self._pot = int((s.dish_pot_clear_deg if s else 20) * 1000000) * _RAD
        self._loose = loose * _RAD
        self._sky = Admission(int(deadband * 650000) + 20000, loose)
        self._borne = self._sky.ahead
        self._home_sky = Admission(0, _POLE_UDEG, _FLAGS_NEAR)
        self._ways = Ways(mount, sun)
        self._walk = Walk(mount)
        self._from = [0, 0]
        self._enu = [0.0, 0.0, 0.0]
        self._found = []
        self.finished = True
        self.legs = None
        self.reason = ""
        self.time_ms = 0
        self.pot_clear_ms = 0

    def begin(self, a1, a2, purpose, spare=None, margin=0):
        """Plan from where the mount stands to these readings [udeg]; purpose is LEAVE or COME.

        spare: where to leave for instead, if there is no other way, or none that clears the pot in 20 s.
        margin [udeg on the sky]: well off the sun every aim so near must be admitted too, for a mount that
        knows its place no better.
        """
        self.legs = None
        self.reason = ""
        self.time_ms = 0
        self.pot_clear_ms = 0
        self._leaving = purpose == LEAVE
        self._goal = a1, a2
        self._spare = spare
        self._margin = margin * _RAD
        self._given = None
        self._keeps = self._leaving
        self._cost = -1
        self._steps = 0
        self.finished = False
        self.mount.axes_udeg(self._from)
        if not self.mount.geometry.admits(a1, a2):
            self._end("the aim lies outside the travel")
        elif self.sun is None:
            if self._leaving:
                self.legs = [(a1, a2)]
            self._end("" if self._leaving else "the sun's place is not known")
        else:
            self._fresh = True  # the rest is for the first step: whoever begins has done enough in that tick

    def _start(self):
        """Take the sun of this moment, and list the ways, or judge the one that is given."""
        self._fresh = self._over = False
        self._sky.begin(self.sun, self.mount.geometry.pole)
        here = self._apart(self._from[0], self._from[1])
        # whether it may come nearer to the sun in the pot's light
        self._crosses = here >= self._pot or self._given is not None
        # Coming anew from beside the sun it stays there: farther off, it would be a return.
        self._most = math.pi if self._leaving or here > self._pot else max(here, 0.5 * self._pot)
        if self._given is None:
            self._restart(False)
        else:
            self._home_sky.begin(self.sun, self.mount.geometry.pole)
            self._ready = True
            self._i = 0
            self._found = [self._guess(self._given)]
            self._open()

    def _apart(self, a1, a2):
        """Angle from the sun [rad] at two readings; the direction goes into _enu."""
        enu = self._enu
        self.mount.geometry.enu_from_axes(a1, a2, enu)
        return self.sun.separation_udeg(enu[0], enu[1], enu[2]) * _RAD

    def wound(self):
        """Whether the mount stands on a turn of axis 1 from which tomorrow's sun is not reached from behind,
        and could stand the same way on another."""
        g = self.mount.geometry
        self.mount.axes_udeg(self._from)
        a1, a2 = self._from
        if self._ways.eastern((a1, a2)):
            return False
        others = (a1 - _TURN, a1 + _TURN)
        return any([g.low[0] <= a <= g.high[0] and self._ways.eastern((a, a2)) for a in others])

    def begin_given(self, start, way, growing=False, keeps=False):
        """Judge one way from these readings, as if the mount stood there. growing: the distance from the sun,
        once out of the pot's light, must never shrink until the light is harmless, and nothing else. keeps:
        out of the pot's light it must not come back. Else an aim is also admitted near the pole, and where
        the sun comes no nearer than it ever does to the pole; far from the sun a lead of 3 deg is borne, for
        the flags lie beyond the meridian."""
        self.begin(start[0], start[1], LEAVE)
        if not self.finished:
            self._from[0], self._from[1] = start
            self._given = way
            self._keeps = keeps
            self._growing = growing

    def _restart(self, growing):
        """List the ways anew, for one rule or the other."""
        self._growing = growing
        self._sky.ahead = self._borne
        self._ready = False
        self._found = []
        self._i = 0
        a1, a2 = self._goal
        self._ways.begin(self._from, a1, a2, self._leaving, self._sky.behind, self._spare,
                         growing or not self._leaving)

    def _end(self, reason):
        self.reason = reason
        self._found = []
        self.finished = True

    def step(self):
        """Do a bounded piece; True when finished."""
        if self.finished:
            return True
        if self._fresh:
            self._start()
            return False
        if not self._ready:
            self._list()
            return False
        self._steps += 1
        if self._steps > _ENOUGH_STEPS and self.legs is not None:
            self._end("")
            return True
        for _ in range(_SAMPLES):
            if not self._sample():
                break
        return self.finished

    # --- which ways there are -----------------------------------------------------------------------

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
        total = -CORNER_MS
        clear_ms = 0
        to_go = self._pot if self._leaving else 0
        for b1, b2 in way:
            ms = max(one.way_ms(a1, b1), two.way_ms(a2, b2))
            apart = max(abs(b2 - a2), abs(b1 - a1) * self.mount.geometry.across(a2)) * _RAD
            if to_go > 0:
                share = min(1.0, to_go / apart) if apart else 1.0
                clear_ms += int(ms * share)
                to_go -= apart
            total += ms + CORNER_MS
            a1, a2 = b1, b2
        total = max(0, total)
        return total + self._late(clear_ms), len(self._found), total, way

    def _late(self, clear_ms):
        return _CLEAR_WEIGHT * max(0, clear_ms - _CLEAR_MS) if self._leaving else 0

    # --- one way after another ----------------------------------------------------------------------

    def _open(self):
        """Start on the next quickest way, or end."""
        if self._i < len(self._found) and not 0 <= self._cost <= self._found[self._i][0]:
            self._clear_ms = -1
            self._far = self._before = self._before_ms = 0
            self._rough = 0
            if self._growing or self._given or self._over:
                self._walk_it()
        elif self._given:
            self._end("" if self.legs is not None else "ahead of the sun")
        elif (self.legs is None or self.pot_clear_ms > _CLEAR_MOST_MS) and self._ways.widen():
            self._found = []
            self._i = 0
            self._ready = False
        elif self.legs is not None:
            self._end("")
        elif self._leaving and not self._growing and self.ahead_now():
            self._over = self._crosses = not self._over and self._over_pot()
            self._restart(not self._over)
        elif self._growing and self._beside_pole():
            self._restart(False)
        elif self._leaving and not self._growing and not self._crosses:
            self._crosses = True  # the heat rises for a moment
            self._restart(False)
        else:
            self._end("no way keeps behind the sun")

    def _over_pot(self):
        """Whether it stands a little ahead of the sun in the pot's light: it may cross to behind there."""
        return self._apart(self._from[0], self._from[1]) < self._pot and not self.ahead_now(_OVER)

    def _beside_pole(self):
        """Whether it stands so near the pole that back to it is no way towards the sun, and now may go so."""
        enu = self._enu
        self._apart(self._from[0], self._from[1])
        return self._sky.widens(_FLAGS_NEAR, enu[0], enu[1], enu[2])

    def ahead_now(self, by=0.0):
        """Whether what is planned begins ahead of the sun by more than that [rad]."""
        return self.ahead_at(self._from[0], self._from[1], by)

    def ahead_at(self, a1, a2, by=0.0):
        """Whether these readings [udeg] look ahead of the sun by more than that [rad], in light that is
        loose."""
        enu, sky = self._enu, self._sky
        self.mount.geometry.enu_from_axes(a1, a2, enu)
        borne = sky.ahead
        sky.ahead = max(borne, by)
        margin = sky.margin(enu[0], enu[1], enu[2], 0.0)
        sky.ahead = borne
        return margin < 0.0

    def _walk_it(self):
        self._rough = -1
        self._walk.start(self._from, self._found[self._i][3])
        self._look()

    def _roughly(self):
        """Whether the next point of a few is not far ahead of the sun, nor its corner ahead at all. By then
        the sun will have moved on, so this forbids no more than the walk does."""
        way = self._found[self._i][3]
        leg, part = self._rough // len(_PARTS), _PARTS[self._rough % len(_PARTS)]
        a1, a2 = way[leg - 1] if leg else self._from
        b1, b2 = way[leg]
        enu = self._enu
        self.mount.geometry.enu_from_axes(a1 + (b1 - a1) // 32 * part, a2 + (b2 - a2) // 32 * part, enu)
        self._rough += 1
        if self._rough == len(_PARTS) * len(way):
            self._walk_it()
        return self._sky.margin(enu[0], enu[1], enu[2], 0.01) >= (-0.001 if part == 32 else _FAR_AHEAD)

    def _sample(self):
        """Check one point of the way; False when this step() should end."""
        if self._rough >= 0:
            if not self._roughly():
                self._i += 1
                self._open()
        elif not self._walk.next(self._free, self._before):
            self._accept()
        elif not self._look() or self._hopeless():
            self._i += 1
            self._open()
        return self._ready and not self.finished

    def _hopeless(self):
        """Whether this way already costs more than the best so far."""
        late = self._late(self._walk.t) if self._clear_ms < 0 else 0
        return 0 <= self._cost <= self._found[self._i][2] + late

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

    def _look(self):
        """Whether the aim the walk stands at is admitted; sets how far around it all are."""
        walk = self._walk
        apart = self._apart(walk.a1, walk.a2)
        e, n, u = self._enu
        if apart > self._most:
            return False
        if apart >= self._pot and self._clear_ms < 0:
            gained = apart - self._before
            share = (self._pot - self._before) / gained if gained > 0.0 and self._before < self._pot else 0.0
            self._clear_ms = int(self._before_ms + (walk.t - self._before_ms) * share)
        self._before = apart
        self._before_ms = walk.t
        far = self._far
        self._far = max(far, apart)
        self._free = _STRIDE
        if self._growing:
            # given, over the pot it may cross: with one axis alone
            return (self._given is not None and far < self._pot) or apart >= min(far - _SHRINK, self._loose)
        if self._keeps and apart < min(far, self._pot) - _SHRINK and (far >= self._pot or not self._crosses):
            return False
        if self._leaving and not self._given:
            self._free = max(_STRIDE, apart - self._pot)
        sky = self._sky
        if self._given:
            sky = self._home_sky
            sky.ahead = _FAR_BORNE if apart > _FAR else _OVER if self._keeps and apart < self._pot else _BORNE
        elif self._over:
            sky.ahead = _OVER if apart < self._pot else self._borne
        margin = sky.margin(e, n, u, walk.t * _SUN_RAD_PER_MS)
        if self._margin and apart > 3.0 * self._margin and apart < self._loose and not sky.at_pole(e, n, u):
            margin -= self._margin
        self._free = min(self._free, margin) if self._leaving and not self._given else margin
        return margin >= 0.0
