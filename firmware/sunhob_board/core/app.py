"""The cyclic executive: one loop, fixed order, every part bounded.

Units: ms. cycle() does one tick and sleeps until the next is due, at most 1 s. The watchdog is fed only when
every part has reported at this tick, the interlocks that they were judged lately. DEVELOPERS.md tells what
a tick does.
"""

import gc

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..heat.dial import Dial
from ..heat.guards import Guards
from ..heat.regulate import Regulator
from ..link.port import Port
from ..link.rpc import Rpc
from ..mount.axis import axis_of
from ..mount.geometry import Geometry
from ..mount.mount import Mount
from ..mount.planner import Planner
from ..safety.interlocks import Interlocks
from ..safety.watch import Watch
from ..selfcheck.checks import Checks
from ..store.journal import Journal
from ..store.slots import Slots
from ..sun.position import Sun
from ..sun.rough import RoughSun
from ..sun.table import SunTable, TableError
from . import panel as keys
from . import ticks
from .clock import Clock
from .conditions import Conditions, haurwitz_w_m2
from .controller import Controller
from .heating import Heating
from .north import DailyNorth
from .panel import Panel
from .park import Park
from .place import ARMED_BY_COOK, MOVING, ON_SUN, Boots, Place
from .sensors import Sensors
from .service import Service
from .settings import SettingsError, defaults, load
from .tracking import Tracker
from .whereabouts import BRIGHT, BY_SUN, FLAG1, Whereabouts

_C = ev.CODES
_FAST_MS, _QUICK_MS = 100, 20
_LOSES_MS = 90  # in which a step after the sun loses pulses, and goes ahead of it by more than its deadband
_BEEP_EVERY = 5
_FLASH_MS = 400
_SAVE_PLACE_MS = 500
_GC_EVERY = 32
_SUN_EVERY_MS = 1_000
_SUN_AT_REST_MS = 3_500  # it goes 0.015 deg meanwhile
_JUDGE_MS, _JUDGE_STEP_MS = 1_500, 350  # at rest it sleeps for a second
_JOURNAL_EVERY = 150
_LEAVES_MS = 50  # a controller that gives its console has only its answer to send
_ALL_PARTS = 0x0F
_POWERED = (modes.COMING, modes.COOKING, modes.LEAVING, modes.BY_HAND)
_DOUBTED = table.INDEX["place_doubt"]
_LATE = table.INDEX["loop_late"]


