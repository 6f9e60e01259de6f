"""The sun as seen from the dish, by the sun-direction sensor at its rim: against clock, base and counts, and
as a measure of where both axes truly stand.

Units: W/m2, micro-degrees, ms; in the dish's own frame right, up, along as one looks out along its axis. The
sensor tells the sun up to 75 deg off that axis: from 60 deg on one diode of a pair looks away from it. Sky
and ground shine on the leaning diodes unequally: their share is taken off by the open cell. The tube must not
speak against it: what shades a diode shades no tube.
"""

import math

from ..declared import interlocks as table
from ..sun.table import fold_udeg

_I = table.INDEX
DISAGREES, RUNAWAY, STALLED, BACKWARDS = (
    _I["sun_disagrees"], _I["drive_runaway"], _I["drive_stalled"], _I["drive_backwards"])

_LOWEST_U = 0.1
_LEAST_W_M2 = 200.0
_TUBE_W_M2 = 60.0
_TUBE_OFF = 0.15  # of the beam: farther off, the tube is wrong, or dirty, and tells no sky's share
# Farther off what it was while the sun was seen at its place, a sun seen elsewhere is not believed: the diode
# that looks straight out does not bear it out (a fault shows it 7 deg off), or the sky's share is wrong.
_TUBE_SURE = 0.007
_LEARNS = 0.1  # of what is new in that
_TUBE_JUMP = 0.05  # from frame to frame: then it is noisy, or at a cloud's edge
_HAZE = 0.45  # of the beam: with more light from the sky than that its share is not known well enough
_SHADED = 0.8
_STILL = 0.03  # of the light
_GROUND = 0.2  # of the light, thrown back by the ground: common practice, no source
_COS_SEEN = 0.25
_COS_RUNS = 0.6  # 53 deg: farther off both axes jitter by more than a drive runs in two seconds
_COS_WELL = 0.5  # 60 deg: farther off it is told by what the ground throws back, which is a guess
_FAR_UDEG = 12_000_000  # so much more is borne there
_AMISS_UDEG = 8_000_000
_AWAY = 1.732  # of the part along: with more than that to a side one diode, leaning 30 deg, has no sun
_CLEAR = 0.25  # of the beam: with no more light than that from a sky as bright as a clear one (0.7 of it) it
_OPEN = 0.7  # is the sun that it sees, not a bright cloud
_COS_WHOLE, _COS_EDGE = 0.9605, 0.958  # 16.2 deg: the tube sees the sun whole; 16.6 deg
_AMBIENT = 0.17  # of the open cell's light: about what sky and ground add on the diode straight out
_COS_TUBE, _COS_DARK = 0.974, 0.927  # 13 deg, and 22 deg: there it sees nothing of it
_FALLS = 29.0  # share of its light that the tube loses for each of the cosine from 16 to 22 deg
_WAVERS = 0.00004  # share of the light in a ms: at a cloud's edge tube and open cell are read too late
_TURNS = 0.0003  # the same of `total`, as a drive that runs away at 4 deg/s changes it
_FRAME_MS = 2_000  # the first frame that speaks against the counts tells of no more, in a move of half
_STEADY_MS = 2_000
_LATELY_MS = 600_000  # the beam was told by the tube so lately: else a bright cloud may pass for one
_FRAMES = 12
_QUICK_MS = 700
_FROZEN = 4
_DWELL_MS, _MOVING_MS = 4_000, 1_500
_JITTER_UDEG = 150_000  # from frame to frame: it is noisy
_FINE_MS = 10_000  # a step after the sun ends it; 0.35 deg at most for so long, measured on the bench
_JUMPS = 0.14  # 8 deg, in radians, of a sun seen by a dish at rest farther off than it can be told well
_LIKE = 0.08  # of the light: it has not changed
_RECENT_MS = 60_000
_SPAN_MS = 1_800
_RUN_UDEG = 300_000
_FASTEST = 4_000_000  # udeg/s: no drive runs away so fast, it was a jump
_WIDE_UDEG = 6_000_000
_AGREES_MS = 5_000
_TURNS_ALL, _BACK, _MOST_BACK = 0.75, -0.3, -1.5  # shares of its way: nearly all, and the other way
_TELLS = 0.3  # nearer to axis 1 its reading is not told to some degrees
_THIRD = 120_000_000  # of a turn
_ROOT_3 = 1.7320508
_UDEG = 180_000_000.0 / math.pi


def _size(v):
    return math.sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2])


