"""What the sun seen says against the counts: elsewhere, an axis that runs away, one that does not turn.

Units: micro-degrees, ms, shares of a way. Part of SunSight, whose state it works on.
"""

from ..declared import interlocks as table
from ..sun.table import fold_udeg
from .sight_light import COS_DARK, COS_TUBE, COS_WELL, COS_WHOLE, FROZEN, STILL

_I = table.INDEX
DISAGREES, RUNAWAY, STALLED, BACKWARDS = (
    _I["sun_disagrees"], _I["drive_runaway"], _I["drive_stalled"], _I["drive_backwards"])

_COS_RUNS = 0.6  # 53 deg: farther off both axes jitter by more than a drive runs in two seconds
_AMISS_UDEG = 8_000_000
_FRAME_MS = 2_000  # the first frame that speaks against the counts tells of no more, in a move of half
_FRAMES = 12
_QUICK_MS = 700
_DWELL_MS, _MOVING_MS = 4_000, 1_500
_JITTER_UDEG = 150_000  # from frame to frame: it is noisy
_FINE_MS = 10_000  # a step after the sun ends it; 0.35 deg at most for so long, measured on the bench
_SPAN_MS = 1_800
_RUN_UDEG = 300_000
_JITTERS = 3  # times as far to and fro: it is noise, no drive
_FASTEST = 4_000_000  # udeg/s: no drive runs away so fast, it was a jump
WIDE_UDEG = 6_000_000
AGREES_MS = 5_000
_TURNS_ALL, _BACK, _MOST_BACK = 0.75, -0.3, -1.5  # shares of its way: nearly all, and the other way


class SightDoubt:
    """Patience with frames that speak against the counts, and which row of the interlocks is to blame."""

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
            if abs(self._sum - self._sum0) < STILL * self.size and not (
                    self._want[2] < COS_DARK < COS_TUBE < self._seen[2]):
                return False
            if self.off_then < WIDE_UDEG // 2 and self._lame():
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
        fine = self._trimmed and not self._moves and self._seen[2] > COS_WHOLE and apart <= self._most
        jitters = abs(apart - self._apart_then) > _JITTER_UDEG
        self._apart_then = apart
        least = self._limit // 6 * (1.0 + 2.0 * self._haze)
        if not fine or jitters or apart <= least:
            self._fine_ms = 0
            return False
        self._fine_ms += int(dt_ms * apart / least)
        if self._fine_ms < _FINE_MS:
            return False
        self._fine_ms = 0
        self.row, self.axis = DISAGREES, 0
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
        way = sum([abs(past[i][k] - past[i - 1][k]) for i in range(1, len(past))])
        if way > _JITTERS * abs(by[k]):
            return False
        self.row, self.axis, self.rate = RUNAWAY, k + 1, rate
        return True

    def _lame(self):
        """An axis that does not turn as it is driven: had it turned by another share of its way, none, or the
        other way, the sun would be seen where it is. Not by a frozen sensor."""
        best = self.apart_udeg // 3
        if self.apart_udeg < WIDE_UDEG or self.frozen:
            return False
        self.axis = 0
        here, start = self.here, self.start
        for k in (0, 1):
            if self.kept >> k & 1:
                continue
            went = here[k] - start[k]
            at = self.alone(k) if self._seen[2] > COS_WELL else start[k]  # badly: whether it stands
            share = (at - start[k]) / went if went and at is not None else 1.0
            if _MOST_BACK < share < _TURNS_ALL:  # from a short way to a far place it jumped
                self._turn_to(k, at)
                off = self._off()
                if off < best:
                    best = off
                    self.row, self.axis, self.share = BACKWARDS if share < _BACK else STALLED, k + 1, share
        return self.axis > 0

    def vouches(self, now):
        """Whether what speaks against the counts is wrong: the tube, where the sun was seen at its place and
        not elsewhere since, nor lost from sight while it moves; a flag, if now it is seen there, and tells
        both axes."""
        if now and not (self.lit and self.apart_udeg <= self._most and self.tells(0)):
            return False
        if self._moves and not self.lit:
            return False
        return self.agrees_ms >= AGREES_MS and self.frozen < FROZEN

    @property
    def elsewhere(self):
        """Whether the sun is seen far from where the dish looks, wherever it ought to be."""
        return self.beside or (self.lit and self._seen[2] < COS_WHOLE)

    @property
    def amiss(self):
        """Whether the sun is seen far from where the counts have it."""
        return self.lit and self.apart_udeg > max(_AMISS_UDEG, self._most)

    @property
    def strays(self):
        """Whether the sun is seen elsewhere than the counts have it."""
        return self.apart_udeg > (self._limit * 2 // 3 if self._seen[2] > COS_WELL else self._most)
