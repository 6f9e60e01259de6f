"""The mode of the mount, and one tick of all that may change it.

Units: ms, micro-degrees, permille. No clock, no pins: everything a tick needs comes in as arguments. What it
does lies beside this file, a class for each: at_the_dish, wishes, unasked, moves, seek_home, following,
recovery, lame_axis. They share the state that is made here, and become one class on a board.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..heat import dial as heat
from ..mount.axis import STRAYED
from . import panel as keys
from .at_the_dish import AtTheDish
from .find_home import FindHome
from .following import Following
from .haze import Haze
from .lame_axis import LameAxis
from .moves import QUIET_MS, Moves
from .one_axis import OneAxis
from .phases import MOVING, REST, WARNING
from .recovery import INSISTS, SETTLED_MS, Recovery
from .seek_home import SeekHome
from .unasked import Unasked
from .walk_off import WalkOff
from .wishes import Wishes

_C = ev.CODES
_CLEAR_HOLD_MS = 3_000
_UNPOWERED = (modes.PARKED, modes.LOCKED)
_TELLS_MS = 1_500  # come to rest it tells at once of the light that is loose there
_THINKING_MS = 16  # nothing moves then; a way is found before the warning ends
_OUTPUT_STUCK = table.INDEX["output_stuck"]


class Controller(AtTheDish, Wishes, Unasked, Moves, SeekHome, Following, Recovery, LameAxis):
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
        self._held = 0  # times that this step was put off
        self.aims = False  # the next step after the sun is chosen, and goes out at the next tick
        self.on_sun = False
        self.sun_axes = [0, 0]  # readings when last on the sun
        self.dead = 0  # an axis that was seen not to turn as it is driven: 1 or 2
        self._slow = 0  # an axis that turns less far than it is driven: this share, and is counted so
        self._share = 1.0
        self._at = 0  # where it was counted at the last tick [udeg]
        self.borne = False  # see Whereabouts
        self.lied = 0  # 1: a flag that does not come is wrong, not its axis; 2: it rests with none looked for
        self._was = modes.PARKED  # the mode before this one
        self.astray = 0  # an axis that turns by itself: motors have power only while they are to turn
        self.watch = app.watch  # tells where the axes truly stand
        self._again = 0
        self._went = 0  # which way a dead axis was driven when it was tried last
        self._turn = 0  # axis whose sense is to be turned round once it stands, and where its move began
        self._from = None
        self.next_try_ms = self.try_ms = 0  # see Recovery._maybe_again
        self._seeking = False
        self.led = 0  # bits of axes of which encoders tell in this doubt where they stand
        self.seen = False  # they or the sun sensor tell where it stands, and no flag is sought
        self._strayed = 0  # by itself, in the move that is under way [udeg]
        self._still_ms = self.rests_ms = 0
        self._upheld = False  # as the doubt began, encoders bore both counts out
        self._shift = [0, 0]  # by how much the counts were mended from what sees the axes [udeg]
        self._stuck = INSISTS  # above 0: the dead axis stood still, and its flag may be looked for
        self.one = OneAxis(app.sun, app.mount, app.planner)
        self.walk = WalkOff(s, app.sun)
        self._walking = False
        self.chain_closed = True
        self.jog_ms = 0
        self._warned_ms = 0  # so long a move by hand needs no other warning
        self.hand_ms = 0
        self.lent_ms = 0  # so long whoever stands at the covered dish lets a host turn it
        self._back = False  # ASIDE went down where it means to come back
        self.haze = Haze(self.locks, table.INDEX["light_low"])
        self.park = app.rest.axes
        self.moving_on = False
        self._goal_pole = False
        self._scouting = False
        self._wait_ms = 0
        self._quiet_ms = QUIET_MS
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
        rested = self.mode not in _UNPOWERED or self.rests_ms >= _TELLS_MS
        return self.phase != REST or self.warn_ms > 0 or self._walking or not rested

    @property
    def thinks(self):
        """Whether a way is being looked for, a piece at each tick between those that judge."""
        return self._thinker() is not None

    @property
    def waits(self):
        """Whether it stands and looks in vain for a way: to the flags or off the sun."""
        return self.phase == WARNING and self._told_home

    @property
    def buzzer(self):
        # an axis may stand still in it unseen, and go on, or the other one at the next corner
        if self.mode == modes.LEAVING and (self.cond.doubt or (self.mount.legs and not self.watch.sees)):
            return True
        return self.warn_ms > 0 or (self.on_sun and (self.mode == modes.LOCKED or self.waits))

    @property
    def heat_permille(self):
        """Heat to hold, in permille of full heat; 0 to be off the sun."""
        return min(self.dial.permille, self.dial.least) if self.lowered else self.dial.permille

    def due_ms(self, gone_ms):
        """Time until this controller wants the next tick [ms], gone_ms after its last."""
        if self.aims:
            return 1
        if self.thinks:
            return _THINKING_MS
        if self.busy or self.hurries:
            return 100
        if self.mode == modes.COOKING and self.phase == REST:
            return max(1, min(1000, self.tracker.due_ms - gone_ms))
        return 1000

    # --- one tick ----------------------------------------------------------------------------

    def tick(self, dt_ms, panel, sun_ok):
        self._flags = panel.held // keys.HOME1
        self._sun_ok = sun_ok
        if not self.astray and self.mode not in _UNPOWERED:
            for n in (1, 2):
                if self.mount.axes[n - 1].fault == STRAYED:  # pushed, or its bridge leaks: no power at rest
                    self.astray = n
        if not (self.homing_needed or self.mount.placed):  # turned by other than its drives
            self.homing_needed = self.rough = True
            if self.phase == WARNING:  # what was planned so far began elsewhere
                self._plan()
        if self.mount.moving:
            if self.astray or self._slow:
                self._strays(dt_ms)
            check = self.watch.place_check
            if check is not None and self.homing_needed and self.phase == MOVING:
                check.keeps(self, self.watch.told)
            self.rests_ms = 0
        else:
            if self._slow:
                self._at = self.mount.axes[self._slow - 1].position_udeg
            if self.rests_ms < SETTLED_MS:
                self.rests_ms += dt_ms
        self._count_down(dt_ms)
        self._chain(bool(panel.held & keys.CHAIN), dt_ms)
        if panel.pressed or panel.knob.moved:
            self._cook_is_here(panel)
            self._quiet_ms = QUIET_MS
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

    # --- what each of its parts does ---------------------------------------------------------------

    def _enter(self, mode, phase):
        if mode != self.mode:
            self.emit(_C["mode"], self.mode, mode)
            self.mode = mode
        self.phase = phase
        self.aims = False

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
