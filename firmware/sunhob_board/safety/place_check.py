"""Whether the axes are where they are believed to be, by encoders where such are fitted.

Units: micro-degrees, ms. judge() puts the rows of declared/interlocks.py that are bad now. What can be told
without encoders, from home flags and light, is in core/whereabouts.py.
"""

from ..core.whereabouts import BY_ENCODER, BY_SUN
from ..declared import interlocks as table
from ..declared.modes import LEAVING
from ..sun.table import fold_udeg
from .encoder_lead import EncoderLead

_I = table.INDEX
_OFF = _I["position_off"]
_RUNS = _I["drive_runaway"]
_AHEAD_MS = 400  # the count runs ahead of the shaft while it moves, and a reading is that old
_REBASE_UDEG = 5_000_000
_STILL_UDEG = 300_000
_STILL_MS = 1_000
_JUMP_UDEG = 2_000_000  # from reading to reading at rest: no drive runs so fast
_SILENT_MS = 2_000
_FRAMES = 2  # of the sun sensor, since the reading is off: one that began before saw the sun as it had been


class PlaceCheck(EncoderLead):
    """judge(...). blamed: bits of encoders that the sun, or the flags at home, speak against: such a one only
    keeps the dish off the sun, until its row is cleared. extras: what they told last."""

    def __init__(self, s, locks, mount, extras):
        self.s = s
        self.locks = locks
        self.mount = mount
        self.extras = extras
        self._off = int(s.interlock_axis_off_deg * 1_000_000)
        self._zero = (int(s.sensor_axis1_zero_deg * 1_000_000), int(s.sensor_axis2_zero_deg * 1_000_000))
        self._speed = (int(s.axis1_speed_deg_s * 1000), int(s.axis2_speed_deg_s * 1000))  # udeg in a ms
        self._count = [None, None]
        self._most = [0, 0]  # how far the count has been from there
        self._read = [0, 0]
        self._last = [0, 0]
        self._at = [None, None]  # the count at that reading; None while it may turn yet
        self._rest = [0, 0]  # the reading when this rest began
        self._crept = [0, 0]  # by how much it has changed in this rest, and in those before
        self._idle = [0, 0]
        self._row = [-1, -1]  # of each axis, by its last reading
        self.bad = [-1, -1]  # the same, or position_off while it is not yet clear which of the two is wrong
        self._frames = [0, 0]  # of the sun sensor since then
        self.agrees = False  # both axes have an encoder that bears their count out
        self.blamed = 0
        self._sure = False  # the sun bears out the last one that was held against its count
        self._asked = 0  # bits of those that began the doubt: still off once home is found, they are wrong
        self._since = [None, None]  # in a doubt: reading less count, since when that one is told by this
        self._shifted = [0, 0]  # by what was told so, not driven
        self._raw = [None, None]  # count less that, and reading, from which a share of its way is reckoned
        self._was = [0, 0]

    def _forget(self):
        self.agrees = False
        for k in (0, 1):
            self._count[k] = self._at[k] = None
            self._row[k] = -1

    def reading(self, k, extras):
        """Where axis k + 1 stands by its encoder [udeg], on the turn nearest to its count; None without
        one."""
        if extras.absolute_udeg[k] is None:
            return None
        count = self.mount.axes[k].position_udeg
        return count + fold_udeg(extras.absolute_udeg[k] - self._zero[k] - count)

    def judge(self, c, extras, sight):
        """sight: None without a sun sensor."""
        if extras.silent_ms.absolute > _SILENT_MS:
            self.locks.put(_I["position_sensor"])
        if not self.mount.placed or c.homing_needed or (self.mount.late and self.mount.moving):
            self._forget()
            for k in (0, 1):
                if self.bad[k] >= 0 and c.mode == LEAVING:
                    self.locks.put(self.bad[k], k + 1)
            return
        self.anew()
        self.agrees = True
        for k in range(2):
            axis = self.mount.axes[k]
            at = self.reading(k, extras)
            self.agrees = self.agrees and at is not None and self.bad[k] < 0
            if at is None:
                continue
            if extras.fresh >> k & 1:
                self._rests(k, extras.absolute_udeg[k], c)
                most = self._off + (self._speed[k] * _AHEAD_MS if axis.moving else 0)
                off = at - axis.position_udeg
                row = self._compare(k, axis.position_udeg, extras.absolute_udeg[k], abs(off), most)
                if row < 0:
                    self._frames[k] = 0
                    if not self.locks.is_tripped(_OFF):
                        self.blamed &= ~(1 << k)
                elif self._asked >> k & 1 or self.led(k) is None:
                    self.blamed |= 1 << k
                self._asked &= ~(1 << k)
                self._row[k] = row
            self.bad[k] = self._row[k]
            if self.bad[k] >= 0:
                lit = sight is not None and sight.lit and not axis.moving  # in a move they come apace
                self._frames[k] = self._frames[k] + (extras.fresh >> 2 & 1) if lit else _FRAMES
                vote = sight.votes(k, at) if lit and self._frames[k] >= _FRAMES else 0
                self._sure = vote > 0
                if self._sure:
                    self.blamed &= ~(1 << k)
                elif vote:
                    self.blamed |= 1 << k
                if self.blamed >> k & 1 or self._frames[k] < _FRAMES:  # which of them is wrong shows soon
                    self.bad[k] = _OFF
                self.locks.put(self.bad[k], k + 1)

    def _rests(self, k, read, c):
        """What a reading does while its axis rests. Where it jumps that is no drive that turns wrongly; where
        it creeps it is one that turns by itself."""
        by = fold_udeg(read - self._last[k])
        self._last[k] = read
        if c.rests_ms >= _STILL_MS and abs(by) > _JUMP_UDEG:
            self._read[k] += by
            self._rest[k] += by
        # the reading follows a step for a while, not always the way that the step went
        at = self.mount.axes[k].position_udeg if c.rests_ms >= _STILL_MS else None
        if at is None or at != self._at[k]:
            self._idle[k] += self._crept[k]
            self._at[k], self._rest[k] = at, read
        crept = fold_udeg(read - self._rest[k])
        self._crept[k] = crept if abs(crept) > _STILL_UDEG else 0

    def doubts(self, c):
        """Whether an encoder that is not blamed speaks against its count: the controller then doubts."""
        for k in (0, 1):
            row = self._row[k]
            if row >= 0 and self._frames[k] >= _FRAMES and self.locks.is_tripped(row) and not (
                    self.blamed >> k & 1):
                self._asked |= 1 << k
                if row != _RUNS and not self.mount.moving:  # it may have slipped: the next move tells
                    row = _OFF
                c.doubt(BY_SUN if self._sure else BY_ENCODER, 0, row, k + 1)
                if not c.homing_needed:  # the dish rests well
                    self.blamed |= 1 << k
                return True
        return False

    def _begins(self, k, count, read):
        """From here on both are held against each other."""
        self._count[k], self._read[k] = count, read
        self._idle[k] = -self._crept[k]
        self._most[k] = 0

    def _compare(self, k, count, read, off, most):
        """Row that count and reading of an axis make bad, being this far apart, or -1."""
        if self._count[k] is None:
            self._begins(k, count, read)
        went = count - self._count[k]
        came = fold_udeg(read - self._read[k])
        self._most[k] = max(self._most[k], abs(went))
        apart = abs(fold_udeg(came - went))
        if apart <= most:
            if abs(went) > _REBASE_UDEG and apart < self._off // 4:
                self._begins(k, count, read)
            return _OFF if off > most else -1
        idle = self._idle[k] + self._crept[k]
        if fold_udeg(came - went) < 0:
            idle = -idle
        if self._most[k] < _STILL_UDEG or 3 * idle > apart or self._row[k] == _RUNS:
            return _RUNS
        if abs(came) < abs(went) // 4:
            return _I["drive_stalled"]
        # as far the other way; one that stands still since it was last held against the count went less
        if (came > 0) != (went > 0) and 2 * abs(came) > abs(went) and abs(went) < 170_000_000:
            return _I["drive_backwards"]
        return _OFF
