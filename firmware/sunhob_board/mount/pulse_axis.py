"""An axis with a DC motor or a linear actuator whose pulses are counted: the place is measured, not assumed.

Units: axis readings in micro-degrees; "steps" of this axis are 0.001 deg; counts of its pulse lines; ms;
permille of full voltage. A move follows the speed profile by a proportional and integral rule, goes over
into a creep, and the edge that reaches the goal switches the motor off; by how many counts it runs on is
learned from move to move. It stands a quarter of a count past the edge it came to last, give or take as much.
It ends from one side where there is play, as any axis does.
"""

import math

from ..core.ticks import add, diff
from .axis import BLOCKED, RUNAWAY, STALLED, STRAYED, WRONG_WAY, Axis
from .pulse_scale import scale_of

_CREEP_SHARE = 6  # of full speed
_CREEP_MS = 700  # a creep takes about so long
_STARTS_MS = 300  # a move begins as a creep, for a motor does not turn at the voltage of less
_GAIN = 1500  # permille of full voltage for a second's way at full speed behind
_SLOW_GAIN = 1200  # the same for each second of it
_MOST_SUM = 700
_BEHIND_MS = 1000  # the profile waits for a motor that is so much of full speed behind
_STRAYS = 4
_LEAST_COUNTS = 3  # against the drive, on two lines, before it counts as the wrong way
_AHEAD_UDEG = 4000000
_MOST_RUN_ON = 8
_PAST = 0.25  # of a count, run on past the last edge
_MISSES_MS = 180
_FLAG_MS = 20  # so much later than it comes a flag's edge is seen: two looks
_TURNS, _CRUISE = 250, 900  # permille at which it turns, and at full speed, until it has shown it
_LEAST_CRUISE, _MOST_CRUISE = 700.0, 1200.0  # whatever lost or false pulses say: of no motor that fits
_HARD = 600  # permille: driven so hard it must turn
_NEXT_MS = 600  # ms at a count a second: a pulse is high for less or more than half of it
_LEARNS = 500.0  # permille a second
_LATE = 2.0  # counts: by then an edge must have come
_MORE = 100  # permille more, where it was tried in vain
_BACK_UDEG = 400000
_MENDED_UDEG = 15_000_000
_SURELY = 500  # permille of full speed: by time it goes no slower


