"""Where the counts are not known: the way to the home flags, behind the sun, and the search for them.

Units: ms. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import modes
from .find_home import FLAGS_WITHIN_UDEG
from .phases import HOMING, WARNING
from .recovery import TURNS_UDEG
from .whereabouts import BLIND, BRIGHT

_C = ev.CODES
_ASK_AGAIN_MS = 60_000
_HOME = 2  # purpose of a way told in no_path


class SeekHome:
    """Part of a move that cannot be planned otherwise; it goes on with that once home is found."""

    def _find(self):
        flags = BLIND if self.lied > 1 else self._flags  # then it does not look for them: to the pole itself
        self.find.begin(self.rough, flags, self._sun_ok, self.rest.pole)

    def _seek_home(self):
        """Go to the home flags by a way found behind the sun; with none, say so once and ask again later."""
        find = self.find
        check = self.watch.place_check
        if (self.rough and self.watch.sees) or (check is not None and check.starts(self)):
            self._plan()
            return
        if self._wait_ms > 0:
            return
        if self._ask_again:
            self._ask_again = False
            self._find()
        if not find.finished:
            return
        if find.legs is None and (find.order is None or self._flags >= BLIND):
            if self.warn_ms > 0:
                return
            if not self._told_home:
                self.emit(_C["no_path"], self.mode, _HOME)
                self._told_home = True
            self._wait_ms = _ASK_AGAIN_MS
            self._ask_again = True
        elif self.warn_ms > 0:
            return
        elif self._told_home:
            self._told_home = False
            self._warn(self.mode)  # the way that has opened is announced afresh
        elif find.legs is None:
            self.mount.home_start(find.order)
            self.phase = HOMING
        else:
            self.mount.trust()
            self._go(find.legs)

    def _homing(self):
        if self._flags >= BLIND:
            self.mount.stop()
            self._strand()
        elif self._seeking and abs(self._turned(self.dead)) > TURNS_UDEG:  # it only loses steps
            self._slow, self._share, self.dead = self.dead, 1.0, 0
            self._seeking = False
            self._begin(modes.LEAVING, 0)
        elif self.mount.home_tick(self._flags):
            if self._seeking:  # it does turn: both may be looked for
                self._seeking = False
                self.dead = 0
                self.mount.home_start((1, 2), FLAGS_WITHIN_UDEG)
                return
            if self.dead:
                self._leave_with_one()
                return
            for axis in (1, 2):
                if self.mount.axes[axis - 1].homes:
                    self.emit(_C["homed"], axis, self.mount.homing.searches[axis - 1].error // 1000)
            self.homing_needed = self.rough = False
            self.led = 0
            self._slow = 0
            if self.cond.doubt <= BRIGHT:  # the flags have spoken for the counts
                self.cond.blamed |= 1 << self.cond.doubt
            self.cond.doubt = 0
            self.phase = WARNING  # it goes on with what it was warned of
            self._plan()
        elif self.mount.homing.missed:
            self._lost(self.mount.homing.missed)
