"""Every condition into its row of the interlock table, and the counts against all that sees the dish.

Units: ms. Part of the app, whose state it works on.
"""

from ..declared import interlocks as table
from ..declared import modes
from . import panel as keys
from .whereabouts import BRIGHT, BY_SUN, FLAG1

_BEEP_EVERY = 5
_DOUBTED = table.INDEX["place_doubt"]
_SEASON_OFF = table.INDEX["season_off"]
_LATE = table.INDEX["loop_late"]


class Judging:
    """What the controller obeys in the same tick."""

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
            # nor a dish at rest whose season is not set: somebody may be at the screw
            deaf = self.mount.moving and (self.locks.is_tripped(_LATE) or (
                c.homing_needed and not self.conditions.doubt) or (
                watch.place_check is not None and watch.place_check.agrees))
            deaf = deaf or c.led == 3 or (c.mode == modes.PARKED and self.locks.is_tripped(_SEASON_OFF))
            if not (c.dead or deaf or c.lent_ms > 0) and watch.sun_speaks(c.homing_needed):
                slipped = sight.slipped
                c.doubt(BY_SUN, sight.apart_udeg, sight.row, sight.axis)
                if slipped:  # so far off the sun its place is not told well: the flags tell it
                    watch.believes = False
        if c.homing_needed or c.mode in (modes.BY_HAND, modes.LOCKED):
            self.whereabouts.forget()
            return
        if watch.place_check is not None and watch.place_check.doubts(c):
            return
        sun = self.sun if self.sun_ok else None
        odd = sight is not None and sight.odd and not self.mount.moving
        why = self.whereabouts.tick(dt, sun, self.sensors.beam_w_m2, self.sensors.open_w_m2,
                                    self.clear_w_m2, self.panel.held // keys.HOME1, odd)
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