class PulseAxis(Axis):
    """fault: 0, or what the last move or the rest after it showed; the next move tries again. by_time: its
    pulses are not believed, and it is turned for as long as it should take."""

    measured = True

    def __init__(self, drive, n, s):
        Axis.__init__(self, drive, n, s)
        name = "axis%d_" % n
        self.scale = scale_of(s, name)
        steepest = self.scale.steepest(self.low_udeg, self.high_udeg)
        self._full = max(1.0, getattr(s, name + "speed_deg_s") * steepest)  # counts/s
        self._creep = max(1.0, self._full / _CREEP_SHARE)
        self._coast_ms = int(getattr(s, name + "coast_s") * 1000)
        self._gains_ms = int(getattr(s, name + "stall_s") * 150)  # speed follows the voltage in so long
        self._blind = getattr(s, name + "channels") == 1
        self._turns = [_TURNS, _TURNS]  # down, up
        self._cruise = _CRUISE
        self._power = 0.0
        self._tries = 0
        self._mute = False  # no edge has come for too long
        self._onto = None  # where it goes on to, once it has been tried backwards
        self._speed = self._dark = 0.0  # by its voltage [counts/s], and counts since the last edge
        self._zero = 0.0
        self._run_on = [0, 0]  # down, up
        self._want = 0
        self._goal = 0
        self._ref = 0.0
        self._sum = 0.0
        self._pace = self._top = 0.0  # counts/s asked for, and the most of this move
        self._creeping = False
        self._quiet_ms = 0
        self._count = self._seen = 0
        self._mark = 0.0  # where the flag was crossed last [counts]
        self._flag_ms = None
        self._start = self._mended = 0
        self._began = 0.0
        self._then = 0

    @staticmethod
    def _per_turn(s, name):
        return 360000

    def way_ms(self, start_udeg, end_udeg):
        """Time of a move at full speed between two readings, creep and standing still included [ms]."""
        if self.steps(start_udeg) == self.steps(end_udeg):
            return 0
        return Axis.way_ms(self, start_udeg, end_udeg) + _CREEP_MS + self._coast_ms

    # --- where it is --------------------------------------------------------------------------------

    def set_position(self, udeg):
        """Declare where the load stands now [udeg]; only at rest, with the play taken up."""
        self._zero = self._at() - self.scale.counts(udeg)
        self._count = self.drive.count
        Axis.set_position(self, udeg)

    def seen(self, off_udeg, guess=1):
        """Turned by time, it stands so much beyond its count [udeg]. 15 deg of guesses in a move are mended,
        and all that is read."""
        self._mended += off_udeg * guess
        if not guess or abs(self._mended) < _MENDED_UDEG:
            here = self.udeg(self._motor)
            self.drive.count += int(self.scale.counts(here + off_udeg) - self.scale.counts(here))
            self._measure()

    def shift(self, udeg):
        """Home has been found where crossing() said: count from there, moving or not. The shift [udeg] itself
        goes unused: a scale that is not even makes it wrong as long as the place is not known."""
        self._zero = self._mark - self.scale.counts(self.home_udeg)
        motor = self.steps(self.scale.udeg(self._at() - self._zero))
        Axis.shift(self, self.udeg(motor - self._motor))

    def _at(self):
        """Where the motor is [counts]."""
        if self.moving and self.drive.count == self._start:
            return self._began
        return self.drive.count + (_PAST if self.drive.last > 0 else 1.0 - _PAST)

    def _measure(self):
        """Take the motor's place from the count, and the load's with it."""
        self.drive.look()
        count = self.drive.count
        if count == self._count:
            return
        self._count = count
        motor = self.steps(self.scale.udeg(self._at() - self._zero))
        moved = motor - self._motor
        self._motor = motor
        self._drag(abs(moved), 1 if moved > 0 else -1)

    def here_udeg(self, now_ms):
        """Where the load is now [udeg]; while it moves, between two edges by the time since the last."""
        self._measure()
        drive = self.drive
        if not self._running or self._count == self._start:
            return self.position_udeg
        part = min(1.0, max(0, diff(now_ms, drive.at_ms)) * self._pace / 1000.0)
        at = self.scale.udeg(drive.count + (part if self._sign > 0 else 1.0 - part) - self._zero)
        return self.position_udeg + at - self.udeg(self._motor)

    def crossing(self, now_ms):
        """Where the load crossed a flag [udeg], first asked when that is seen; None until the next edge of
        the pulses has come: the share of the time between two edges is that of the way."""
        self._measure()
        drive = self.drive
        if self._flag_ms is None:
            self._flag_ms = add(now_ms, -_FLAG_MS)
        late = diff(drive.at_ms, self._flag_ms)
        if late < 0 and self._running:
            return None
        part = min(1.0, max(0, late) / max(1, diff(drive.at_ms, drive.before_ms)))
        self._mark = drive.count - part if self._sign > 0 else drive.count + 1.0 + part
        return self.position_udeg + self.scale.udeg(self._mark - self._zero) - self.udeg(self._motor)

    def halt(self, now_ms):
        """Power is cut: the motor runs out, and its counts go on telling the place."""
        self.drive.stop()
        self.moving = self._running = self._primed = False
        self._after = self._onto = None
        self._quiet_ms = 0
        self._then = now_ms

    # --- a move ---------------------------------------------------------------------------------------

    def _run(self, steps, permille):
        self._measure()
        self.fault = 0
        self._from = self._motor
        self._mended = 0
        self._sign = 1 if steps >= self._motor else -1
        at = self.scale.counts(self.udeg(steps)) + self._zero
        # the last count not past the aim: coarse pulses shall not carry the dish ahead of the sun
        self._want = math.floor(at - _PAST) if self._sign > 0 else math.ceil(at + _PAST) - 1
        left = (self._want - self._count) * self._sign
        if left <= 0:
            self._running = False
            if self._after is not None:  # no room for a take-up in one count
                steps, self._after = self._after, None
                self._run(steps, self._after_permille)
            return
        share = max(_SURELY if self.by_time else 1, min(1000, abs(permille)))
        self._top = self._full * share / 1000.0
        speed = self.speed
        if permille < 0:  # a slower top, where a share of full speed stretches the whole profile
            speed = max(1, speed * share // 1000)
            share = 1000
        self._profile.start(abs(steps - self._motor), speed, self.accel)
        self._permille = share
        self._t = 0
        self._goal = self._want - self._sign * min(left - 1, self._run_on[int(self._sign > 0)])
        self._ref = self._began = self._at()
        self._start = self._count
        self._sum = 0.0
        self._power = self._speed = self._dark = 0.0
        self._creeping = False
        self._running = self.moving = True
        self._primed = False
        self._mute = False
        self._flag_ms = None
        self.drive.deaf = self.by_time
        self.drive.go(self._sign, self._goal, self.turned)

    def _brake(self):
        """Switch off; what is left of the move is forgotten."""
        self._after = self._onto = None
        self._mute = False
        if self._running:
            self._creeping = False
            self._cut()

    def _cut(self):
        self.drive.stop()
        self._running = False
        self._quiet_ms = 0

    def tick(self, now_ms):
        """Regulate, and see it come to rest; call every 100 ms while moving."""
        if not self.moving:
            return
        dt = max(0, diff(now_ms, self._then)) if self._primed else 0
        self._then = now_ms
        self._primed = True
        self._reckon(dt, now_ms)
        self._measure()  # as whoever asked where it is since the last tick has
        turned = abs(self._count - self._seen)
        self._seen = self._count
        if self._running and self.drive.off:
            self._cut()
        if self._running:
            self._regulate(dt, turned)
            return
        self._quiet_ms += dt
        if self._quiet_ms < self._coast_ms // (1 + self._mute):  # back at once: it may be ahead of the sun
            return
        self._stand()
        if self._fails() or not (self._running or self._next()):
            self.moving = False
            self._primed = False

    def _reckon(self, dt, now_ms):
        """How far it should have turned since the last edge, by its voltage: by time, that is counted."""
        drive = self.drive
        turns = self._turns[int(self._sign > 0)]
        power = self._power if self._running else 0.0
        aim = (power - turns) * self._full / (self._cruise - turns)  # below 0: friction stops it
        was = self._speed
        self._speed = max(0.0, was + (aim - was) * dt / (dt + self._gains_ms))
        self._dark += self._speed * dt / 1000.0
        if self.by_time:
            whole = int(self._dark)
            self._dark -= whole
            drive.count += whole * self._sign
            drive.at_ms = now_ms
            if (drive.count - self._goal) * self._sign >= 0:
                drive.stop()
        elif dt > _MISSES_MS:  # edges that came meanwhile were not seen, but for one
            drive.look()
            missed = int((was + self._speed) * dt / 2000.0 - (drive.count - self._seen) * self._sign)
            if missed > 0 and not drive.off:
                drive.count += missed * self._sign
                if (drive.count - self._goal) * self._sign >= 0:
                    drive.stop()
            self._dark = -0.5 * self._full

    def _stand(self):
        """It stands: learn from where it came to."""
        drive = self.drive
        if self._creeping and drive.way:
            up = int(drive.way > 0)
            over = (self._count - self._goal) * drive.way
            self._run_on[up] = max(0, min(_MOST_RUN_ON, over))
        self._creeping = False
        drive.stands()

    def _fails(self):
        """After a move: without a pulse it is tried backwards once, which brings it back if it has turned
        uncounted. A pulse then: it only needs more power."""
        onto = self._onto
        self._onto = None
        if onto is not None:
            if self._count == self._start:
                self.fault = STALLED
            else:
                k = int(self._sign < 0)
                self._turns[k] = min(_HARD, self._turns[k] + _MORE)
                self._tries += 1
                self._after = onto
        elif not self._mute:
            self._tries = 0
        elif self._tries > 1:  # it turns, but one way alone
            self.fault = BLOCKED
            self._tries = 0
        else:
            self._onto = self._from + self._sign * self._profile.steps if self._after is None else self._after
            self._after = None
            self._run(self._motor - self._sign * self.steps(_BACK_UDEG), 1000)
        if self.fault:
            self._after = None
        return self.fault

    def _regulate(self, dt, turned):
        """Set the voltage for the next 100 ms."""
        full = self._full
        self._pace = self._lead(dt)
        behind = (self._ref - self._at()) * self._sign / full  # s of full speed
        self._sum = max(-_MOST_SUM, min(_MOST_SUM, self._sum + _SLOW_GAIN * behind * dt / 1000.0))
        power = 1000.0 * self._pace / full + _GAIN * behind + self._sum
        # a creep asks for thirds and sixths: cut where none of them lies, so that no last bit decides
        if turned and not self.by_time:
            self._learn(turned)
        self._power = max(0.0, min(999.9, power + 0.37))
        self.drive.power(int(self._power), int(_NEXT_MS / max(self._pace, self._speed, 1.0) + 0.5))
        if not self.by_time:
            self._watch(behind)

    def _learn(self, turned):
        """So many edges have come. What it was reckoned to have turned beyond them is shared between the
        voltage at which it begins to turn and that at full speed, as they bear on its speed."""
        if self._dark >= 0.0 and self._count - self._start != self._sign:
            more = (self._dark - turned) * _LEARNS / self._full
            share = min(1.0, self._speed / self._full)
            self._cruise = max(_LEAST_CRUISE, min(_MOST_CRUISE, self._cruise + more * share))
            k = int(self._sign > 0)
            self._turns[k] = max(50, min(_HARD, self._turns[k] + more * (1.0 - share)))
        self._dark = 0.0

    def _lead(self, dt):
        """Move the reference on; returns its speed [counts/s]."""
        self._t += dt
        profile = self._profile
        t = self._t * self._permille // 1000
        at = self.udeg(self._from + self._sign * profile.at(t))
        ref = self.scale.counts(at) + self._zero
        least = self._ref  # gone back, it would hold the motor still for seconds
        self._creeping = profile.total_ms - t <= _CREEP_MS
        if self._creeping or self._t < _STARTS_MS:
            least += self._sign * min(self._creep, self._top) * dt / 1000.0
        if (least - ref) * self._sign > 0.0:
            ref = least
        most = self._full * _BEHIND_MS / 1000.0
        if (ref - self._count) * self._sign > most:
            ref = self._count + self._sign * most
        speed = (ref - self._ref) * self._sign * 1000.0 / dt if dt else self._creep
        self._ref = ref
        return max(0.0, speed)

    def _watch(self, behind):
        """Stalled, the wrong way, or far ahead of where it should be."""
        self._mute = self._dark > _LATE and self._speed > 0.0
        if (self._count - self._start) * self._sign <= -_LEAST_COUNTS:
            self.fault = WRONG_WAY
        elif -behind * self.udeg(self.speed) > _AHEAD_UDEG:
            self.fault = RUNAWAY
        if self.fault or self._mute:
            self._creeping = False
            self._cut()

    # --- at rest ----------------------------------------------------------------------------------------

    def rest(self, now_ms):
        """Watch a motor that nobody drives: pushed by hand or wind, or running by itself."""
        dt = max(0, diff(now_ms, self._then))
        self._then = now_ms
        self._measure()
        drive = self.drive
        if drive.way:  # the power was cut: it runs out
            self._quiet_ms += dt
            if self._quiet_ms >= self._coast_ms:
                drive.stands()
        elif drive.strays >= _STRAYS:
            self.fault = STRAYED
            if self._blind:  # nobody knows which way
                self.placed = False
            drive.strays = 0
