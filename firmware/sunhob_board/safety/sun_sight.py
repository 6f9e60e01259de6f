"""The sun as seen from the dish, by the sun-direction sensor at its rim: against clock, base and counts, and
as a measure of where both axes truly stand.

Units: W/m2, micro-degrees, ms; in the dish's own frame right, up, along as one looks out along its axis. The
sensor tells the sun up to 75 deg off that axis: from 60 deg on one diode of a pair looks away from it. Sky
and ground shine on the leaning diodes unequally: their share is taken off by the open cell. The tube must not
speak against it: what shades a diode shades no tube. What a frame tells lies in sight_light, which axes it
tells in sight_axes, what it says against the counts in sight_doubt; on a board they are one class.
"""

from .sight_axes import SightAxes
from .sight_doubt import AGREES_MS, WIDE_UDEG, SightDoubt
from .sight_light import COS_DARK, COS_WELL, SightLight, size_of

_LOWEST_U = 0.1
# Farther off what it was while the sun was seen at its place, a sun seen elsewhere is not believed: the diode
# that looks straight out does not bear it out (a fault shows it 7 deg off), or the sky's share is wrong.
# One seen farther away wrongly, the light straight out as it was, would add as much more to its light:
# half of that is borne.
_TUBE_SURE = 0.007
_STILL_SURE = 0.7  # of that, once it was passed: frames waver about it
_LEARNS = 0.1  # of what is new in that
_FAR_UDEG = 12_000_000  # so much more is borne there
_OPEN = 0.7  # is the sun that it sees, not a bright cloud
_JUMPS = 0.14  # 8 deg, in radians, of a sun seen by a dish at rest farther off than it can be told well
_LIKE = 0.08  # of the light: it has not changed
_RECENT_MS = 60_000


class SunSight(SightLight, SightAxes, SightDoubt):
    """lit: whether it sees a sun that it can place; beside: farther off than it can; bright: whether the open
    cell has a clear sky's light; odd: whether it sees it beside the tube, which sees less than all of it.
    apart_udeg: between the sun seen and expected; bad_ms: for how long too much. contrary_ms: how long the
    tube has spoken against it. agrees_ms: how long it has seen the sun, at rest, where the counts have it.
    here: the counts at the last frame [udeg]. start: those where the move under way began, or None. across:
    how well axes tells axis 1, 0 to 1; below 0 until axes has been asked for."""

    def __init__(self, s, mount):
        self.mount = mount
        self.lit = self.beside = self.bright = self.odd = False
        self._axes = [0, 0]
        self.apart_udeg = self._most = 0
        self._apart_then = 0
        self.off_then = 0  # before it moved: a place that was wrong already tells of no drive
        self.contrary_ms = 0
        self.agrees_ms = 0
        self.frozen = 0
        self.kept = 0  # bits of axes of which an encoder tells whether they turn
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
        self._apart_was = 0.0  # _apart of the frame before, as a share of the light
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
        self.bright = 0.0 < _OPEN * clear_w_m2 < open_w_m2
        self.beside = self.odd = False
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
        # at rest it must be expected there as well: else what is told badly grows until it is told well
        well = seen[2] > COS_WELL and (self._moves or self._want[2] > COS_WELL)
        self._far_off(well)
        if self.beside:
            return
        self.apart_udeg = self._off()
        self.across = -1.0
        most = int((self._limit * 2 // 3 if self._trimmed else self._limit) * (1.0 + self._haze))
        if self.slipped:
            most = 0
        elif not well:
            most += _FAR_UDEG
        elif self._moves:
            most += WIDE_UDEG
        if not self._moves:
            self.off_then = self.apart_udeg
            self.agrees_ms = 0 if self.apart_udeg > most else self.agrees_ms + dt_ms * well
        self._most = most
        apart = self._apart
        if self.apart_udeg <= most:
            if not self._moves:  # in a move more is borne
                self.contrary_ms = 0
            same = abs(apart - self._apart_was) < _TUBE_SURE  # as the frame before: it stood still in both
            self._apart_was = apart
            if apart and same and not self._moves:
                self._ratio = self._ratio + _LEARNS * apart if self._ratio else 1.0 + apart
        elif self._clash:
            self.lit = False
        elif self._want[2] > COS_DARK and abs(apart) > max(  # or the tube, too
                self._borne() * _TUBE_SURE, 0.5 * (self._want[2] / seen[2] - 1.0)):
            self.contrary_ms += dt_ms
            self.lit = False

    def _borne(self):
        """How many times as much the tube may differ."""
        if self._moves or not self._ratio:
            return 3.0 if self._ratio else 4.0
        return _STILL_SURE if self.contrary_ms else 1.0

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
            jump = size_of([off[i] - far[i] for i in range(3)])
            self.slipped = jump > _JUMPS and size_of(off) > size_of(far)
        if not self.slipped:
            self._far, self._far_size, self._far_ms = off, self.size, 0

    def agreed_anew(self, new_day):
        """On the sun: whether sun, clock, base and counts have now been seen to agree for the first time of
        the day. What is apart then is the sensor's own error: from there on a third less is borne."""
        if not new_day or not self.lit or self.agrees_ms < AGREES_MS:
            return False
        for i in range(3):
            self._trim[i] += self._seen[i] - self._want[i]
        self._trimmed = True
        self._apart_then = 0  # what was apart in this frame is no more
        return True
