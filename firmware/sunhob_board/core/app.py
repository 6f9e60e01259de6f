"""The cyclic executive: one loop, fixed order, every part bounded.

Units: ms. cycle() does one tick and sleeps until the next is due, at most 1 s. The watchdog is fed only when
every part has reported at this tick, the interlocks that they were judged lately. DEVELOPERS.md tells what
a tick does.
"""

import gc

from ..declared import events as ev
from ..declared import modes
from ..heat.guards import Guards
from ..link.port import Port
from ..link.rpc import Rpc
from ..safety.interlocks import Interlocks
from ..selfcheck.checks import Checks
from ..store.journal import Journal
from ..store.slots import Slots
from . import panel as keys
from . import ticks
from .clock import Clock
from .conditions import Conditions
from .heating import Heating
from .judging import Judging
from .keeping import Keeping
from .panel import Panel
from .place import ON_SUN, Place
from .sensors import Sensors
from .service import Service
from .settings import SettingsError, defaults, load
from .start import Start
from .sun_now import SUN_AT_REST_MS, SunNow

_C = ev.CODES
_FAST_MS, _QUICK_MS = 100, 20
_LOSES_MS = 90  # in which a step after the sun loses pulses, and goes ahead of it by more than its deadband
_COLLECT_KB = 24  # of 63 that are free on a Pico, 52 where all is fitted: collected between two ticks
_TICK_KB, _JUDGED_KB, _THOUGHT_KB, _TOLD_KB = 1, 4, 7, 15  # what is left behind, at most
_JUDGE_MS, _JUDGE_STEP_MS = 1_500, 350  # at rest it sleeps for a second
_JUDGE_THINKS_MS = 80  # while a way is looked for at the ticks between
_LEAVES_MS = 50  # a controller that gives its console has only its answer to send
_ALL_PARTS = 0x0F


class App(Start, SunNow, Judging, Keeping):
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
        self._waste_kb = 0
        self._tells = False  # the next tick is for the link alone
        self._untold_ms = 0
        self._since_sun = SUN_AT_REST_MS
        self.clear_w_m2 = 0.0
        self._since_judged = self._since_acted = 0
        self._acts = 0
        self._judged = False  # at the tick before this one
        self._since_place = 0
        self._since_telemetry = 0
        self._seen = 0
        self._axes = [0, 0]
        self._saved_flags = -1
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
        self.clock.start(0)
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
        self._due = board.ticks_ms()
        self.clock.start(self._due)  # anew: on a chip all this took two seconds
        self._sky(0, self.controller)

    # --- start ---------------------------------------------------------------------------------

    # --- small services ---------------------------------------------------------------------------

    def emit(self, code, a, b):
        """Report an event: into the ring, and out on the link."""
        day, ms = self.clock.day, self.clock.ms
        self.journal.add(code, a, b, day, ms)
        self.port.send_event({"e": ev.EVENTS[code][0], "a": a, "b": b, "d": day, "t": ms})

    def journal_read(self, start, count):
        return self.journal.read(start, count)

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
        if self._waste_kb >= _COLLECT_KB:  # in the sleep: on a chip it takes longer than most ticks
            self._waste_kb = 0
            gc.collect()
            self.checks.memory.room()
            wait = max(0, ticks.diff(self._due, self.board.ticks_ms()))
        self.board.idle(_LEAVES_MS if self.console_asked else wait)

    def tick(self):
        """One pass over every part in its fixed order. Returns the time to sleep [ms]."""
        board = self.board
        now = board.ticks_ms()
        late = ticks.diff(now, self._due)
        dt = self._untold_ms + self.clock.tick(now)
        if self._tells:
            return self._tell(now, dt)
        self._untold_ms = 0
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
                self._waste_kb += _JUDGED_KB
                self._sky(self._since_judged, c)
                self._judge(c, self._since_judged)
            acting = self._n > 0 and (judging or self.mount.moving or c.aims)  # the first tick does enough
            if acting:
                self._act(c, now, self._since_acted)
                self._since_acted = 0
            elif not c.thinks and self.sun_ok:
                self.heating.look(c.dial)
            if c.thinks and (self._judged or not acting):  # a key that sticks has every tick judge
                self._waste_kb += _THOUGHT_KB
                c.think()
            self._judged = judging and acting
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
        self._since_telemetry += dt
        if c is None:
            self._link(now)
        else:  # in a tick of its own: an answer takes as long as what moves the dish
            self.port.flush(now)
            self._tells = acting and (self.port.heard or self._owes_telemetry())
        self._seen |= 8
        if self._seen == _ALL_PARTS:
            self._seen = 0
            board.feed()
        self._n += 1
        return self._ends(now, self._wait(c))

    def _tell(self, now, dt):
        """A tick for the link alone, between two that move the dish; dt: time since the last of these."""
        self._tells = False
        self._untold_ms = dt
        self._link(now)
        c = self.controller
        return self._ends(now, max(1, min(c.due_ms(self._since_acted + dt), _FAST_MS - dt)))

    def _ends(self, now, wait):
        """Close a tick that began at now; the time to sleep [ms]."""
        self._waste_kb += _TICK_KB
        done = self.board.ticks_ms()
        self.worst_ms = max(self.worst_ms, ticks.diff(done, now))
        self._due = ticks.add(now, wait)  # from tick to tick: steps are queued for little longer than that
        return max(0, ticks.diff(self._due, done))

    def _is_due(self, c):
        """Whether the interlocks are judged at this tick: at every one of a long move, or while something
        changes or is about to trip; less often in a step after the sun and while a way is looked for; at
        rest at every other."""
        if c.thinks:
            return self._since_judged >= _JUDGE_THINKS_MS or self.panel.changed or self.conditions.late_ms > 0
        every_ms = 0 if c.hurries else _JUDGE_STEP_MS if self.mount.moving else _JUDGE_MS
        return (self._since_judged >= every_ms or self.panel.changed or self.conditions.late_ms > 0
                or self._steps(c) or self.port.heard or self.mount.fault > 0 or not self.locks.at_rest
                or self.whereabouts.suspects or self.watch.suspects)

    def _steps(self, c):
        """Whether the next step after the sun is due."""
        return c.mode == modes.COOKING and not c.aims and c.tracker.due_ms <= self._since_acted

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

    def _wait(self, c):
        if self.panel.settling or self.port.heard or self._tells or self._n == 1:
            return _QUICK_MS
        waits = self.clock.aligning or self.port.busy
        if c is None:
            return _FAST_MS if waits else 1_000
        due_ms = c.due_ms(self._since_acted)
        if waits or self.watch.suspects or (self.page is not None and self.page.pending):
            return min(_FAST_MS, due_ms)
        return due_ms

    def _link(self, now):
        """One line heard; only right after acting, or what it asks for would seem to have begun before."""
        line = self.port.poll(now)
        if line is not None:
            self._waste_kb += _TOLD_KB
            reply = self.rpc.handle(line)
            if reply is not None:
                self.port.send_reply(reply)
        if self._owes_telemetry():
            self._since_telemetry = 0
            self._waste_kb += _TOLD_KB
            self.port.send_telemetry(self.service.do_status({}))

    def _owes_telemetry(self):
        return 0 < self.telemetry_ms <= self._since_telemetry
