"""What a person does at the dish: buttons, knob and stop chain, and how long the cook counts as there.

Units: ms. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import modes
from . import panel as keys
from .phases import REST

_C = ev.CODES


class AtTheDish:
    """The panel's keys as they go down and up."""

    def _count_hand(self, dt_ms):
        """Nothing is left unattended off its park: left alone, it warns and goes there."""
        self.hand_ms -= dt_ms
        if self.hand_ms <= 0:
            self.emit(_C["hand_lapsed"], int(self.s.cook_by_hand_timeout_min), 0)
            self._begin(modes.LEAVING)

    def _hand_is_here(self):
        self.hand_ms = int(self.s.cook_by_hand_timeout_min * 60_000)

    def _cook_is_here(self, panel):
        minutes = int(self.s.cook_attendance_min)
        if self.attend_ms < minutes * 60_000 - 60_000:
            self.emit(_C["confirm"], minutes, 0)
        self.attend_ms = minutes * 60_000
        self._hand_is_here()

    def _chain(self, closed, dt_ms):
        if closed == self.chain_closed:
            return
        self.chain_closed = closed
        self.emit(_C["stop_chain"], int(closed), 0)
        if not closed:
            self._disarm(4)
            self.power_lost(dt_ms)

    def power_lost(self, dt_ms):
        """The motors have no power, by the stop chain or a fault: where a move ended is known roughly."""
        was = self.mount.placed and (self.rough or not self.homing_needed)
        self.next_try_ms = 0
        if self._stuck < 0:  # amid a try of the dead axis: it is as dead as before
            self._stuck = 0
            self.dead = 3 - self.dead
        self.mount.halt(dt_ms)
        if not self.mount.placed:
            self.rough = was
            self.homing_needed = True
        self.warn_ms = 0
        self._enter(modes.LOCKED, REST)
        if self.on_sun:
            self._tell_walk_off()

    def _buttons(self, pressed):
        if pressed & keys.LEAVE:
            if self.waits and self.homing_needed:  # told to cover it and press LEAVE: it goes
                self._ask_again = False
                self._wait_ms = 0
                self.find.insist()
            self.ask_leave()
        elif pressed & keys.ASIDE:
            self._back = self.mode == modes.ASIDE and self.phase == REST
            if self.mode in (modes.PARKED, modes.LOCKED, modes.BY_HAND):
                self.lent_ms = self.attend_ms
            elif not self._back:
                self.ask_aside()

    def _taps(self, tapped):
        """What brings it to the sun: by a button that was let go again."""
        if tapped & keys.ASIDE and self._back and self.mode == modes.ASIDE and self.phase == REST:
            off = modes.RESTING if self.dial.resting else modes.LEAVING
            self._begin(modes.COMING if self.heat_permille > 0 else off)
        elif tapped & keys.ARM and self.mode == modes.PARKED and self._may_come():
            minutes = int(self.s.cook_arm_timeout_min)
            self.armed_ms = minutes * 60_000
            self.emit(_C["armed"], minutes, 0)
            self.haze.forget()