class App:
    """Everything on the board, wired. trouble: '' or why nothing moves.

    shelf: folder of what was installed (settings, tables), by default the board's own for what it keeps.
    loader: what started it, None on the bench; proven: it has run well for a while.
    """

    def __init__(self, board, shelf=None, loader=None):
        self.board = board
        self.shelf = shelf or board.DATA
        self.loader = loader
        self.proven = loader is None
        self.console_asked = False
        self.board_name = board.NAME
        self.trouble = ""
        self.controller = None
        self.alarmed = False
        self.season = None  # where axis 2 is set by hand
        self.page = None  # where a display is fitted
        self.sun = None
        self.sun_ok = False
        self.telemetry_ms = 0
        self.clock_moved_s = 0  # by hosts, with nobody at the dish
        self.worst_ms = 0
        self.north_deg = 0.0
        self.slots = Slots(board.DATA)
        self.journal = Journal()
        self.journal.load(self.slots)
        self._n = 0
        self._since_sun = _SUN_AT_REST_MS
        self.clear_w_m2 = 0.0
        self._since_judged = self._since_acted = 0
        self._acts = 0
        self._since_place = 0
        self._since_telemetry = 0
        self._seen = 0
        self._axes = [0, 0]
        self._saved_flags = -1
        now = board.ticks_ms()
        self._due = now
        self.port = Port(board.uart)
        self.service = Service(self)
        self.rpc = Rpc(self.service.handlers)
        self.panel = Panel()
        try:
            self.s = load(Slots(self.shelf).load("settings"))
        except SettingsError as err:
            self.s = defaults()
            self.trouble = "settings %s: %s" % (err.args[0], err.args[1])
        self.clock = Clock(board.rtc, self.s.interlock_clock_jump_s)
        self.locks = Interlocks(self.s, self.emit, _C["trip"], _C["over"])
        self.conditions = Conditions(self.s, self.locks)
        self.checks = Checks(board, self.locks, self.shelf, shelf or board.CODE)
        self.sensors = Sensors(board, self.s)
        self.guards = Guards(self.s, self.locks)
        self.clock.start(now)
        self.conditions.settings_bad = bool(self.trouble)
        self._load_table()
        self.heating = Heating(self.shelf, self.s)
        self.conditions.heat_table_bad = self.heating.code
        if self.conditions.settings_bad:
            got = Place(board.rtc).read()
            self.alarmed = got is None or bool(got[2] & ON_SUN)
        else:
            self._wire()
            tables = (self.table, self.heating.table)
            self.checks.watch([t for t in tables if t not in (None, self._rough)], self.s)
            self.trouble = self.trouble or self.heating.trouble
        board.start_watchdog()

    # --- start ---------------------------------------------------------------------------------

    def _wire(self):
        s = self.s
        drives = self.board.drives(s)
        hand = s.axis2_drive == "hand"
        if hand:
            from . import season

            geometry = season.HandGeometry(s)
        else:
            geometry = Geometry(s)
        axes = (axis_of(drives[0], 1, s), axis_of(drives[1], 2, s))
        self.mount = Mount(axes, geometry)
        self.north_deg = s.mount_north_deg
        self.daily = DailyNorth(self.slots)
        if self.daily.deg is not None:
            self.set_north(self.daily.deg, False)
        self.planner = Planner(self.mount, self.sun, s)
        self.heating.wire(s, self.sun, self.mount)
        self.tracker = Tracker(s, self.sun, self.mount, self.heating.aims)
        self.dial = Dial(int(s.heat_least_percent * 10), Regulator(s), self.sensors.contents)
        self.rest = (season.HandPark if hand else Park)(s, self.sun, self.mount)
        self.watch = Watch(self.board, s, self.locks, self.mount)
        self.watch.around.set_here(self.daily.lean)
        self.controller = Controller(self)
        self.whereabouts = Whereabouts(s, self.mount)
        if hand:
            self.season = season.Season(self)
        self.set_park()
        if s.cook_display:
            from .page import Page

            self.page = Page(self)
        self.place = Place(self.board.rtc)
        self.boots = Boots(self.board.rtc, self.clock.day * 1440 + self.clock.ms // 60_000)
        self._recall()

    def set_park(self):
        """The resting places in axis angles; the next sight of sun and clock chooses among them."""
        if not self.rest.place():
            self.trouble = "park: the pole is outside the travel limits"
            self.conditions.settings_bad = True

    def _choose_park(self):
        """Once a solar day: by the sun's declination now and two days on, which bound today and tomorrow."""
        day, ms = self.clock.day, self.clock.ms
        solar = self.rest.solar_day(day, ms)
        if solar == self.rest.day:
            return
        decs = (self.sun.dec_udeg,)
        try:
            self.sun.table.at(day + 2, ms)
            decs = (self.sun.dec_udeg, self.sun.table.dec_udeg)
        except TableError:
            pass  # the table's last days: today's sun alone
        self.rest.choose(solar, decs)

    def _recall(self):
        """Where the axes were. A restart in the middle of a move leaves the place known only roughly."""
        c = self.controller
        got = self.place.read()
        if got is None:
            c.homing_needed = True
            c.on_sun = True  # nothing says that it is not
            self.conditions.restarted = True
        else:
            a1, a2, flags = got
            if self.season is not None:  # what the cook confirmed counts
                a2 = self.mount.axes[1].position_udeg
            self.mount.set_position(a1, a2)
            c.on_sun = bool(flags & ON_SUN)
            c.sun_axes[0], c.sun_axes[1] = a1, a2
            self.conditions.restarted = c.on_sun
            if flags & MOVING:
                c.homing_needed = c.rough = True
                self.conditions.restarted = True
        cause = 0 if self.checks.tried and self.checks.proven else self.board.reset_cause()
        self.emit(_C["boot"], cause, int(got is not None))

    def _load_table(self):
        s = self.s
        row = -1
        data = b""
        try:
            with open(self.shelf + "sun.tab", "rb") as f:
                data = f.read()
        except OSError:
            row = table.INDEX["table_missing"]
        self.table = None
        if row < 0:
            try:
                self.table = SunTable(data)
            except TableError as err:
                row = table.INDEX["table_missing" if err.args[0] == "missing" else "table_corrupt"]
                self.trouble = "sun table %s: %s" % (err.args[0], err.args[1])
        if not data and not self.trouble:
            self.trouble = "sun table missing: no file"
        self._rough = RoughSun()
        self.table = self.table or self._rough  # it never comes by that, but it leaves by it
        self.sun = Sun(self.table, s.site_latitude_udeg, s.site_longitude_udeg, s.site_altitude_m,
                       s.site_pressure_pa, s.site_temp_c)
        self.conditions.table_row = row

    # --- small services ---------------------------------------------------------------------------

    def emit(self, code, a, b):
        """Report an event: into the ring, and out on the link."""
        day, ms = self.clock.day, self.clock.ms
        self.journal.add(code, a, b, day, ms)
        self.port.send_event({"e": ev.EVENTS[code][0], "a": a, "b": b, "d": day, "t": ms})

    def journal_read(self, start, count):
        return self.journal.read(start, count)

    def sun_changed(self):
        self._since_sun = _SUN_AT_REST_MS

    def set_north(self, deg, keep=True):
        self.north_deg = (deg + 180.0) % 360.0 - 180.0
        self.mount.geometry.set_north_deg(self.north_deg)
        if keep:
            self.emit(_C["saved"], 0, int(self._keep_north()))
            self.set_park()

    def _keep_north(self):
        """North was set: the base stands as it should, and the sun was seen where the clock has it."""
        lean = self.watch.extras.lean
        self.watch.around.set_here(lean)
        return self.daily.take(self.north_deg, self.clock.day, self.clock.ms, lean)

    # --- the loop ------------------------------------------------------------------------------------

    def cycle(self):
        """One tick, then sleep until the next is due."""
        wait = self.tick()
        self.board.idle(_LEAVES_MS if self.console_asked else wait)

    def tick(self):
        """One pass over every part in its fixed order. Returns the time to sleep [ms]."""
        board = self.board
        now = board.ticks_ms()
        late = ticks.diff(now, self._due)
        dt = self.clock.tick(now)
        if self.controller is not None:
            self.conditions.storm = self.boots.tick(dt)
        most = self.s.interlock_loop_late_ms
        if self.controller is not None and self.mount.measured:
            most = min(most, _LOSES_MS)
        self.conditions.late_ms = late if late > most else 0
        self.panel.tick(board.read_inputs(), board.knob.read_u16(), dt)
        self.sensors.tick(dt, bool(self.panel.held & keys.POT))
        c = self.controller
        self._seen |= 1
        if c is not None:
            self.watch.extras.tick(dt)
            self._since_judged += dt
            self._since_acted += dt
            judging = self._is_due(c)
            if judging:
                self._sky(self._since_judged, c)
                self._judge(c, self._since_judged)
            acting = judging or self.mount.moving
            if acting:
                self._act(c, now, self._since_acted)
                self._since_acted = 0
            if judging:  # after acting: what a doubt begins must not be charged with the time before it
                self._doubt(c, self._since_judged)
                self._since_judged = 0
            if self.page is not None:
                self.page.tick(dt)
            if self._since_judged < 2 * _JUDGE_MS:
                self._seen |= 2
        else:
            acting = True
            self._sky(dt, None)
            self._alarm(dt)
            self._seen |= 2
        self._seen |= 4
        self._link(now, dt, acting)
        self._seen |= 8
        if self._seen == _ALL_PARTS:
            self._seen = 0
            board.feed()
        self._n += 1
        if self._n % _GC_EVERY == 0:
            gc.collect()
            self.checks.memory.room()
        wait = self._wait(c)
        done = board.ticks_ms()
        self.worst_ms = max(self.worst_ms, ticks.diff(done, now))
        self._due = ticks.add(done, wait)
        return wait

    def _is_due(self, c):
        """Whether the interlocks are judged at this tick: at every one of a long move, or while something
        changes or is about to trip; less often in a step after the sun; at rest at every other."""
        every_ms = 0 if c.hurries else _JUDGE_STEP_MS if self.mount.moving else _JUDGE_MS
        return (self._since_judged >= every_ms or self.panel.changed or self.conditions.late_ms > 0
                or self._steps(c) or self.port.heard or not self.locks.at_rest or self.whereabouts.suspects
                or self.watch.suspects)

    def _steps(self, c):
        """Whether the next step after the sun is due."""
        return c.mode == modes.COOKING and c.tracker.due_ms <= self._since_acted

    def _act(self, c, now, dt):
        """What follows from inputs, sun and interlocks; dt: time since it was last done."""
        if self.heating.tick(dt, self.sun_ok, c.dial, self.sensors.beam_w_m2):
            c.heat_moved()
        self.heating.trim_tick(dt, c.mode, self.sensors.contents, self.sensors.beam_w_m2, c.tracker)
        c.tick(dt, self.panel, self.sun_ok)
        self.mount.tick(now)
        moving = self.mount.moving
        self._keep_place(dt, moving)
        self._keep_journal(c)
        self._lamps(c, moving)

    def _judge(self, c, dt):
        """Every condition into its row, the rows by their dwell; dt: time since the last judgement."""
        chain = bool(self.panel.held & keys.CHAIN)
        self.locks.begin()
        self.conditions.judge(c, self.clock, self.sun if self.sun_ok else None, chain,
                              self.sensors.beam_w_m2, self.sensors.open_w_m2, self.clear_w_m2)
        self.guards.judge(dt, c.mode, bool(self.panel.held & keys.POT), self.sensors, self.heating.heat_w)
        self.checks.judge(dt, c.busy, self.clock, self.sensors.light)
        if self.checks.no_power and self.mount.moving:
            c.power_lost(dt)
        self.watch.judge(dt, self)
        if self.season is not None:
            self.season.judge()
        self.locks.tick(dt)
        self.mount.late = self.locks.is_tripped(table.INDEX["loop_late"])
        c.dial.blind = self.locks.is_tripped(table.INDEX["probe_stuck"])

    def _doubt(self, c, dt):
        """Compare sun, light, flags and encoders with the counts, while these are believed."""
        watch = self.watch
        sight = watch.sight
        if self.mount.late and self.mount.moving:  # its counts are not where it is
            self.whereabouts.forget()
            return
        if c.mode not in (modes.BY_HAND, modes.LOCKED) and sight is not None:
            if sight.row >= 0 and not c.homing_needed:
                sight.forget()
            # a covered dish lent to the host stands on a base that is only just being set
            # counts not known yet, or ahead of a dish whose loop stalls, say nothing while it moves
            # nor does what two encoders gainsay: by themselves they tell of an axis that does not turn
            deaf = self.mount.moving and (self.locks.is_tripped(_LATE) or (
                c.homing_needed and not self.conditions.doubt) or (
                watch.place_check is not None and watch.place_check.agrees))
            if not (c.dead or deaf or c.lent_ms > 0) and watch.sun_speaks(c.homing_needed):
                c.doubt(BY_SUN, sight.apart_udeg, sight.row, sight.axis)
        if c.homing_needed or c.mode in (modes.BY_HAND, modes.LOCKED):
            self.whereabouts.forget()
            return
        if watch.place_check is not None and watch.place_check.doubts(c):
            return
        sun = self.sun if self.sun_ok else None
        why = self.whereabouts.tick(dt, sun, self.sensors.beam_w_m2, self.sensors.open_w_m2,
                                    self.clear_w_m2, self.panel.held // keys.HOME1)
        cond = self.conditions
        if not why:
            cond.doubt = 0
            if not self.locks.is_tripped(_DOUBTED):
                cond.blamed = 0
        elif cond.blamed >> why & 1 or self.whereabouts.lies or (
                sight is not None and sight.vouches(why >= FLAG1) and (
                    why != BRIGHT or c.mode != modes.PARKED or self.whereabouts.borne)):
            cond.blamed |= 1 << why
            cond.doubt = why
        else:
            c.borne = self.whereabouts.borne
            c.doubt(why, self.whereabouts.away_udeg)
            if why >= FLAG1 and not c.lied:
                c.lied = int(self.whereabouts.changed(why - FLAG1, 0))

    def _alarm(self, dt):
        """Nothing can move, and nobody knows where the light is: fault lamp on, a beep every few seconds, and
        without a pause where the dish may be on the sun."""
        self.locks.begin()
        self.locks.put(table.INDEX["settings"])
        self.locks.put(table.INDEX["park_bright"], -1)
        self.locks.tick(dt)
        self.board.write_outputs(16 | (2 if self.alarmed or self._n % _BEEP_EVERY == 0 else 0))

    def _wait(self, c):
        if self.panel.settling or self.port.heard:
            return _QUICK_MS
        if self.clock.aligning or self.port.busy:
            return _FAST_MS
        if c is None:
            return 1_000
        due_ms = c.due_ms(self._since_acted)
        if self.watch.suspects or (self.page is not None and self.page.pending):
            return min(_FAST_MS, due_ms)
        return due_ms

    def _sky(self, dt, c):
        """Where the sun stands, for whoever judges or steps at this tick; dt: time since the last call."""
        self._since_sun += dt
        if not self.clock.known:
            self.sun_ok = False
            return
        every_ms = _SUN_EVERY_MS if c is None or c.busy else _SUN_AT_REST_MS
        if self._since_sun < every_ms and not (c is not None and self._steps(c)):
            return
        self._since_sun = 0
        if c is not None:
            self.conditions.north_age_h = self.daily.age_h(self.clock.day, self.clock.ms)
        self._see_sun(self.clock.day, self.clock.ms)
        self.clear_w_m2 = haurwitz_w_m2(self.sun.u)
        self.sun_ok = True
        if c is not None:
            self._choose_park()

    def _see_sun(self, day, ms):
        """By the table, or where that has no answer by the rough formula: the dish still leaves by it."""
        expired = table.INDEX["table_expired"]
        self.conditions.table_days_left = self.table.last_day - day
        self.sun.table = self.table
        try:
            self.sun.update(day, ms)
            if self.conditions.table_row == expired:
                self.conditions.table_row = -1
        except TableError:
            self.sun.table = self._rough
            self.sun.update(day, ms)
            self.conditions.table_row = expired

    def _keep_place(self, dt, moving):
        c = self.controller
        moving = moving or c.homing_needed
        flags = (MOVING if moving else 0) | (ON_SUN if c.on_sun else 0)
        if c.armed_ms > 0:
            flags |= ARMED_BY_COOK  # told in the log after a restart; never re-arms
        self._since_place += dt
        if flags == self._saved_flags and not (moving and self._since_place >= _SAVE_PLACE_MS):
            return
        self._since_place = 0
        self._saved_flags = flags
        if c.homing_needed and not c.rough:
            return
        self.mount.axes_udeg(self._axes)
        self.place.write(self._axes[0], self._axes[1], flags)

    def _keep_journal(self, c):
        # Flash is written only at rest and off the sun: an erase can stall the chip.
        self._acts += 1
        if self.journal.dirty and c.mode == modes.PARKED and not c.busy and self._acts % _JOURNAL_EVERY == 0:
            self.journal.save(self.slots)

    def _lamps(self, c, moving):
        out = 0
        # Where it rests off the sun the motors are without power: none can run away, the gears hold.
        if c.chain_closed and (moving or (c.mode in _POWERED and not c.astray)):
            out |= 1
        if c.buzzer:
            out |= 2
        if c.mode == modes.ASIDE and not c.busy and not c.rest.bright:
            out |= 4
        if c.armed_ms > 0:
            out |= 8
        if self.locks.strongest > table.TELL or self.locks.is_tripped(table.INDEX["park_bright"]):
            out |= 16
        if c.warn_ms > 0:  # the lamp flashes with the warning: the buzzer may be dead, or not be heard
            out = out & 15 | (16 if c.warn_ms // _FLASH_MS & 1 else 0)
        self.board.write_outputs(out)

    def _link(self, now, dt, acting):
        """One line heard; only right after acting, or what it asks for would seem to have begun before."""
        line = self.port.poll(now) if acting else self.port.flush(now)
        if line is not None:
            reply = self.rpc.handle(line)
            if reply is not None:
                self.port.send_reply(reply)
        if self.telemetry_ms:
            self._since_telemetry += dt
            if self._since_telemetry >= self.telemetry_ms:
                self._since_telemetry = 0
                self.port.send_telemetry(self.service.do_status({}))
