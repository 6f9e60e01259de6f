"""The way from one mode to the next: announced, braked for, planned during the warning, gone, arrived.

Units: ms, micro-degrees. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..mount.planner import COME, LEAVE
from .park import POLE
from .phases import BRAKING, HOMING, MOVING, ONE_AXIS, REST, WARNING
from .recovery import TURNS_UDEG
from .whereabouts import BLIND, BY_DRIVE, REST_UDEG

_C = ev.CODES
_I = table.INDEX
_ASIDE_MARGIN_UDEG = 2_000_000
_COME_AGAIN_MS = 300_000
_DRIVE_FAULT = _I["drive_fault"]
_DRIVEN = modes.COOKS + (modes.LEAVING,)
QUIET_MS = 300_000  # after a key, a start or a move it does not move on by itself so long
_NO_WAY_MS = 3_000  # so long after a look in vain for a way off the sun it looks again
_NEAR_UDEG = 8_000_000  # what is seen of a dish errs by no more
_LOOK_MS = 700  # at rest, the sun sensor has a frame of its own by then


class Moves:
    """_begin() starts one; _advance() takes it on at every tick."""

    def _begin(self, mode, times=1):
        """Announce the mode; brake first if something moves."""
        if not self.chain_closed:
            return
        if mode == modes.COMING:
            self.lent_ms = 0
            self._from_aside = self.mode != modes.PARKED
        if mode == modes.LEAVING:
            self._disarm(2)
        if mode != self.mode:
            self._was = self.mode
        self._goal_pole = self.moving_on = self._told_home = False
        if self.mode == modes.COOKING:
            self._tell_aim(1)
        self._left_by_dial = False
        self._planned = False
        look = self.cond.doubt and self.homing_needed
        self._enter(mode, BRAKING if self.mount.moving or look else WARNING)
        self._still_ms = 0
        if times:
            self._warn(mode, times)
        if self.mount.moving:
            # A step after the sun is over before the warning is; stopped in it, its play is not taken up.
            if self._was != modes.COOKING or self._large_move or self.cond.doubt:
                self.mount.stop()
        elif not look:
            self._plan()

    def _plan(self):
        self._planned = False
        self.seen = self.seen and self.astray > 0  # then its counts are kept by what it turns of itself
        self._strayed = 0
        if self.homing_needed and (self.cond.doubt or self.rough):
            self._see_where()
            if self.dead:
                self._one_begins()
                return
            self._doubts_sight()
        lost = self.homing_needed and not self.seen
        if lost:
            self._wait_ms = 0
            self._told_home = self._ask_again = False
            self._find()
        if lost or (self.mode == modes.COMING and not self.tracker.ready):
            return
        self._planned = True
        if self.mode == modes.COMING:
            self.tracker.want(self.heat_permille)
            t = self.tracker
            (t.dwell_start if self._was == modes.COOKING else t.aim)(self._vec)
            purpose = COME
            ok = self.mount.geometry.axes_from_enu(self._vec[0], self._vec[1], self._vec[2], self._axes)
            if not ok:
                self._axes[:] = self.park
                self.cond.axis_stuck = True
        else:
            purpose = LEAVE
            goal = self.park
            aside = self.mode != modes.LEAVING and not self._goal_pole
            pole = self._goal_pole or self.rest.goal() == POLE or not self.rest.is_open()
            self._goal_pole = pole and not aside
            if pole:
                goal = self.rest.pole
            self._axes[:] = goal
            if aside:
                self.rest.aside_aim(self._loose_udeg + _ASIDE_MARGIN_UDEG, self._vec)
                spare = [0, 0]
                if self._vec[2] > 0.1 and self.mount.geometry.axes_from_enu(
                        self._vec[0], self._vec[1], self._vec[2], spare):
                    self._axes[:] = spare
        instead = self.rest.pole if self.mode == modes.LEAVING and self.on_sun else None
        self.planner.begin(self._axes[0], self._axes[1], purpose, instead)

    def _advance(self, dt_ms, panel, sun_ok):
        if (self.mount.fails and not self.dead and self.mode in _DRIVEN
                and self.locks.is_tripped(_DRIVE_FAULT)):
            self._drive_fails()
        elif self.phase == BRAKING:
            self._still_ms = 0 if self.mount.moving else self._still_ms + dt_ms
            if not self.mount.moving and (not self.cond.doubt or self._still_ms >= _LOOK_MS):
                self.phase = WARNING
                self._plan()
        elif self.phase == WARNING:
            self._warning()
        elif self.phase == HOMING:
            self._homing()
        elif self.phase == ONE_AXIS:
            if self.one.finished or not self._sun_ok:
                self._one_goes()
        elif self.phase == MOVING:
            if not self.mount.moving:
                self._arrived()
            elif self._stuck < 0 and self._turned(3 - self.dead) * self._went < -TURNS_UDEG:
                self.mount.stop()  # tried, it turns the other way round: towards the sun, perhaps
        elif self.mode == modes.COOKING:
            self._cook(dt_ms)

    def _thinker(self):
        """What looks for a way now, and has not found it yet; None: nothing does."""
        if self.phase == ONE_AXIS:
            return None if self.one.finished else self.one
        if self.phase != WARNING:
            return None
        if self.dead and self.cond.doubt:
            by = self.one
        elif self.homing_needed and not self.seen:
            by = self.find
        elif self._planned:
            by = self.planner
        else:
            return None
        return None if by.finished else by

    def think(self):
        """A bounded piece of looking for a way."""
        by = self._thinker()
        if by is not None:
            by.step()

    def _warning(self):
        if self.dead and self.cond.doubt:
            if self.one.finished and self.warn_ms <= 0:
                self._one_goes()
            return
        if self.homing_needed and not self.seen:
            self._seek_home()
            return
        if not self._planned:
            if not self._told_home or self._wait_ms <= 0:
                self._plan()
            return
        ready = self.planner.finished
        if ready and self.planner.legs is None and not (self._goal_pole or self.moving_on):
            if self.mode != modes.COMING:  # to the pole first, and on to the better place when a way opens
                self._goal_pole = True
                self._plan()
                return
        if self.warn_ms > 0 or not ready:
            return
        if self.planner.legs is None:
            self._no_way()
            return
        if self._told_home:
            self._told_home = False
            self._warn(self.mode)  # the way that has opened is announced afresh
            return
        self.on_sun = self.on_sun or self.mode == modes.COMING
        self._go(self.planner.legs)

    def _go(self, legs):
        ms = self.planner.time_ms
        self.emit(_C["plan"], ms - ms % 100, len(legs))
        if self.astray:  # by its last pulses it has lost its place again
            self.mount.trust()
        self.mount.follow(legs)
        self.phase = MOVING

    def _no_way(self):
        """Coming or moving on: stay parked, and try again later. Else go on looking; said once."""
        coming = self.mode == modes.COMING
        if not self._told_home:
            self.emit(_C["no_path"], self.mode, int(coming))
        if coming and self._from_aside:
            self._begin(modes.LEAVING)
        elif coming or self.moving_on:
            self.moving_on = False
            self._enter(modes.PARKED, REST)
            self._disarm(3)
            self._wait_ms = _COME_AGAIN_MS
        else:
            self._goal_pole = self._planned = False
            self._by_counts()
            self._told_home = True
            self._wait_ms = _NO_WAY_MS

    def _gainsaid(self):
        """Whether a flag close by is not as the count of its axis has it."""
        for k in (0, 1):
            axis = self.mount.axes[k]
            past = axis.position_udeg - axis.home_udeg
            near = axis.homes and REST_UDEG < abs(past) < _NEAR_UDEG
            if near and (past <= 0) != bool(self._flags >> k & 1):
                return True
        return False

    def _seeks(self, gainsaid):
        """Whether it looks for the flags where it has arrived."""
        if not self.homing_needed or self._flags >= BLIND or self.lied > 1:
            return False
        by_drive = self.cond.doubt == BY_DRIVE and self.led < 3
        if gainsaid or not (self.seen or by_drive) or (self.led == 3 and self._stuck > 1):
            return True
        return not ((self.cond.doubt and not by_drive) or self.rest.bright or not self._goal_pole)

    def _arrived(self):
        if self.seen:
            self.rest.look(True)
        if self._stuck >= 0 and (self.cond.doubt or self.led) and self.homing_needed and self.goes_again():
            return
        # come to the pole by what was seen, it may yet stand beside it, in loose light
        gainsaid = self.seen and self._goal_pole and self._gainsaid()
        seeks = self._seeks(gainsaid)
        if seeks and self.find.turned(self.mount.axes[0].position_udeg):
            self.lied = 2  # on its way back to the flag the sun may stand
            seeks = False
        if self.dead:
            self._seek_stuck()
        elif self.astray and self.homing_needed:
            self._strand()
        elif seeks:
            within = _NEAR_UDEG if gainsaid else self._within if self.cond.doubt else 0
            self.mount.home_start((1, 2), within, True)
            self.phase = HOMING
        elif self.mode == modes.COMING:
            self.resume = False
            self._enter(modes.COOKING, REST)
            self.heat_moved()
            self._large_move = True
        else:
            self.on_sun = False
            mode = self.mode
            if mode == modes.LEAVING:
                self.cond.restarted = self.cond.axis_stuck = self.moving_on = False
                self._quiet_ms = QUIET_MS
                mode = modes.LOCKED if self.lied > 1 or self.locks.has(table.LOCK) else modes.PARKED
            self._enter(mode, REST)
            self.rest.look(not self.homing_needed or self.seen or self.lied > 1)
