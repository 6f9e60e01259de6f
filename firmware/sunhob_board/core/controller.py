"""Modes of the mount and the way from one to the next.

Units: ms, micro-degrees, permille. No clock, no pins: everything a tick needs comes in as arguments.
Every motion that could reach hands is announced first; the plan is worked out during the warning.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..heat import dial as heat
from ..mount.planner import COME, LEAVE
from . import panel as keys
from .find_home import FindHome
from .haze import Haze
from .one_axis import OneAxis
from .park import POLE
from .phases import BRAKING, HOMING, MOVING, ONE_AXIS, REST, WARNING
from .recovery import FLAGS_WITHIN_UDEG, SETTLED_MS, Recovery
from .walk_off import WalkOff
from .whereabouts import BLIND, BRIGHT, BY_DRIVE
from .wishes import ON_SUN_MODES, Wishes

_C = ev.CODES
_I = table.INDEX
_CLEAR_HOLD_MS = 3_000
_ASIDE_MARGIN_UDEG = 2_000_000
_COME_AGAIN_MS = 300_000
_PLANNING_MS = 40  # nothing moves then; a way is found before the warning ends
_NIGHT_U = -0.02
_ASK_AGAIN_MS = 60_000
_HOME = 2  # purpose of a way told in no_path
_QUIET_MS = 300_000  # after a key, a start or a move it does not move on by itself so long
_TELL_LAG_MDEG = 100
_DRIVE_FAULT, _OUTPUT_STUCK = _I["drive_fault"], _I["output_stuck"]
_DRIVEN = modes.COOKS + (modes.LEAVING,)
_LOOK_MS = 700  # at rest, the sun sensor has a frame of its own by then


class Controller(Wishes, Recovery):
    """mode, phase and the cook's wishes; tick() is called at every cycle."""

    def __init__(self, app):
        s = self.s = app.s
        self.sun = app.sun
        self.mount = app.mount
        self.planner = app.planner
        self.tracker = app.tracker
        self.dial = app.dial
        self.locks = app.locks
        self.cond = app.conditions
        self.rest = app.rest
        self.emit = app.emit
        self.mode = modes.PARKED
        self.phase = REST
        self.armed_ms = 0
        self.attend_ms = 0
        self.warn_ms = 0
        self.resume = False
        self.lowered = False
        self._from_aside = False
        self.homing_needed = False
        self.rough = False  # homing is needed, and the counts are right to a few degrees
        self.find = FindHome(s, app.sun, app.mount, app.planner)
        self._flags = self._within = 0
        self._sun_ok = False
        self._told_home = self._ask_again = False
        self.on_sun = False
        self.sun_axes = [0, 0]  # readings when last on the sun
        self.dead = 0  # an axis that was seen not to turn as it is driven: 1 or 2
        self._slow = 0  # an axis that turns less far than it is driven
        self.borne = False  # see Whereabouts
        self.lied = 0  # 1: a flag that does not come is wrong, not its axis; 2: it rests with none looked for
        self._was = modes.PARKED  # the mode before this one
        self.astray = 0  # an axis that turns by itself: motors have power only while they are to turn
        self.watch = app.watch  # tells where the axes truly stand
        self._again = 0
        self._turn = 0  # axis whose sense is to be turned round once it stands, and where its move began
        self._from = None
        self.next_try_ms = self.try_ms = 0  # see Recovery._maybe_again
        self._seeking = False
        self.seen = False  # the sun sensor tells where it stands, and no flag is sought
        self._strayed = 0  # by itself, in the move that is under way [udeg]
        self._still_ms = self.rests_ms = 0
        self._shift = [0, 0]  # by how much the counts were mended from what sees the axes [udeg]
        self._stuck = False  # the dead axis stood still, and its flag may be looked for
        self.one = OneAxis(app.sun, app.mount, app.planner)
        self.walk = WalkOff(s, app.sun)
        self._walking = False
        self.chain_closed = True
        self.jog_ms = 0
        self._warned_ms = 0  # so long a move by hand needs no other warning
        self.hand_ms = 0
        self.lent_ms = 0  # so long whoever stands at the covered dish lets a host turn it
        self._back = False  # ASIDE went down where it means to come back
        self.haze = Haze(self.locks, _I["light_low"])
        self.park = app.rest.axes
        self.moving_on = False
        self._goal_pole = False
        self._scouting = False
        self._wait_ms = 0
        self._quiet_ms = _QUIET_MS
        self._large_move = False
        self._planned = False
        self._left_by_dial = False
        self._told = [0, 0]
        self._loose_udeg = int(s.dish_loose_clear_deg * 1_000_000)
        self._vec = [0.0, 0.0, 0.0]
        self._axes = [0, 0]

    # --- what the rest asks ------------------------------------------------------------------

    @property
    def busy(self):
        """Whether the control tick must run at its fast pace."""
        return self.mount.moving or self.warn_ms > 0 or self.phase > REST

    @property
    def hurries(self):
        """Whether every tick counts."""
        return self.phase != REST or self.warn_ms > 0 or self._walking

    @property
    def waits(self):
        """Whether it stands and looks in vain for a way: to the flags or off the sun."""
        return self.mode == modes.LEAVING and self.phase == WARNING and self._told_home

    @property
    def buzzer(self):
        if self.mode == modes.LEAVING and self.cond.doubt:  # an axis may stand still in it, and go on
            return True
        return self.warn_ms > 0 or (self.mode == modes.LOCKED and self.on_sun)

    @property
    def heat_permille(self):
        """Heat to hold, in permille of full heat; 0 to be off the sun."""
        return min(self.dial.permille, self.dial.least) if self.lowered else self.dial.permille

    def due_ms(self, gone_ms):
        """Time until this controller wants the next tick [ms], gone_ms after its last."""
        if self.phase == WARNING and not self.planner.finished:
            return _PLANNING_MS
        if self.busy or self._walking:
            return 100
        if self.mode == modes.COOKING and self.phase == REST:
            return max(1, min(1000, self.tracker.due_ms - gone_ms))
        return 1000

    # --- one tick ----------------------------------------------------------------------------

    def tick(self, dt_ms, panel, sun_ok):
        self._flags = panel.held // keys.HOME1
        self._sun_ok = sun_ok
        if not (self.homing_needed or self.mount.placed):  # turned by other than its drives
            self.homing_needed = self.rough = True
        if self.mount.moving:
            if self.astray:
                self._strays(dt_ms)
            self.rests_ms = 0
        elif self.rests_ms < SETTLED_MS:
            self.rests_ms += dt_ms
        self._count_down(dt_ms)
        self._chain(bool(panel.held & keys.CHAIN), dt_ms)
        if panel.pressed or panel.knob.moved:
            self._cook_is_here(panel)
            self._quiet_ms = _QUIET_MS
        if panel.knob.moved:
            self.ask_heat(heat.PERCENT, panel.knob.percent * 10)
        if panel.pressed:
            self._buttons(panel.pressed)
        if panel.tapped:
            self._taps(panel.tapped)
        if panel.held & keys.CONFIRM and panel.held_ms >= _CLEAR_HOLD_MS:
            self.clear_all()
        self._obey_locks(sun_ok)
        if self._walking and self.walk.step():
            self._walking = False
            self.emit(_C["walks_off"], self.walk.pot_min, self.walk.loose_min)
            self.emit(_C["comes_back"], self.walk.back_min, 0)
        if self.mode in modes.COOKS:
            self._maybe_rest(panel, sun_ok)
        if self.mode == modes.PARKED:
            self._maybe_come(panel, sun_ok)
            self._maybe_move_on(dt_ms, sun_ok)
        if self.mode in (modes.PARKED, modes.LOCKED):
            self._maybe_again(dt_ms)
        self._advance(dt_ms, panel, sun_ok)

    def _count_down(self, dt_ms):
        if self.armed_ms > 0:
            self.armed_ms -= dt_ms
            if self.armed_ms <= 0 and self.mode == modes.PARKED:
                self.emit(_C["disarmed"], 1, 0)
        if self.attend_ms > 0:
            self.attend_ms -= dt_ms
        if self._wait_ms > 0:
            self._wait_ms -= dt_ms
        if self._quiet_ms > 0:
            self._quiet_ms -= dt_ms
        self.cond.attendance_out = self.attend_ms <= 0 and self.mode in modes.COOKS
        if self.warn_ms > 0:
            self.warn_ms -= dt_ms
        self._warned_ms = max(0, self._warned_ms - dt_ms)
        if self.jog_ms > 0:
            self.jog_ms -= dt_ms
            if self.jog_ms <= 0:
                self.mount.stop()
        if self.lent_ms > 0:
            self.lent_ms -= dt_ms
        if self.mode == modes.BY_HAND:
            self._count_hand(dt_ms)
        self.haze.tick(dt_ms, self.mode == modes.COOKING)

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

    # --- what the interlocks make it do ---------------------------------------------------------

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
        elif self.mode == modes.PARKED and self.locks.has(table.LOCK) and self.phase == REST:
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
            if not self.planner.step():
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

    # --- moving ------------------------------------------------------------------------------------

    def _enter(self, mode, phase):
        if mode != self.mode:
            self.emit(_C["mode"], self.mode, mode)
            self.mode = mode
        self.phase = phase

    def _disarm(self, why):
        if self.armed_ms > 0:
            self.armed_ms = 0
            self.emit(_C["disarmed"], why, 0)

    def disarm_afar(self):
        """Something that aims depend on was changed over the link: ARM is wanted anew."""
        self._disarm(3)

    def _warn(self, mode, times=1):
        if self.locks.is_tripped(_OUTPUT_STUCK):  # perhaps by the lamp alone
            times *= 2
        seconds = int(self.s.cook_warn_s) * times
        self.warn_ms = seconds * 1000
        self.emit(_C["warn"], mode, seconds)

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
        self._goal_pole = self.moving_on = False
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
            if self.one.step() or not self._sun_ok:
                self._one_goes()
        elif self.phase == MOVING:
            if not self.mount.moving:
                self._arrived()
        elif self.mode == modes.COOKING:
            self._cook(dt_ms)

    def _warning(self):
        if self.dead and self.cond.doubt:
            if self.one.step() and self.warn_ms <= 0:
                self._one_goes()
            return
        if self.homing_needed and not self.seen:
            self._seek_home()
            return
        if not self._planned:
            self._plan()
            return
        ready = self.planner.step() if not self.planner.finished else True
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
        self.on_sun = self.on_sun or self.mode == modes.COMING
        self._go(self.planner.legs)

    def _find(self):
        flags = BLIND if self.lied > 1 else self._flags  # then it does not look for them: to the pole itself
        self.find.begin(self.rough, flags, self._sun_ok, self.rest.pole)

    def _seek_home(self):
        """Go to the home flags by a way found behind the sun; with none, say so once and ask again later."""
        find = self.find
        if self.rough and self.watch.sees:
            self._plan()
            return
        if self._wait_ms > 0:
            return
        if self._ask_again:
            self._ask_again = False
            self._find()
        if not find.step():
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

    def _go(self, legs):
        ms = self.planner.time_ms
        self.emit(_C["plan"], ms - ms % 100, len(legs))
        self.mount.follow(legs)
        self.phase = MOVING

    def _no_way(self):
        """Coming or moving on: stay parked, and try again later. Else go on looking."""
        coming = self.mode == modes.COMING
        self.emit(_C["no_path"], self.mode, int(coming))
        if coming and self._from_aside:
            self._begin(modes.LEAVING)
        elif coming or self.moving_on:
            self.moving_on = False
            self._enter(modes.PARKED, REST)
            self._disarm(3)
            self._wait_ms = _COME_AGAIN_MS
        else:
            self._goal_pole = False
            self._by_counts()
            self._warn(self.mode)  # whatever way opens later, it is announced afresh
            self._plan()

    def _homing(self):
        if self._flags >= BLIND:
            self.mount.stop()
            self._strand()
        elif self._turns():
            self._slow, self.dead = self.dead, 0
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
            if self.cond.doubt <= BRIGHT:  # the flags have spoken for the counts
                self.cond.blamed |= 1 << self.cond.doubt
            self.cond.doubt = 0
            self.phase = WARNING  # it goes on with what it was warned of
            self._plan()
        elif self.mount.homing.missed:
            self._lost(self.mount.homing.missed)

    def _arrived(self):
        if self._stuck >= 0 and self.cond.doubt and self.homing_needed and self._goes_again():
            return
        by_drive = self.cond.doubt == BY_DRIVE
        if self.seen:
            self.rest.look(True)
        if self.dead:
            self._seek_stuck()
        elif self.astray:
            self._strand()
        elif self.homing_needed and self._flags < BLIND and self.lied < 2 and not (
                (self.seen or by_drive) and (
                    (self.cond.doubt and not by_drive) or self.rest.bright or not self._goal_pole)):
            self.mount.home_start((1, 2), self._within if self.cond.doubt else 0, True)
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
                self._quiet_ms = _QUIET_MS
                mode = modes.LOCKED if self.lied > 1 or self.locks.has(table.LOCK) else modes.PARKED
            self._enter(mode, REST)
            self.rest.look(not self.homing_needed or self.seen or self.lied > 1)

    def _cook(self, dt_ms):
        t = self.tracker
        t.due_ms -= dt_ms
        if not self.mount.moving:
            self.mount.axes_udeg(self.sun_axes)
        if self.mount.moving or (self._large_move and self.warn_ms > 0):
            return
        if t.due_ms > 0:
            if self._large_move:
                self._large_move = False
                self.emit(_C["settled"], t.wanted_udeg // 1000, 0)
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
        t.step()
        self._tell_aim(_TELL_LAG_MDEG)
        self.cond.axis_stuck = not t.reachable

    def _tell_aim(self, least_mdeg):
        """The trail and the lag held, where they are not what was told last; once more before they end."""
        angle, lag = self.tracker.angle_deg, self.tracker.wanted_udeg // 1000
        told = self._told
        if angle != told[0] or abs(lag - told[1]) >= least_mdeg:
            told[0], told[1] = angle, lag
            self.emit(_C["aim"], angle, lag)
