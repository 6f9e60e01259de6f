"""When the counts are wrong: leave by what sees the axes, with the axis that still turns, or tell how long.

Units: ms, micro-degrees. Part of the controller, whose state it works on.
"""

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..mount.axis import BLOCKED, RUNAWAY, STALLED, WRONG_WAY
from ..sun.table import fold_udeg
from .find_home import FLAGS_WITHIN_UDEG
from .park import POLE
from .phases import BRAKING, MOVING, REST, WARNING
from .whereabouts import BRIGHT, BY_DRIVE, BY_ENCODER, BY_SUN, FLAG1, FLAG2

_C = ev.CODES
_I = table.INDEX
_BACKWARDS = _I["drive_backwards"]
_OFF = _I["position_off"]
_STALLED = _I["drive_stalled"]
_RUNS = _I["drive_runaway"]
_LAME = (_STALLED, _BACKWARDS)
_AGAIN = 8
_NO_MORE = 2  # moves towards the same place, of which nothing is seen
_LEAST_SHARE = 0.35
_OFTEN = 30  # times an axis that loses steps is driven on
INSISTS = 2  # the cook at the dish asks for it
_TRIES = -1  # of what is made of a dead axis: the other one is taken for dead, to see whether it turns again
TURN_UDEG = 360_000_000
_OVER_UDEG = 8_000_000
TURNS_UDEG = 10_000_000
_CREEPS_UDEG = 3_000_000
_SLIGHT_UDEG = 10_000_000
_SEEN_UDEG = 1_000_000
_STRAYED_UDEG = 3_000_000
_SMALL_UDEG = 2_500_000  # so much beside the pole is as good
_STRAYS_UDEG = 300_000
_PAST_UDEG = 8_000_000
TRY_MS = 5_000  # so long it rests in sight of the sun before it goes on leaving, each time twice as long
_TRY_MOST_MS = 120_000
SETTLED_MS = 10_000  # at rest so long, what the last move did wrong has been seen
_SHORT_UDEG = 2_000_000  # of the end of its travel an axis stops that runs towards it
_FLAG_WITHIN_UDEG = 20000000  # the same, where a flag alone speaks against them


