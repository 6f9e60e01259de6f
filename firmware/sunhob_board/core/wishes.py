"""What the panel or the link may ask of the dish, and when it is granted.

Units: ms, permille, percent of full speed. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from .phases import REST, WARNING
from .recovery import _RUNS, INSISTS, TRY_MS

_C = ev.CODES
ON_SUN_MODES = (modes.COMING, modes.COOKING)
_HAND_REST_MS = 3_500  # a move by hand after a longer rest is warned of afresh


class Wishes:
    """Asked by a person or a host; '' or, where it is refused, why."""

    def ask_leave(self):
        """Always granted unless it is parked already."""
        self.resume = False
        if self.mode == modes.PARKED and not self.homing_needed:
            return
        if self.mode != modes.LEAVING or self.phase == REST:
            self.lied = self._again = 0
            if not self.locks.is_tripped(_RUNS):  # until a person has cleared it
                self.astray = 0
            self.mount.by_pulses()
            self.next_try_ms = self.try_ms or TRY_MS
            self._stuck = INSISTS  # of a dead axis the flag is looked for, and home is found anew
            self._begin(modes.LEAVING)

    def ask_aside(self):
        """True if the dish will turn aside."""
        if self.mode == modes.RESTING and self.phase == REST:
            self._enter(modes.ASIDE, REST)  # it stands there already: now it stays
            return True
        if self.mode not in ON_SUN_MODES and self.mode != modes.RESTING:
            return False
        self._begin(modes.ASIDE)
        return True

    def ask_heat(self, kind, value):
        """Heat asked, as the dial has it. Less than the least keeps a parked dish parked and sends another
        off the sun in one motion; the dial turned up again during that warning calls it off."""
        if not self.dial.ask(kind, value):
            return
        self.emit(_C["asked"], kind, value)
        self.heat_moved()
        if self.heat_permille == 0:
            if self.mode in ON_SUN_MODES or self.mode == modes.RESTING:
                cooking = self.mode == modes.COOKING
                self.ask_leave()
                self._left_by_dial = cooking
        elif self._left_by_dial and self.mode == modes.LEAVING and self.phase == WARNING:
            if self.locks.strongest < table.LEAVE:
                self.warn_ms = 0
                self._enter(modes.COOKING, REST)

    def heat_moved(self):
        """The dial wants another heat: aim anew at the next tick."""
        if self.mode == modes.COOKING:
            self._tell_aim(1)
        self.tracker.want(self.heat_permille or self.dial.least)
        self.tracker.due_ms = 0
        self.aims = False
        self._told[1] = self.tracker.wanted_udeg // 1000
        self.emit(_C["dial"], self.heat_permille, self._told[1])

    def ask_jog(self, axis, rate_percent, hold_ms, covered):
        """Hold-to-run move by hand, of a dish said to be covered: by the host, and by ASIDE pressed where it
        rests, for a host may be anywhere."""
        if self.mode not in (modes.PARKED, modes.BY_HAND) or not self.chain_closed or self.homing_needed:
            return False
        if not covered or self.lent_ms <= 0:
            return False
        self._hand_is_here()
        if self.mode == modes.PARKED:
            self._enter(modes.BY_HAND, REST)
        if self.warn_ms > 0:
            return True
        moves = self._warned_ms > 0
        if moves:
            self.jog_ms = hold_ms
            self.mount.jog(axis, rate_percent)
        else:
            self._warn(modes.BY_HAND)
        if rate_percent or not moves:
            self._warned_ms = self.warn_ms + hold_ms + _HAND_REST_MS
        return True

    def clear_all(self):
        for i in range(self.locks.n):
            if self.locks.is_tripped(i) and self.locks.latched[i]:
                self.clear(i)

    def clear(self, i):
        """Clear one latched row; True if its cause is gone."""
        if not self.locks.clear(i):
            return False
        self.emit(_C["cleared"], i, 0)
        return True
