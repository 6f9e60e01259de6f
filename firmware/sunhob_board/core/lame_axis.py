"""One axis does not turn as it is driven: leave with the other, try it again, or alarm with the times.

Units: ms, micro-degrees. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import modes
from .find_home import FLAGS_WITHIN_UDEG
from .phases import HOMING, MOVING, ONE_AXIS, REST
from .recovery import TRY_MS, TURN_UDEG
from .whereabouts import BY_DRIVE, BY_SUN, FLAG1

_C = ev.CODES
_TURNS_UDEG = 3_000_000  # told by an encoder, a dead axis that is tried has turned
_ROUGH_UDEG = 1_500_000  # where it stands is not known better, of a dish that is in doubt
_EDGE_UDEG = 8_000_000  # of what it sees, where the sun sensor may tell nothing


class LameAxis:
    """What is left to be done by motor; at its end the dish is off the sun, or alarms."""

    def _lost(self, axis):
        """The flag of an axis does not come. With the other one's place found, leave with that; where the
        flag must be the wrong one, rest by the counts."""
        other = 3 - axis
        check = self.watch.place_check
        if check is not None and check.kept == 3 and self.rough and self.lied < 2:
            self.cond.doubt = self.cond.doubt or FLAG1 - 1 + axis
            self.dead = self._stuck = 0
            self.next_try_ms = self.try_ms = TRY_MS
            self._begin(modes.LEAVING)
            return
        if self.dead or not self.rough:
            self.cond.doubt = self.cond.doubt or FLAG1 - 1 + axis
            self._strand()
        elif self.lied:
            self.lied = 2
            self._begin(modes.LEAVING, 0)
        else:
            self.dead = axis
            self._stuck = False
            if self.mount.homing.found(other):
                self._leave_with_one()
            else:
                self.mount.home_start((other,), self._within)

    def _leave_with_one(self):
        """The other axis stands where it stood on the sun: where can this one go?"""
        self.mount.trust()
        self._one_begins()
        self.phase = ONE_AXIS

    def _one_begins(self):
        self.mount.axes_udeg(self._axes)
        sent = self._axes[self.dead - 1]
        self._axes[self.dead - 1] = self.sun_axes[self.dead - 1]
        for k in (0, 1):  # a little past its end no way would be admitted
            self._axes[k] = self.mount.axes[k].clamp(self._axes[k])
        if self._sun_ok:
            self.one.begin(self.dead, self._axes[0], self._axes[1], sent, self.rest.pole[2 - self.dead],
                           self._stuck < 0)

    def _one_goes(self):
        if self._stuck >= 0:
            self.emit(_C["dead_axis"], self.dead, self.one.away_udeg // 1000)
        if not self._sun_ok or self.one.legs is None:
            self._seek_stuck()
            return
        pair = list(self.one.legs[0])
        k = 2 - self.dead
        if self._stuck < 0:
            self._went = 1 if pair[k] > self._axes[k] else -1
        self._axes[k] = pair[k]
        pair[self.dead - 1] = self.mount.axes[self.dead - 1].position_udeg
        self.mount.follow([pair])
        self.phase = MOVING

    def _seek_stuck(self):
        """One axis has done what it can. If light stays loose and the other stood still, perhaps it was only
        what measures it that did: its flag will tell."""
        away = self.one.away(self._axes[0], self._axes[1]) if self._sun_ok else 0
        told = self.led >> self.dead - 1 & 1
        if not told and self._stuck > 0 and (self._stuck > 1 or away < self._loose_udeg):
            within = TURN_UDEG if self._stuck > 1 else FLAGS_WITHIN_UDEG
            sees, sight = self.watch.sees, self.watch.sight
            sure = sees and not sight.strays  # the sun is where the counts have it
            unseen = not sees and sight and sight.bright
            if self.cond.doubt == BY_DRIVE and ((self._stuck > 1 and sure) or unseen):
                self.sun_axes[:] = self._axes
                self._tries_other(0)  # alone: with both, the other one may turn back to the sun
                return
            self._stuck = False
            if self.cond.doubt == BY_DRIVE:  # its pulses, perhaps: both go on by time
                self.dead = 0
                self._begin(modes.LEAVING, 0)
                return
            self._seeking = True
            self.mount.trust()
            self.mount.home_start((self.dead,), within)
            self.mount.homing.searches[self.dead - 1].stays = True  # it stood where it began: near the sun
            self.phase = HOMING
        else:
            self._strand()

    def _strand(self):
        """Nothing more can be done by motor now: alarm while light is loose, and tell how long."""
        if self.dead:
            self.mount.axes[self.dead - 1].set_position(self._axes[self.dead - 1])
        if self._stuck < 0:
            self._stuck = 0
            self.dead = 3 - self.dead
            if self._tried():
                self._begin(modes.LEAVING, 0)
                return
        else:
            self._see_where()
        self.mount.axes_udeg(self._axes)
        self.sun_axes[:] = self._axes
        self.cond.doubt = self.cond.doubt or BY_SUN
        self.on_sun = not (self._sun_ok and (self.dead or self.astray)
                           and self.one.away(self._axes[0], self._axes[1]) >= self._loose_udeg + _ROUGH_UDEG)
        self._seeking = False
        self.homing_needed = True
        self.rough = self.rough and self.cond.doubt == BY_DRIVE  # counted turns stay right to some degrees
        self._enter(modes.LOCKED, REST)
        self.rest.look(True)
        if self.on_sun:
            self._tell_walk_off()

    def _tried(self):
        """After a dead axis was driven once more: whether there is news, that it turns, or has crept to where
        the other one alone may lead off the sun. Else it stands where it stood."""
        k = self.dead - 1
        axis, began = self.mount.axes[k], self.sun_axes[k]
        sight = self.watch.sight
        self._axes[k] = began
        if self.led >> k & 1:  # its count is where it stands
            self._went = 0
            if abs(axis.position_udeg - began) < _TURNS_UDEG:
                return False
            self.dead = self._again = 0
            return True
        gone = (sight is not None and sight.beside  # and where it began the sun is well seen
                and self.one.away(self._axes[0], self._axes[1]) < self._loose_udeg - _EDGE_UDEG)
        at = began if gone else sight.alone(k) if self.watch.sees else None
        if at is None or self.one.legs is None:
            crossed = (began <= axis.home_udeg) != bool(self._flags >> k & 1)
            if self.one.legs is not None and not self.watch.sees and axis.homes and crossed:
                self.dead = self._again = self._went = 0  # its flag has changed
                return True
            axis.set_position(began)
            return False
        by = (at - began) * self._went
        if not self.mount.fails and (gone or 2 * by > abs(sight.here[k] - began)):
            self.dead = self._again = self._went = 0  # it has turned as it was driven
        else:
            axis.set_position(at)
            self._gets_on(at, began)
        return True

    def _tell_walk_off(self):
        """Work out when the light ends and when it comes back, from where the dish is believed to stand."""
        if self._sun_ok:
            g = self.mount.geometry
            if self.dead:
                g.enu_from_axes(self._axes[0], self._axes[1], self._vec)
            else:
                self.mount.enu(self._vec)
            self.walk.begin(self._vec[0], self._vec[1], self._vec[2])
            self._walking = True
