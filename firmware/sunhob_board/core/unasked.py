"""What the dish does that nobody asks for at that moment: interlocks, the return after cloud, a better park.

Units: ms. Part of the controller, whose state it works on. Each is warned of like what is asked for.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..mount.planner import LEAVE
from . import panel as keys
from .park import POLE
from .phases import REST
from .wishes import ON_SUN_MODES

_C = ev.CODES
_I = table.INDEX
_NIGHT_U = -0.02


class Unasked:
    """Looked at in every tick; each begins a move, or lowers the heat."""

    def _obey_locks(self, sun_ok):
        strongest = self.locks.strongest
        lowered = self.locks.has(table.LOWER)
        if lowered != self.lowered:
            self.lowered = lowered
            if self.mode == modes.COOKING:
                self.heat_moved()
        if strongest == table.ASIDE and self.mode != modes.ASIDE:
            self.ask_aside()
        if strongest < table.LEAVE:
            return
        if self.mode in modes.COOKS and strongest in (table.LEAVE, table.LOCK):
            cloud = self.locks.only(_I["light_low"])
            self._begin(modes.LEAVING)
            self.resume = cloud and bool(self.s.cook_return_after_cloud)
            if self.resume and self.haze.left():
                self.emit(_C["haze"], self.haze.wanted_s, self.haze.cut_short)
        elif self.mode == modes.PARKED and self.armed_ms > 0 and self.phase == REST:
            self._disarm(3)
        elif self.mode == modes.PARKED and self.locks.has(table.LOCK) and self.phase == REST and not (
                self.cond.restarted and self.on_sun and sun_ok and not self.cond.storm):  # or it leaves
            self._enter(modes.LOCKED, REST)
        if self.cond.restarted and self.mode == modes.PARKED and self.phase == REST and not self.cond.storm:
            if self.on_sun or self.homing_needed:
                if sun_ok:
                    self._begin(modes.LEAVING)
            else:
                self.cond.restarted = False

    def _may_come(self):
        """Nothing in force but words and a lowered heat."""
        if self.locks.strongest > table.LOWER or self.locks.has(table.BAR):
            return False
        return self.chain_closed and not self.homing_needed

    def _maybe_come(self, panel, sun_ok):
        if self.phase != REST or not sun_ok or not self._may_come():
            return
        if self.heat_permille == 0:
            return
        if self.armed_ms > 0:
            self._begin(modes.COMING)
        elif self.resume and self.attend_ms > 0 and panel.held & keys.POT and self._wait_ms <= 0:
            self.haze.returned()
            self._begin(modes.COMING)

    def _maybe_rest(self, panel, sun_ok):
        """Off the heat while the pot is warm enough; back by itself while the cook attends.

        Why that is no return that nobody armed: it is the same meal. The cook pressed ARM at the dish, chose
        a pot temperature, and is still there: attendance runs on as on the sun. LEAVE, ASIDE, any fault, the
        stop chain, a lifted pot and absence end it, and from none of them it comes back. It needs the pot
        seen and sane probes, it warns for twice as long, and its lamp for hands stays dark.
        """
        if self.dial.resting:
            if self.mode in ON_SUN_MODES and not self._large_move:
                self._begin(modes.RESTING)
        elif self.mode == modes.RESTING and self.phase == REST and self.heat_permille > 0:
            if sun_ok and self.attend_ms > 0 and panel.held & keys.POT and self._may_come() and (
                    not self.lowered):
                self._begin(modes.COMING, 2)

    def _maybe_move_on(self, dt_ms, sun_ok):
        """A dish that would gather less loose light elsewhere goes there: once a way is found, it warns."""
        rest = self.rest
        if self.phase != REST or not sun_ok:
            self._scouting = False
        elif self._scouting:
            if not (self.planner.step() or self.planner.step()):  # it is asked every 2 s alone
                return
            self._scouting = False
            if self.planner.legs is not None and self._free():
                self.emit(_C["park_moved"], rest.goal(), rest.least_at(rest.goal()) // 100_000)
                self._begin(modes.LEAVING)
                self.moving_on = True
        elif rest.tick(dt_ms):
            rest.look(not self.homing_needed or self.seen)
            if self._free() and (rest.moves_on() or self._winds_back()):
                goal = rest.pole if rest.goal() == POLE else self.park
                self.planner.begin(goal[0], goal[1], LEAVE)
                self._scouting = True

    def _winds_back(self):
        """Whether it left the sun on the other turn of axis 1, from where no way leads to the morning sun:
        by night the way back is open."""
        return self.sun.u < _NIGHT_U and self.planner.wound()

    def _free(self):
        """Whether nothing forbids a parked dish to move by itself."""
        if self._quiet_ms > 0 or self.armed_ms > 0 or not self.chain_closed or self.locks.latch > 1:
            return False
        return not (self.homing_needed or self.on_sun)
