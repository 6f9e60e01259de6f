"""The two axes together: straight moves, legs one after another, finding home.

Units: axis readings in micro-degrees, ms, permille of full speed.
"""

from ..core.ticks import add
from .axis import STRAYED
from .homing import Homing

_SWING_UDEG = 90000000
_UPRIGHT_UDEG = 90000000
_CLOSE_UDEG = 3000000
_LEAST = 100  # permille: an axis that has hardly any way may still have play to take up


class Mount:
    """axes: two Axis; geometry: Geometry; homing: the search for home. tick() every 100 ms while moving."""

    def __init__(self, axes, geometry):
        self.axes = axes
        self.geometry = geometry
        self.legs = []
        self.late = False  # the loop was late: longer words are queued, counts run seconds ahead of a move
        self.now_ms = 0
        self.homing = Homing(axes)
        self._pair = [0, 0]
        self.stretch = [1.0, 1.0]  # of every way, for an axis that turns less far than it is driven
        self.goals = [0, 0]  # where the leg under way is to end [udeg]

    @property
    def moving(self):
        return self.axes[0].moving or self.axes[1].moving or len(self.legs) > 0

    @property
    def placed(self):
        """Whether both axes know where they stand."""
        return self.axes[0].placed and self.axes[1].placed

    @property
    def measured(self):
        """Whether pulses tell where an axis stands."""
        return self.axes[0].measured or self.axes[1].measured

    @property
    def fault(self):
        """What a drive that tells its motion has shown last; 0: nothing."""
        one, two = self.axes
        return one.fault or two.fault or int(one.by_time or two.by_time)

    @property
    def fails(self):
        """The axis, 1 or 2, that has just shown that it does not turn as it is driven; 0: none."""
        for n in (1, 2):
            axis = self.axes[n - 1]
            if axis.fault not in (0, STRAYED) and not axis.by_time:
                return n
        return 0

    def by_pulses(self):
        """What a drive has shown is past: the next move tells."""
        for axis in self.axes:
            axis.by_time = False
            axis.fault = 0

    def axes_udeg(self, out):
        """Fill out with both readings [udeg]."""
        out[0] = self.axes[0].position_udeg
        out[1] = self.axes[1].position_udeg

    def here_udeg(self, out):
        """Fill out with where both axes were at the last tick [udeg], what is queued counted back."""
        out[0] = self.axes[0].here_udeg(self.now_ms)
        out[1] = self.axes[1].here_udeg(self.now_ms)

    def enu(self, out):
        """Fill out with the direction aimed at, east, north, up."""
        self.geometry.enu_from_axes(self.axes[0].position_udeg, self.axes[1].position_udeg, out)

    def set_position(self, a1_udeg, a2_udeg):
        """Take both readings [udeg] as true, at rest."""
        self.axes[0].set_position(a1_udeg)
        self.axes[1].set_position(a2_udeg)
        self._refresh()

    def move_to(self, a1_udeg, a2_udeg):
        """Straight move, both axes ending together; False if one is unplaced or the travel ends before."""
        one, two = self.axes
        if not (one.placed and two.placed):
            return False
        self.goals[0], self.goals[1] = a1_udeg, a2_udeg
        a1_udeg = self._stretched(0, a1_udeg)
        a2_udeg = self._stretched(1, a2_udeg)
        p1, p2 = self.permille(one.position_udeg, two.position_udeg, one.clamp(a1_udeg), two.clamp(a2_udeg))
        for axis in self.axes:
            axis.wide = getattr(axis.drive, "wide", 1) if self.late else 1
        ok = one.move_to(a1_udeg, p1)
        return two.move_to(a2_udeg, p2) and ok

    def _stretched(self, k, to):
        """How far axis k + 1 is driven, to end there [udeg]."""
        by = self.stretch[k]
        here = self.axes[k].position_udeg
        return to if by == 1.0 else here + int((to - here) * by)

    def permille(self, from1, from2, to1, to2):
        """Shares of full speed at which both axes take the same time over a straight move [udeg]."""
        t1 = self.axes[0].way_ms(from1, to1)
        t2 = self.axes[1].way_ms(from2, to2)
        if t1 > t2:
            return 1000, max(_LEAST, -(-t2 * 1000 // t1))
        return max(_LEAST, -(-t1 * 1000 // t2)) if t2 else 1000, 1000

    def swings(self, e, n, u):
        """Whether axis 1 turns far for this direction, which is so near to where it points itself that the
        dish hardly moves; from one end of its travel to the other it carries it through the sky."""
        return self._swung(e, n, u) and abs(self.axes[1].position_udeg - _UPRIGHT_UDEG) < _CLOSE_UDEG

    def _swung(self, e, n, u):
        """Readings of a direction, into _pair; whether axis 1 turns far for them, None: out of reach."""
        self._refresh()
        if not self.geometry.axes_from_enu(e, n, u, self._pair):
            return None
        return abs(self._pair[0] - self.axes[0].position_udeg) > _SWING_UDEG

    def aim(self, e, n, u):
        """Move straight to the direction; False if the mount cannot reach it, or only by a swing."""
        return self._swung(e, n, u) is False and self.move_to(self._pair[0], self._pair[1])

    def jog(self, axis, rate_percent):
        """Run axis 1 or 2 towards the end of its travel at so much of full speed; 0 stops it."""
        a = self.axes[axis - 1]
        if rate_percent == 0:
            a.stop()
            return True
        end = a.high_udeg if rate_percent > 0 else a.low_udeg
        if a.moving and a.target_udeg == end:
            return True
        return a.move_to(end, max(1, min(1000, abs(rate_percent) * 10)))

    def follow(self, legs):
        """Go through a list of (axis 1, axis 2) readings [udeg], each a straight move."""
        self.legs = list(legs)
        if self.legs and not (self.axes[0].moving or self.axes[1].moving):
            self._next_leg()

    def _next_leg(self):
        a1, a2 = self.legs.pop(0)
        if not self.move_to(a1, a2) and not self.placed:
            self.legs = []

    def tick(self, now_ms):
        """Feed both drives; start the next leg when both rest. At rest, watch that they do."""
        self.now_ms = now_ms
        one, two = self.axes
        if not (one.moving or two.moving or self.legs):
            one.rest(now_ms)
            two.rest(now_ms)
            return
        one.tick(now_ms)
        two.tick(now_ms)
        if self.fails:
            self.legs = []
        while self.legs and not (one.moving or two.moving):
            self._next_leg()
            one.tick(now_ms)
            two.tick(now_ms)
        self._refresh()

    def _refresh(self):
        self.axes_udeg(self.geometry.near)

    def stop(self):
        """Slow both axes down to rest and forget the legs left."""
        self.legs = []
        self.axes[0].stop()
        self.axes[1].stop()

    def trust(self):
        """Move by the counts as they are, though they may be some degrees wrong; home is found afterwards."""
        self.axes[0].placed = self.axes[1].placed = True
        self._refresh()

    def halt(self, since_ms=0):
        """Power cut, so long after the last tick [ms]: send nothing more."""
        self.legs = []
        self.homing.done = True
        now = add(self.now_ms, since_ms)
        self.axes[0].halt(now)
        self.axes[1].halt(now)

    # --- home -------------------------------------------------------------------------------------

    def home_start(self, order=(1, 2), within=0, together=False):
        """Begin to find the home flags, both at once or one axis after the other; within [udeg] of home by
        the counts."""
        self.stop()
        self.homing.start([n for n in order if self.axes[n - 1].homes], within, together)

    def home_tick(self, flags):
        """Every 100 ms with bit 0 for the flag of axis 1, bit 1 for axis 2; True when all are found."""
        return self.homing.tick(flags, self.now_ms)
