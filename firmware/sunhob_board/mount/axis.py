"""One axis: whole steps, a speed profile cut into short segments, backlash taken up from one side.

Units: axis readings in micro-degrees, motor positions in steps, ms, us. The position counts what has been
queued, so while moving it runs up to 200 ms ahead of the shaft; at rest it is exact.
"""

from ..core.ticks import add, diff
from .profile import Profile, duration_ms

STALLED, STRAYED, WRONG_WAY, RUNAWAY, BLOCKED = 1, 2, 3, 4, 5  # what a drive that tells its motion has shown

_SEGMENT_MS = 40
_AHEAD_MS = 140
_TURN_UDEG = 360000000
_OVER_UDEG = 50000  # how far past the backlash a take-up begins; in a small step a quarter of the deadband
_MOST_STEPS = 2048
_MOST_PERIOD_US = 520000


def axis_of(drive, n, s):
    """The axis of the kind that the settings name, with its drive. Loads no more than it needs."""
    kind = getattr(s, "axis%d_drive" % n)
    if kind == "stepper":
        return Axis(drive, n, s)
    if kind == "hand":
        from .hand_axis import HandAxis

        return HandAxis()
    from .pulse_axis import PulseAxis

    return PulseAxis(drive, n, s)


class Axis:
    """n is 1 or 2; s the settings. moving, placed, taken_up, at_limit and target_udeg are for reading.
    turned: its drive was seen to turn the wrong way, and is driven with its sense turned round."""

    def __init__(self, drive, n, s):
        name = "axis%d_" % n
        self.drive = drive
        self.low_udeg = int(getattr(s, name + "low_deg") * 1000000)
        self.high_udeg = int(getattr(s, name + "high_deg") * 1000000)
        self.home_udeg = int(getattr(s, name + "home_deg") * 1000000)
        turn = self._per_turn(s, name)
        a, b = _TURN_UDEG, turn
        while b:
            a, b = b, a % b
        self._num = _TURN_UDEG // a
        self._den = turn // a
        self.approach = int(getattr(s, name + "approach"))
        self.speed = max(1, int(getattr(s, name + "speed_deg_s") * turn / 360))
        self.accel = max(1, int(getattr(s, name + "accel_deg_s2") * turn / 360))
        slack = int(getattr(s, name + "backlash_deg") * 1000000)
        self._slack = self.steps(slack) if self.approach else 0
        self._over = self._slack + self.steps(_OVER_UDEG)
        # In a step against its approach the load passes its aim by that, half a deadband ahead of the sun.
        self._little = self._slack + self.steps(min(_OVER_UDEG, int(s.tracking_deadband_deg * 250_000)))
        self._profile = Profile()
        self._motor = 0
        self._load = 0
        self._sign = 1
        self.turned = False
        self._from = 0
        self._after = None
        self._after_permille = 1000
        self._permille = 1000
        self._t = 0
        self._owed_ms = 0
        self._end = 0
        self._primed = False
        self._running = False
        self._onward = 0
        self.wide = self._wide = 1  # so much longer segments, the queue full of them, for a loop that stalls
        self.target_udeg = 0
        self.moving = False
        self.placed = False
        self.at_limit = False
        self.fault = 0  # only drives that tell their motion know: see pulse_axis.py

    homes = True  # it has a home flag
    measured = False  # its count is what its motor was sent
    by_time = False

    @staticmethod
    def _per_turn(s, name):
        """Units of this axis in a whole turn."""
        return int(getattr(s, name + "steps_per_turn"))

    # --- units ------------------------------------------------------------------------------------

    def steps(self, udeg):
        """Whole steps nearest to an angle [udeg]."""
        return (2 * udeg * self._den + self._num) // (2 * self._num)

    def udeg(self, steps):
        """Angle [udeg] of a number of steps."""
        return steps * self._num // self._den

    @property
    def position_udeg(self):
        """Where the load is believed to be [udeg]."""
        return self._load * self._num // self._den

    @property
    def taken_up(self):
        """Whether the play is known to lie on the approach side: it came on from there by all of it."""
        return not self.approach or self._onward >= self._slack

    def set_position(self, udeg):
        """Declare where the load stands now [udeg]; only at rest, with the play taken up."""
        self._motor = self._load = self.steps(udeg)
        self._onward = 0
        self.target_udeg = self.position_udeg
        self.placed = True

    def shift(self, udeg):
        """Move the whole count by so much [udeg], moving or not: home has been found, or it turns by itself.
        What is left of a move stays as it is."""
        steps = self.steps(udeg)
        if self._after is not None:
            self._after += steps
        self._motor += steps
        self._load += steps
        self._from += steps
        self.target_udeg += udeg
        self.placed = True

    # --- orders -----------------------------------------------------------------------------------

    def clamp(self, udeg):
        """The reading [udeg] inside the travel nearest to the one asked."""
        return max(self.low_udeg, min(self.high_udeg, udeg))

    def move_to(self, udeg, speed_permille=1000):
        """Go to a reading [udeg]; False if the axis does not know its place or the travel ends before."""
        if not self.placed:
            return False
        wanted = self.clamp(udeg)
        self.at_limit = wanted != udeg
        self.target_udeg = wanted
        self._wide = self.wide
        self._order(self.steps(wanted), speed_permille)
        return not self.at_limit

    def seek(self, delta_udeg, speed_permille):
        """Turn by so much [udeg] whatever the travel says, gaining speed as ever: for finding home."""
        self._wide = 1  # it must stop soon after the flag
        self._order(self._motor + self.steps(delta_udeg), -speed_permille)

    def _order(self, steps, permille):
        if self.moving:
            self._brake()
            self._after = steps
            self._after_permille = permille
        else:
            self._begin(steps, permille)

    def way_ms(self, start_udeg, end_udeg):
        """Time of a move at full speed between two readings, take-up included [ms]."""
        a = self.steps(start_udeg)
        b = self.steps(end_udeg)
        if (b - a) * self.approach < 0:
            return (duration_ms(abs(b - a) + self._over, self.speed, self.accel)
                    + duration_ms(self._over, self.speed, self.accel))
        return duration_ms(abs(b - a), self.speed, self.accel)

    def stop(self):
        """Slow down and rest; the target becomes where that ends."""
        self._after = None
        if self.moving:
            self._brake()
            self.target_udeg = self.position_udeg

    def halt(self, now_ms):
        """Power is cut: nothing more is sent. The count goes back to about where a moving axis was at this
        time [ms]; if that is more than its play, it no longer knows its place."""
        self.drive.clear()
        if self.moving:
            back = self._load - self.steps(self.here_udeg(now_ms))
            self._motor -= back
            self._load -= back
            if abs(back) > self._over:
                self.placed = False
        self.moving = False
        self._running = False
        self._primed = False
        self._after = None

    def here_udeg(self, now_ms):
        """Where the load is now [udeg], counting back what is still queued."""
        if not self.moving or not self._primed:
            return self.position_udeg
        ahead = max(0, diff(self._end, now_ms))
        speed = self._profile.speed(self._t * self._permille // 1000) * self._permille // 1000
        return self.udeg(self._load - self._sign * (speed * ahead // 1000))

    def crossing(self, now_ms):
        """Where the load crossed a flag that is seen to change [udeg]; None: ask again at the next tick."""
        return self.here_udeg(now_ms)

    def rest(self, now_ms):
        """Called in place of tick() while nothing moves."""

    # --- inside -----------------------------------------------------------------------------------

    def _begin(self, steps, permille):
        """Start towards a motor position, by way of the take-up where the approach asks for it."""
        self._after = None
        side = self.approach
        if (steps - self._load) * side < 0 or (steps - self._motor) * side < 0:
            self._after = steps
            self._after_permille = permille
            steps -= side * (self._little if abs(steps - self._load) < self._over else self._over)
        self._run(steps, permille)

    def _run(self, steps, permille):
        self._from = self._motor
        self._sign = 1 if steps >= self._motor else -1
        speed = self.speed
        if permille < 0:  # a slower top, where a share of full speed stretches the whole profile
            speed = max(1, speed * -permille // 1000)
            permille = 1000
        self._profile.start(abs(steps - self._motor), speed, self.accel)
        self._permille = max(1, min(1000, permille))
        self._t = 0
        self._owed_ms = 0
        self._running = self._profile.steps > 0
        if self._running:
            self.moving = True

    def _brake(self):
        """Replace what is left of the profile by the shortest way to rest."""
        self._after = None
        if not self._running:
            return
        speed = self._profile.speed(self._t * self._permille // 1000) * self._permille // 1000
        self._from = self._motor
        self._profile.brake(speed, self.accel)
        self._permille = 1000
        self._t = 0
        self._owed_ms = 0
        self._running = self._profile.total_ms > 0

    def tick(self, now_ms):
        """Queue motion up to about 140 ms ahead; call every 100 ms while moving."""
        if not self.moving:
            return
        if not self._primed or diff(self._end, now_ms) < 0:
            self._end = now_ms
            self._primed = True
        while diff(self._end, now_ms) < _AHEAD_MS * self._wide * self._wide:
            if not self._running and not self._next():
                if diff(self._end, now_ms) <= 0:
                    self.moving = False
                    self._primed = False
                return
            if self.drive.free() < 1:
                return
            self._segment()

    def _next(self):
        """Start the second half of a move, if there is one."""
        if self._after is None:
            return False
        steps = self._after
        self._after = None
        if (steps - self._load) * self.approach < 0:
            self._begin(steps, self._after_permille)
        else:
            self._run(steps, self._after_permille)
        return self._running

    def _segment(self):
        """Send one segment and count it."""
        profile = self._profile
        left = profile.total_ms * 1000 // self._permille - self._t
        ms = _SEGMENT_MS * self._wide
        if left <= ms + 20:
            ms = max(1, left)
        self._t += ms
        if left <= ms:
            count = profile.steps
            self._running = False
        else:
            count = profile.at(self._t * self._permille // 1000)
        count -= abs(self._motor - self._from)
        self._end = add(self._end, ms)
        self._owed_ms += ms
        if count > 0:
            self._send(min(count, _MOST_STEPS))
            if count > _MOST_STEPS:
                self._running = True

    def _send(self, count):
        period = min(_MOST_PERIOD_US, self._owed_ms * 1000 // count)
        self._owed_ms = 0
        self.drive.push((self._sign > 0) != self.turned, count, period)
        self._motor += self._sign * count
        self._drag(count, self._sign)

    def _drag(self, count, sign):
        """The motor has turned so many steps this way: the load follows when the play is out."""
        if not self.approach:
            self._load = self._motor
            return
        self._onward = min(self._slack, self._onward + count) if sign == self.approach else 0
        lag = (self._motor - self._load) * self.approach
        if lag > 0:
            self._load = self._motor
        elif lag < -self._slack:
            self._load = self._motor + self.approach * self._slack
