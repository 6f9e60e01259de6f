"""On the sun: when the next step after it is due, and what of that is told.

Units: ms, micro-degrees. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import modes

_C = ev.CODES
_TELL_LAG_MDEG = 100
_HOLD_MS, _HOLDS = 300, 20


class Following:
    """Every step goes where the sun will have moved on to; a large one is warned of first."""

    def _cook(self, dt_ms):
        t = self.tracker
        t.due_ms -= dt_ms
        if self.aims:  # chosen and sent at one tick, a step would take twice as long as a tick may
            self.aims = False
            t.step()
            self._held = 0
            self._tell_aim(_TELL_LAG_MDEG)
            self.cond.axis_stuck = not t.reachable
            return
        if not self.mount.moving:
            self.mount.axes_udeg(self.sun_axes)
        if self.mount.moving or (self._large_move and self.warn_ms > 0):
            return
        if t.due_ms > 0:
            if self._large_move:
                self._large_move = False
                self.emit(_C["settled"], t.wanted_udeg // 1000, 0)
            return
        if self.watch.suspects and self._held < _HOLDS and not self._large_move:
            self._held += 1  # let the sun sensor have its say: what it sees in a step it sees anew
            t.due_ms = _HOLD_MS
            return
        t.want(self.heat_permille)
        large = t.is_large()
        if t.swings():  # turned straight to it, the dish would go round the zenith, ahead of the sun
            self._begin(modes.COMING)
            return
        if large and not self._large_move:
            self._large_move = True
            self._warn(modes.COOKING)
            return
        self.aims = True

    def _tell_aim(self, least_mdeg):
        """The trail and the lag held, where they are not what was told last; once more before they end."""
        angle, lag = self.tracker.angle_deg, self.tracker.wanted_udeg // 1000
        told = self._told
        if angle != told[0] or abs(lag - told[1]) >= least_mdeg:
            told[0], told[1] = angle, lag
            self.emit(_C["aim"], angle, lag)