class Recovery:
    """doubt() begins it; it ends at rest, at home, or locked with the alarm on."""

    def doubt(self, why, away_udeg, row=-1, axis=0):
        """Sun, light, flags or encoders speak against the counts: leave, and look for the flags. row: of the
        interlock that says more, and of which axis."""
        if not self.chain_closed or self.mode in (modes.LOCKED, modes.BY_HAND):
            return
        lame = axis if row in _LAME else 0
        if self.homing_needed:
            if self.mode != modes.LEAVING or self.dead:
                return
            if self.phase == MOVING:
                if lame:
                    self.lame(lame, row)
                else:
                    self.goes_again()
            elif axis not in (lame, self.astray) and self.phase in (WARNING, BRAKING):
                self.astray = axis
                self._begin(modes.LEAVING, 0)
            return
        self.cond.doubt = why
        check = self.watch.place_check
        if check is not None and _RUNS in check.bad:  # whoever speaks first
            row, axis = _RUNS, check.bad.index(_RUNS) + 1
        # Parked, its motors are without power; aside, none turns so fast that a reading jumps: it is wrong.
        stays = self.mode == modes.PARKED or (row == _OFF and modes.ASIDE in (self.mode, self._was))
        if stays and self.rests_ms >= SETTLED_MS and why != BY_SUN and (why != BRIGHT or self.borne):
            self.cond.blamed |= 1 << why
            return
        # On the way to the sun, sensor or axis wrong: going back by the counts ends where it had rested.
        back = modes.COMING in (self.mode, self._was) and why != BY_SUN and row != _RUNS and (
            why != BY_ENCODER or row == _STALLED)  # one that turns is right
        self._within = _FLAG_WITHIN_UDEG if why in (FLAG1, FLAG2) else FLAGS_WITHIN_UDEG
        self.emit(_C["doubt"], why, away_udeg // 1000)
        self._upheld = check is not None and check.agrees
        self.homing_needed = self.rough = True
        self.on_sun = True
        self.resume = False
        self.dead = self._slow = self._went = 0
        self.seen = False
        self.led = self._stuck = 0
        self.astray = axis if row == _RUNS else 0
        self._again = 0
        self.lied = 2 if back else 0
        self.next_try_ms = self.try_ms = TRY_MS
        self._shift[0] = self._shift[1] = 0
        self.watch.believes = True
        moving = self.phase == MOVING  # and was warned of
        if lame and (not back or row == _BACKWARDS):
            self.lame(lame, row)
        # a leave under way goes on, and homes then: but on the sun it may soon be seen which axis stands
        elif not moving or self.mode != modes.LEAVING or why == BY_ENCODER or (
                why == BRIGHT and self.watch.sight and not self.watch.sees):
            self._begin(modes.LEAVING, int(not moving))

    def lame(self, axis, row):
        """This axis does not turn as it is driven: leave, its sense turned round, by time where its pulses
        told otherwise, or with the other one."""
        lame = self.mount.axes[axis - 1]
        sight = self.watch.sight
        if self.led and sight:
            sight.forget()
        share = sight.share if sight and sight.row == row else 0.0
        if row == _BACKWARDS and self._again < _AGAIN and axis != self._slow:
            self._again += 1
            self._turn = axis
            self._from = sight.start[axis - 1] if sight and sight.row == row and sight.start else None
        elif row == _STALLED and not lame.measured and self._again < _OFTEN and (
                axis == self._slow or share > _LEAST_SHARE):
            if axis != self._slow:
                self._slow, self._share = axis, 1.0
                self._at = lame.position_udeg  # it brakes yet: what came before is not counted anew
            self._share *= max(share, _LEAST_SHARE)
            self._again += 1
        elif row == _STALLED and lame.measured and not lame.by_time and self._again < _AGAIN:
            self._again += 1
            lame.by_time = not self.mount.axes[2 - axis].by_time  # else that one is counted wrong
            self.cond.doubt = BY_DRIVE
        else:
            self.dead = axis
            self.astray = self._went = 0
            self._stuck = row == _STALLED and not lame.by_time
            if self.watch.sees and sight.start and not sight.kept >> axis - 1 & 1:
                self._gets_on(sight.alone(axis - 1), sight.start[axis - 1])
        self._begin(modes.LEAVING, int(self.phase != MOVING))  # a move was warned of

    def _gets_on(self, at, began):
        """Seen to have crept, though less far than it was driven, a dead axis is driven again at once."""
        if at is not None and abs(at - began) > _CREEPS_UDEG:
            self.next_try_ms = self.try_ms = 1

    def _turned(self, n):
        """By how much an axis taken for dead is seen to have turned since it stood [udeg]."""
        at = self.watch.sight.alone(n - 1) if self.watch.sees and self.watch.fresh else None
        return 0 if at is None else at - self.sun_axes[n - 1]

    def _strays(self, dt_ms):
        """An axis that turns by itself while it has power is counted on, and stops short of its end; one that
        turns less far than it is driven is counted so."""
        n = self.astray or self._slow
        axis = self.mount.axes[n - 1]
        by = 0
        sight = self.watch.sight
        if sight and not axis.measured:
            if not self.astray:
                by = int((self._share - 1.0) * (axis.position_udeg - self._at))
            else:
                off = axis.home_udeg - axis.position_udeg
                at = self.watch.encoder(self.astray)
                if at is not None:
                    if self.watch.told & self.astray:
                        by = at - axis.position_udeg
                        sight.rate += by // 8
                elif abs(off) < _PAST_UDEG and (off < 0) == bool(self._flags >> self.astray - 1 & 1):
                    by = off  # it passes home as its flag changes
                elif self.watch.sees and self.watch.fresh and sight.tells(1):
                    by = sight.nearer(self.astray - 1, _STRAYS_UDEG)
                    sight.rate += by // 4
                by += sight.rate * dt_ms // 1000
        if by:  # a pulse axis would take any shift for its home, found again
            self._strayed += by
            axis.shift(by)
            ahead = axis.position_udeg + (_SHORT_UDEG if by > 0 else -_SHORT_UDEG)
            runs = not axis.moving or (axis.target_udeg - axis.position_udeg) * by >= 0
            if axis.clamp(ahead) != ahead and runs:
                if self.mount.axes[2 - n].moving:  # it is held off its end while that one goes on
                    axis.move_to(2 * axis.position_udeg - ahead)
                else:
                    self.mount.stop()
        self._at = axis.position_udeg

    def _drive_fails(self):
        """A drive that counts its turns tells that it does not turn as driven. Where the sun sensor would see
        an axis that does not turn, the dish leaves with both, and this one is turned by time; else with the
        other one first. Blocked one way, it may stand at its stop, counted wrong: both are tried once."""
        axis = self.mount.fails
        lame = self.mount.axes[axis - 1]
        fault = lame.fault
        lame.fault = 0
        if axis == self.astray and self._again < _AGAIN:  # against what it turns by itself
            self._again += 1
            self._begin(modes.LEAVING, 0)
            return
        again = self.cond.doubt == BY_DRIVE
        self.cond.doubt = BY_DRIVE
        self._upheld = False
        self.homing_needed = self.rough = True
        lame.by_time = fault in (STALLED, RUNAWAY)
        self._within = 0  # by time it may stand anywhere
        self.resume = False
        self._again = 0
        self.next_try_ms = self.try_ms = TRY_MS
        self.sun_axes[axis - 1] = lame.position_udeg
        self.lame(axis, _STALLED if lame.by_time else _BACKWARDS if fault == WRONG_WAY else 0)
        self._stuck = lame.by_time
        if self.watch.sees and (lame.by_time or (fault == BLOCKED and not again)):
            self.dead = 0

    def _see_where(self):
        """Take the counts from what sees the axes: their encoders, the sun sensor.
        One that went the wrong way stands as far on the other side of where it began, and is turned round."""
        turned = self._turn
        if turned:
            axis = self.mount.axes[turned - 1]
            axis.turned ^= True
            if self._from is not None:
                axis.set_position(axis.clamp(2 * self._from - axis.position_udeg))
            self._turn = 0
        check = self.watch.place_check if self.lied < 2 else None  # else it goes back by the counts
        told = check.places(self, turned) if check is not None else 0
        if told < 3:
            self._by_sight(told)
        else:
            self.seen = self.rough = True
            self.mount.trust()
            self._shift[0] = self._shift[1] = 0  # nothing that is only seen is undone then
        self.led = told | check.notes() if check is not None else 0

    def _by_sight(self, told):
        """Take the counts from the sun that is seen. told: bits of the axes whose counts are right."""
        sight = self.watch.sight
        if not self.watch.sees:
            return
        self.seen = self.rough = True
        self.mount.trust()
        sight.off_then = 0
        suspect = 3 - told if told else 3 - self.dead if self.dead and self._stuck < 0 else self.dead
        at = sight.alone(suspect - 1) if suspect else None
        if at is not None:  # of the other one the count is right
            k = suspect - 1  # seen from near where it stands, a trial tells which way it turned
            if (at - self.sun_axes[k]) * self._went < -_SEEN_UDEG:
                self.mount.axes[k].turned ^= True
            self._went = 0
            self._stands(k, at)
        if at is not None or self._stuck < 0:  # where only a dead axis is tried, whatever is seen badly
            return
        if self._upheld and sight.apart_udeg < _SMALL_UDEG:  # the sensor errs, or the base has hardly turned
            return
        fine = self.watch.place_check is not None and not self.dead  # one creeps: it tells that finest
        for k in (0, 1):
            if sight.strays or (fine and sight.tells(k)):
                self._stands(k, sight.axes[k])

    def _stands(self, k, at):
        """Axis k + 1 is seen to stand there [udeg]."""
        axis = self.mount.axes[k]
        if at < axis.low_udeg - _OVER_UDEG:  # the turn nearest to a wrong count
            at += TURN_UDEG
        elif at > axis.high_udeg + _OVER_UDEG:
            at -= TURN_UDEG
        self._shift[k] -= axis.position_udeg
        axis.set_position(axis.clamp(at))
        self.sun_axes[k] = axis.position_udeg
        self._shift[k] += axis.position_udeg
        if k + 1 == self._slow:
            self._at = axis.position_udeg

    def _by_counts(self):
        """From where the dish is seen to stand no way leads off the sun: go by its counts, as they had been,
        and look for the flags."""
        if self.seen and (self._shift[0] or self._shift[1]):
            self.watch.believes = False
            if self.watch.place_check is not None:
                self.watch.place_check.anew()
            for k in (0, 1):
                axis = self.mount.axes[k]
                axis.set_position(axis.clamp(axis.position_udeg - self._shift[k]))
                self._shift[k] = 0

    def _doubts_sight(self):
        """Seen a few degrees off its counts, ahead of the sun: by the counts it crosses the pot at worst, and
        comes out behind. Where the pole is no clear place its flags are not looked for."""
        sight = self.watch.sight
        if self.cond.doubt != BY_SUN or not self.seen or self.astray or self._again or (
                sight.apart_udeg > _SLIGHT_UDEG or not (self._shift[0] or self._shift[1])):
            return  # or its counts were not changed: there is nothing to go back to
        v = self._vec
        self.mount.enu(v)
        self.sun.dec_ha_from_enu(v[0], v[1], v[2], self._axes)
        if fold_udeg(self._axes[1] - self.sun.ha_udeg) > 0:
            self._by_counts()
            self.seen = False
            if self.rest.which != POLE:
                self.lied = 2

    def _maybe_again(self, dt_ms):
        """It rests where doubted counts led it, and sees the sun: the light is loose. It goes on leaving with
        whatever turns by now, a dead axis alone, for that may pass; not after the stop chain, when a person
        must ask for it. So it does, too, once a better place is open."""
        watch, rest = self.watch, self.rest
        rests = self.cond.doubt and self.homing_needed and self.phase == REST and self.next_try_ms
        if rests and self.led == 3:
            self._maybe_better(dt_ms)
            return
        if not rests or watch.sight is None or not watch.sight.lit:
            return
        better = rest.moves_on()
        if watch.believes:
            better = rest.standing < 0 or watch.sight.strays or (better and not self.dead)
        if not better:
            return
        self.try_ms -= dt_ms
        if self.try_ms <= 0:
            by_counts = not watch.believes
            watch.believes = True
            self._tries_other(2)
            self._again = int(by_counts)  # then what it sees is not doubted once more

    def _maybe_better(self, dt_ms):
        """Where encoders have it the light is loose: it tries the dead axis, or goes to a better place."""
        if self.rest.moves_on() if self.dead == 0 else self.on_sun:
            self.try_ms -= dt_ms
            if self.try_ms <= 0:
                self._tries_other(2)

    def _tries_other(self, times):
        """Leave with whatever turns by now; of a dead axis that alone, to see whether it does again."""
        self.next_try_ms = self.try_ms = min(_TRY_MOST_MS, 2 * self.next_try_ms)
        self._again = 0
        if self.dead:
            self.dead = 3 - self.dead
            self._stuck = _TRIES
        self._begin(modes.LEAVING, times)

    def goes_again(self):
        """The sun is seen still, far nearer than the counts say, or an encoder has told so: go on from
        there."""
        if self.led == 3 and self.mode == modes.LEAVING:
            most = _AGAIN if self.astray else _OFTEN
            clear = self.rest.rest_udeg >= self._loose_udeg + _STRAYED_UDEG
            there = clear or not self.watch.place_check.short()
            if self._again >= most or (there and not self.mount.moving):
                return False
            self._again += 1
            self._begin(modes.LEAVING, 0)
            return True
        if self.mode != modes.LEAVING or self._again >= _AGAIN:
            return False
        seen = self.watch.sees and self.watch.sight.amiss
        if self.astray or (self._slow and (self.watch.sees or self.rest.bright)):
            seen = seen or abs(self._strayed) >= _STRAYED_UDEG
        if not seen:
            return False
        self._again += 1
        if self.astray == 0 and (self._slow or self._again == _NO_MORE):
            sight = self.watch.sight  # what is left of these moves is one axis's, and it has not turned
            by = [abs(fold_udeg(sight.axes[k] - sight.here[k])) for k in (0, 1)]
            axis = self._slow or (1 if by[0] * sight.across > by[1] else 2)
            if by[axis - 1] > _SLIGHT_UDEG:  # or it is counted as it turns
                self.dead = axis
                self._slow = 0
                self._stuck = True
        self._begin(modes.LEAVING, 0)
        return True