class SunSight:
    """lit: whether it sees a sun that it can place; beside: farther off than it can. apart_udeg: between the
    sun seen and expected; bad_ms: for how long too much. contrary_ms: how long the tube has spoken against
    it. agrees_ms: how long it has seen the sun, at rest, where the counts have it. here: the counts at the
    last frame [udeg]. start: those where the move under way began, or None. across: how well axes tells
    axis 1, 0 to 1; below 0 until axes has been asked for."""

    def __init__(self, s, mount):
        self.mount = mount
        self.lit = self.beside = False
        self._axes = [0, 0]
        self.apart_udeg = self._most = 0
        self._apart_then = 0
        self.off_then = 0  # before it moved: a place that was wrong already tells of no drive
        self.contrary_ms = 0
        self.agrees_ms = 0
        self.frozen = 0
        self.share = 0.0  # of its way, that an axis turns which does not turn as it is driven
        self.rate = 0  # of an axis that turns by itself [udeg/s]
        self._limit = int(s.interlock_sun_sensor_deg * 1_000_000)
        self._sum = self._ref = -1
        self._stuck = False
        self._seen = [0.0, 0.0, 0.0]
        self._want = [0.0, 0.0, 0.0]
        self.here = [0, 0]
        self._trim = [0.0, 0.0, 0.0]
        self._trimmed = False
        self._far = None  # what is apart there, while it rests, and the light, and for how long not looked at
        self._far_size = 0.0
        self._far_ms = 0
        self.slipped = False  # that has jumped in the same light: something turned
        self.size = self._beam = self._tube = 0.0  # size: of the beam by it
        self._ratio = 0.0  # of that to the tube's, while they agreed; 0: not known
        self._beam_ms = self._steady_ms = 0
        self.forget()

    def forget(self):
        """The counts have been mended: begin anew."""
        self.row = -1  # what is to be told of it
        self.axis = self.bad_ms = self._fine_ms = self.rate = 0
        self.start = self._past = None

    def tick(self, dt_ms, sun, got, beam_w_m2, open_w_m2, clear_w_m2=0.0):
        """A new frame of the sensor [W/m2]; sun: None where its place is not known; clear_w_m2: light
        of a clear sky on the open cell, 0 where not known."""
        self._bright = 0.0 < _OPEN * clear_w_m2 < open_w_m2
        self.beside = False
        self._far_ms += dt_ms
        self.lit = sun is not None and got is not None and sun.u > _LOWEST_U and self._looks(
            dt_ms, sun, got, beam_w_m2, open_w_m2)
        if self.lit:
            self._place(dt_ms, sun)
            self.lit = self.lit and not self.beside
        if not self.lit:
            if got is None:
                self.agrees_ms = 0
            self.bad_ms = 0
            self._past = None
            self.start = None

    def _place(self, dt_ms, sun):
        """Hold the sun seen against the counts. The tube may speak against one of them, not against both."""
        seen, here = self._seen, self.here
        self._sun = sun
        for i in range(3):
            seen[i] -= self._trim[i]
        self._sight_from(here[0], here[1])
        well = seen[2] > _COS_WELL
        self._far_off(well)
        if self.beside:
            return
        self.apart_udeg = self._off()
        self.across = -1.0
        most = 0 if self.slipped else int(
            (self._limit * 2 // 3 if self._trimmed else self._limit) * (1.0 + self._haze))
        if self.slipped:
            pass
        elif not well:
            most += _FAR_UDEG
        elif self._moves:
            most += _WIDE_UDEG
        if not self._moves:
            self.off_then = self.apart_udeg
            self.agrees_ms = 0 if self.apart_udeg > most else self.agrees_ms + dt_ms * well
        self._most = most
        apart = self._apart
        if self.apart_udeg <= most:
            self.contrary_ms = 0
            if apart and not self._moves:
                self._ratio = self._ratio + _LEARNS * apart if self._ratio else 1.0 + apart
        elif self._clash:
            self.lit = False
        elif self._want[2] > _COS_DARK and abs(apart) > (  # or the tube, too
                1.0 if self._ratio and not self._moves else 3.0 if self._ratio else 4.0) * _TUBE_SURE:
            self.contrary_ms += dt_ms
            self.lit = False

    def _far_off(self, well):
        """Farther off than it is told well, the sun is seen some degrees beside its place, but always the
        same: of a dish that rests, in the same light, it jumps only as something turns."""
        self.slipped = False
        if well or self._moves:
            self._far = None
            return
        off = [self._seen[i] - self._want[i] for i in range(3)]
        far = self._far
        if far is not None and self._far_ms < _RECENT_MS and abs(self.size - self._far_size) < (
                _LIKE * self.size):
            self.slipped = _size([off[i] - far[i] for i in range(3)]) > _JUMPS and _size(off) > _size(far)
        if not self.slipped:
            self._far, self._far_size, self._far_ms = off, self.size, 0

    @property
    def axes(self):
        """Readings of both axes by it [udeg]; reckoned when they are asked for."""
        if self.across < 0.0:
            sun, here = self._sun, self.here
            self.across = self.mount.geometry.axes_seeing(
                sun.e, sun.n, sun.u, self._seen, here[0], here[1], self._axes)
        return self._axes

    def _sight_from(self, a1, a2):
        """Where the sun should be seen at these readings."""
        self.mount.geometry.seen_from_dish(self._sun.e, self._sun.n, self._sun.u, a1, a2, self._want)

    def _off(self):
        """Angle between where it should be seen and where it is [udeg]."""
        want, seen = self._want, self._seen
        return int(2.0 * math.asin(min(1.0, 0.5 * _size([want[i] - seen[i] for i in range(3)]))) * _UDEG)

    def _looks(self, dt_ms, sun, got, beam_w_m2, open_w_m2):
        """Take a frame; False where it tells nothing."""
        total = got[0] + 3.0 * got[1] + 7.0 * got[2]
        change = abs(total - self._sum)
        self.frozen = self.frozen + 1 if change == 0.0 else 0
        self._sum = total
        seen, up, here = self._seen, self._want, self.here
        self.mount.here_udeg(here)
        self.mount.geometry.seen_from_dish(0.0, 0.0, 1.0, here[0], here[1], up)
        ground = _GROUND * open_w_m2
        size = _size(got)
        z = got[2] - _AMBIENT * open_w_m2
        by_tube = beam_w_m2 > _TUBE_W_M2 and z > _COS_WHOLE * _size((got[0], got[1], z))
        jump = beam_w_m2 - self._tube
        self._tube = beam_w_m2
        for _ in range(1 if by_tube else 3):  # the beam tells the sky's share, which tells the beam
            sky = max(0.0, open_w_m2 - (beam_w_m2 if by_tube else size) * sun.u)
            for i in range(3):
                seen[i] = got[i] - 0.5 * (sky - ground) * up[i]
            seen[2] -= 0.5 * (sky + ground)
            for i in (0, 1):
                away = abs(seen[i]) - _AWAY * seen[2]
                if away > 0.0:
                    seen[i] += away if seen[i] > 0.0 else -away
            size = _size(seen)
        self._apart = apart = size / beam_w_m2 - (self._ratio or 1.0) if by_tube else 0.0
        off = abs(apart) > _TUBE_OFF or (by_tube and abs(jump) > _TUBE_JUMP * size)
        if size < _LEAST_W_M2:
            self.frozen = 0
        self._haze = sky / max(size, 1.0)
        wavers = change > (0.1 + _TURNS * dt_ms) * size or abs(size - self.size) > (
            0.02 + _WAVERS * dt_ms) * size
        self.size = size
        if by_tube and not off:
            self._beam, self._beam_ms = size, 0
        else:
            self._beam_ms += dt_ms
        unlit = beam_w_m2 < _TUBE_W_M2
        axes = self.mount.axes
        self._moves = axes[0].moving or axes[1].moving
        sure = by_tube or (self._beam_ms < _LATELY_MS and abs(size - self._beam) < 0.12 * size)
        self._by_sky = not sure
        sure = sure or (self._bright and unlit and self._haze < _CLEAR)
        if self._moves:
            self._far = None
        else:
            self._steady_ms = 0 if wavers else self._steady_ms + dt_ms
        shaded = open_w_m2 < _SHADED * size * sun.u  # that much it must have of the sun, or one is wrong
        if abs(total - self._ref) > _STILL * size:
            self._ref = total
            self._stuck = False
        self._stuck |= shaded  # it told of a sun that was not there, and has told the same since
        blind = off or size < _LEAST_W_M2 or self._haze > _HAZE or not sure or self._stuck
        if blind or self._steady_ms < _STEADY_MS or self.frozen >= _FROZEN:
            self.contrary_ms = 0
            return False
        for i in range(3):
            seen[i] /= size
        dark = seen[2] > _COS_TUBE and beam_w_m2 < 0.5 * size
        # Seen out there by a fault, the sun lights the tube as ever; truly there, by what is left of it.
        left = 0.5 * (seen[2] + max(0.0, _FALLS * (seen[2] - _COS_DARK)))
        bright = not unlit and seen[2] < _COS_EDGE and beam_w_m2 * (self._ratio or 1.0) > left * size
        if bright:  # a dark tube may be a cloud
            self.contrary_ms += dt_ms
        elif unlit:
            self.contrary_ms = 0
        self._clash = dark or bright
        self.beside = seen[2] <= _COS_SEEN
        return True

    # --- what it says ------------------------------------------------------------------------------------

    def speaks(self, dt_ms, leaving):
        """After a tick: True once it speaks against the counts; row and axis then tell the cause. leaving:
        the counts are doubted already, only an axis that does not turn as it should is news."""
        if not self.lit or (self._by_sky and self._moves and not leaving):  # a bright sky alone begins none
            self._fine_ms = 0
            return False
        moving = self._moves
        if moving:
            self._past = None
            if self.start is None:
                self.bad_ms = 0  # a move has less patience, and begins its own
                self.start = (self.here[0], self.here[1])
                self._sum0 = self._sum
            # It stands still, or what it sees does: the tube tells, once all is counted out of it.
            if abs(self._sum - self._sum0) < _STILL * self.size and not (
                    self._want[2] < _COS_DARK < _COS_TUBE < self._seen[2]):
                return False
            if self.off_then < _WIDE_UDEG // 2 and self._lame():
                return True
        else:
            self.start = None
        if leaving and not moving:
            return self._runs(dt_ms)
        if self._creeps(dt_ms):
            return True
        if self.apart_udeg <= (self._most * 7 // 8 if self.bad_ms else self._most):  # just at it
            self.bad_ms = 0
            self._past = None
            return False
        self.bad_ms += min(dt_ms, _FRAME_MS // 2 if moving else _FRAME_MS)
        runs = not moving and self._runs(dt_ms)
        if self.bad_ms < (_MOVING_MS if moving else _DWELL_MS):
            return False
        self.bad_ms = 0
        if not runs:
            self.row, self.axis = DISAGREES, 0
        return True

    def _creeps(self, dt_ms):
        """Whether, on the sun, it has long been seen off its place by more than the sensor errs there."""
        apart = self.apart_udeg
        fine = self._trimmed and not self._moves and self._seen[2] > _COS_WHOLE and apart <= self._most
        jitters = abs(apart - self._apart_then) > _JITTER_UDEG
        self._apart_then = apart
        if not fine or jitters or apart <= self._limit // 5 * (1.0 + 2.0 * self._haze):
            self._fine_ms = 0
            return False
        self._fine_ms += dt_ms
        if self._fine_ms < _FINE_MS:
            return False
        self._fine_ms = 0
        self.row, self.axis = DISAGREES, 0
        return True

    def vouches(self, now):
        """Whether what speaks against the counts is wrong: the tube, where the sun was seen at its place and
        not elsewhere since; a flag, if now it is seen there, and tells both axes."""
        if now and not (self.lit and self.apart_udeg <= self._most and self.tells(0)):
            return False
        return self.agrees_ms >= _AGREES_MS and self.frozen < _FROZEN

    def tells(self, k):
        """Whether the sun it sees tells axis k + 1 well."""
        return self._seen[2] > _COS_WELL and (k == 1 or (self.axes and self.across > _TELLS))

    @property
    def elsewhere(self):
        """Whether the sun is seen far from where the dish looks, wherever it ought to be."""
        return self.beside or (self.lit and self._seen[2] < _COS_WHOLE)

    @property
    def amiss(self):
        """Whether the sun is seen far from where the counts have it."""
        return self.lit and self.apart_udeg > max(_AMISS_UDEG, self._most)

    def alone(self, k):
        """Reading of axis k + 1 [udeg], the other one standing as counted, at which the sun would be seen
        where it is; None where at none of its travel. One unknown is told far better than two. As the axis
        turns, the cosine between sun seen and expected is a sine curve, known from three points."""
        f, here = [], self.here
        want, seen = self._want, self._seen
        for i in range(3):
            self._turn_to(k, _THIRD * i)
            f.append(want[0] * seen[0] + want[1] * seen[1] + want[2] * seen[2])
        f0, f1, f2 = f
        self._turn_to(k, here[k])
        x, y = (2.0 * f0 - f1 - f2) / 3.0, (f1 - f2) / _ROOT_3
        top = math.atan2(y, x)
        at = self.mount.axes[k].clamp(here[k] + fold_udeg(int(top * _UDEG) - here[k]))
        best = (f0 + f1 + f2) / 3.0 + math.sqrt(x * x + y * y) * math.cos(at / _UDEG - top)
        return at if best > _size(seen) * math.cos(self._most / _UDEG) else None

    def borne_out(self, k, at):
        """Whether with axis k + 1 at this reading [udeg], the other one as counted, the sun would be seen
        where it is, and not as well at its count."""
        self._turn_to(k, at)
        off = self._off()
        self._turn_to(k, self.here[k])
        return 2 * off < self.apart_udeg and off <= self._most

    def nearer(self, k, by):
        """-by, 0 or by [udeg]: where axis k + 1, the other one as counted, agrees better with the sun."""
        here = self.here[k]
        best, to = self.apart_udeg - by // 3, 0
        for way in (-by, by):
            self._turn_to(k, here + way)
            off = self._off()
            if off < best:
                best, to = off, way
        self._turn_to(k, here)
        return to

    def _turn_to(self, k, at):
        """Where the sun should be seen with axis k + 1 there, the other one as counted."""
        here = self.here
        self._sight_from(here[0] if k else at, at if k else here[1])

    @property
    def strays(self):
        """Whether the sun is seen elsewhere than the counts have it."""
        return self.apart_udeg > (self._limit * 2 // 3 if self._seen[2] > _COS_WELL else self._most)

    @staticmethod
    def ought(sun, beam_w_m2, open_w_m2):
        """Whether by tube and open cell there is light enough for it to see the sun."""
        return beam_w_m2 > 1.5 * _LEAST_W_M2 and open_w_m2 - beam_w_m2 * sun.u < 0.5 * _HAZE * beam_w_m2

    def agreed_anew(self, new_day):
        """On the sun: whether sun, clock, base and counts have now been seen to agree for the first time of
        the day. What is apart then is the sensor's own error: from there on a third less is borne."""
        if not new_day or not self.lit or self.agrees_ms < _AGREES_MS:
            return False
        for i in range(3):
            self._trim[i] += self._seen[i] - self._want[i]
        self._trimmed = True
        return True

    def _runs(self, dt_ms):
        """Whether an axis turns although nobody drives it: in both halves of what was seen, where a base that
        was pushed or an axis that slipped has done."""
        if self._seen[2] < _COS_RUNS:
            return False
        past = self._past
        if past is None or dt_ms > _QUICK_MS:  # a frame that took seconds mixes them, and so does the next
            self._past = None if dt_ms > _QUICK_MS else []
            return False
        axes = self.axes
        past.append((axes[0], axes[1], dt_ms))
        if len(past) > _FRAMES:
            past.pop(0)
        first = past[0]
        span_ms = sum([p[2] for p in past]) - first[2]
        if span_ms < _SPAN_MS:
            return False
        by = [fold_udeg(axes[k] - first[k]) for k in (0, 1)]
        k = 0 if abs(by[0]) * self.across > abs(by[1]) else 1
        rate = by[k] * 1000 // span_ms
        if abs(by[k]) * (1.0 if k else self.across) < _RUN_UDEG or abs(rate) > _FASTEST:
            return False
        half = fold_udeg(past[len(past) // 2][k] - first[k])
        if not by[k] < 4 * half < 3 * by[k] and not 3 * by[k] < 4 * half < by[k]:
            return False
        self.row, self.axis, self.rate = RUNAWAY, k + 1, rate
        return True

    def _lame(self):
        """An axis that does not turn as it is driven: had it turned by another share of its way, none, or the
        other way, the sun would be seen where it is. Not by a frozen sensor."""
        best = self.apart_udeg // 3
        if self.apart_udeg < _WIDE_UDEG or self.frozen:
            return False
        self.axis = 0
        here, start = self.here, self.start
        for k in (0, 1):
            went = here[k] - start[k]
            at = self.alone(k) if self._seen[2] > _COS_WELL else start[k]  # badly: whether it stands
            share = (at - start[k]) / went if went and at is not None else 1.0
            if _MOST_BACK < share < _TURNS_ALL:  # from a short way to a far place it jumped
                self._turn_to(k, at)
                off = self._off()
                if off < best:
                    best = off
                    self.row, self.axis, self.share = BACKWARDS if share < _BACK else STALLED, k + 1, share
        return self.axis > 0
