"""In a doubt of the counts: where the axes stand by their encoders, and what share of its way each turns.

Units: micro-degrees, shares of a way. Part of PlaceCheck, whose state it works on. Of count, encoder and sun
the one that is alone against two is wrong. Without the sun the encoder is believed: a count is only what was
asked for. Where the sun has mended the counts of a base that was pushed, an encoder tells how they change.
"""

from ..core.whereabouts import BY_ENCODER
from ..declared import interlocks as table

_I = table.INDEX
_STALLED = _I["drive_stalled"]
_BACKWARDS = _I["drive_backwards"]
_WAY_UDEG = 4_000_000  # driven so far, it is told: a reading errs by 0.6 deg, and is 0.1 s old
_STANDS, _BACK = 0.15, -0.3  # shares of its way: none, or the other way
_ALL, _LEAST = 0.8, 0.25  # so much of its way is all; for less than the least it is driven no farther
_SLIGHT_UDEG = 1_000_000  # no more than a reading errs, and a little
_FLAG_UDEG = 4_000_000  # so near its home a flag gainsays no reading
_SHORT_UDEG = 1_500_000  # of where it was sent, it goes on
_LAG_MS = 200  # a count in a move runs so far ahead of the reading
_FROZEN = 9  # readings, one each 0.3 s, that tell the very same
_FAR_UDEG = 20_000_000  # so far off what its pulses tell the way is looked for anew


class EncoderLead:
    """places() and notes() at rest, keeps() at each tick of a move."""

    def anew(self):
        """The next doubt begins with the counts as they are."""
        self._since[0] = self._since[1] = None
        self._sure = False
        self.mount.stretch[0] = self.mount.stretch[1] = 1.0

    @property
    def kept(self):
        """Bits of axes whose turning an encoder tells, or that no drive turns."""
        axes = self.mount.axes
        return sum([1 << k for k in (0, 1) if self.led(k) is not None or not axes[k].homes])

    def starts(self, c):
        """No count is known: begin by what encoders have that no flag gainsays; it is right to a few
        degrees, and the flags are looked for from there. True where it has done so."""
        if c.rough or self.kept < 3:
            return False
        at = [self.led(k) for k in (0, 1)]
        for k in (0, 1):
            axis = self.mount.axes[k]
            past = 0 if at[k] is None else at[k] - axis.home_udeg
            if abs(past) > _FLAG_UDEG and (past <= 0) != bool(c._flags >> k & 1):
                return False
        c.rough = True
        for k in (0, 1):
            if at[k] is not None:
                c._stands(k, at[k])
        return True

    def led(self, k):
        """Reading of axis k + 1 [udeg] by its encoder where that may be believed, else None. Of one that
        stands the last digit wavers; a frozen one's does not."""
        if self.blamed >> k & 1 or self.extras.silent_ms.absolute or self.extras.same[k] > _FROZEN:
            return None
        return self.reading(k, self.extras)

    def places(self, c, turned):
        """At rest: put the counts where the encoders have them. Bits of the axes that they tell; those that
        no drive turns are told, too. turned: the axis whose sense has been turned round for what one said."""
        told = 0
        for k in (0, 1):
            axis = self.mount.axes[k]
            self._raw[k] = None
            at = self.led(k)
            if at is None:
                told |= int(not axis.homes) << k
                continue
            off = at - axis.position_udeg
            if self._since[k] is None:
                if abs(off) < self._off // 2:
                    continue
                if c.watch.sees and c.watch.sight.votes(k, at) < 0:
                    self.blamed |= 1 << k
                    if c.dead == k + 1:
                        c.dead = 0
                    axis.turned ^= turned == k + 1
                    continue
                self._since[k] = 0
            off -= self._since[k]
            told |= 1 << k
            if abs(off) > _SLIGHT_UDEG:
                c._stands(k, axis.position_udeg + off)
            c.sun_axes[k] = axis.position_udeg
        # where the sun bears an encoder out, it is that axis alone which had been elsewhere
        return 3 if told and (self._sure or c.cond.doubt == BY_ENCODER) else told

    def notes(self):
        """The counts are where they are believed to be by now. Bits of the axes told from here on."""
        told = 0
        for k in (0, 1):
            axis = self.mount.axes[k]
            at = self.led(k)
            if at is not None and self._since[k] is None:
                self._since[k] = at - axis.position_udeg
            told |= int(at is not None or not axis.homes) << k
        return told

    def short(self):
        """Whether one stands elsewhere than the last move was to end."""
        for k in (0, 1):
            at = self.led(k)
            if at is not None and abs(at - (self._since[k] or 0) - self.mount.goals[k]) > _SHORT_UDEG:
                return True
        return False

    def keeps(self, c, told):
        """While it moves: count each axis as its encoder turns, and tell of one that does not turn as it is
        driven. told: bits of those that have just been read."""
        stretch = self.mount.stretch
        for k in (0, 1):
            axis = self.mount.axes[k]
            at = self.led(k) if told >> k & 1 else None
            if at is None or self._since[k] is None or (k + 1 == c.astray and not axis.measured):
                continue
            here = axis.here_udeg(self.mount.now_ms)
            at -= self._since[k]
            raw = here - self._shifted[k]
            if self._raw[k] is None:
                self._raw[k], self._was[k] = raw, at
            went = raw - self._raw[k]
            if abs(went) >= _WAY_UDEG:
                share = (at - self._was[k]) / went
                self._raw[k], self._was[k] = raw, at
                row = _BACKWARDS if share < _BACK else _STALLED if share < _STANDS else -1
                stretch[k] = 1.0 if row >= 0 or share > _ALL else 1.0 / max(share, _LEAST)
                if row >= 0:
                    self.bad[k] = row
                    c.cond.doubt = c.cond.doubt or BY_ENCODER
                    c.lame(k + 1, row)
                    return
            off = at - here
            if axis.measured and not axis.by_time:  # its pulses tell its place, until it stands
                if abs(off) > _FAR_UDEG:
                    c.goes_again()
                    return
            elif abs(off) > self._off // 2 + self._speed[k] * _LAG_MS:
                if axis.by_time:
                    axis.seen(off, 0)
                else:
                    axis.shift(off)
                self._shifted[k] += off
            past = here - self.mount.goals[k]
            if min(abs(past), abs(went)) > _SLIGHT_UDEG and past * went > 0:
                self.mount.stop()  # it turns farther than it did
