"""A frame of the sun-direction sensor: what of its light is the sun's, and where that is seen.

Units: W/m2, ms, shares of the beam; directions in the dish's own frame right, up, along. Sky and ground shine
on the leaning diodes unequally: their share is taken off by the open cell. Part of SunSight, whose state it
works on.
"""

import math

_LEAST_W_M2 = 200.0
_TUBE_W_M2 = 60.0
_TUBE_OFF = 0.15  # of the beam: farther off, the tube is wrong, or dirty, and tells no sky's share
_TUBE_JUMP = 0.05  # from frame to frame: then it is noisy, or at a cloud's edge
_HAZE = 0.45  # of the beam: with more light from the sky than that its share is not known well enough
_SHADED = 0.8
STILL = 0.03  # of the light
_GROUND = 0.2  # of the light, thrown back by the ground: common practice, no source
_COS_SEEN = 0.25
COS_WELL = 0.5  # 60 deg: farther off it is told by what the ground throws back, which is a guess
_AWAY = 1.732  # of the part along: with more than that to a side one diode, leaning 30 deg, has no sun
_CLEAR = 0.25  # of the beam: with no more light than that from a sky as bright as a clear one (0.7 of it) it
COS_WHOLE, _COS_EDGE = 0.9605, 0.958  # 16.2 deg: the tube sees the sun whole; 16.6 deg
_AMBIENT = 0.17  # of the open cell's light: about what sky and ground add on the diode straight out
COS_TUBE, COS_DARK = 0.974, 0.927  # 13 deg, and 22 deg: there it sees nothing of it
_PART = 0.9  # of the beam: less is not the whole sun
_LEAST_SKY = 0.03  # of the beam: no sky has less
_FALLS = 29.0  # share of its light that the tube loses for each of the cosine from 16 to 22 deg
_WAVERS = 0.00004  # share of the light in a ms: at a cloud's edge tube and open cell are read too late
_TURNS = 0.0003  # the same of `total`, as a drive that runs away at 4 deg/s changes it
_STEADY_MS = 2_000
_LATELY_MS = 600_000  # the beam was told by the tube so lately: else a bright cloud may pass for one
FROZEN = 4


def size_of(v):
    """Length of a vector of three."""
    return math.sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2])


class SightLight:
    """Whether a frame tells anything, and the direction of the sun in it."""

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
        size = size_of(got)
        z = got[2] - _AMBIENT * open_w_m2
        by_tube = beam_w_m2 > _TUBE_W_M2 and z > COS_WHOLE * size_of((got[0], got[1], z))
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
            size = size_of(seen)
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
        # from 16 to 22 deg off the tube sees a part of it
        sure = sure or (self.bright and beam_w_m2 < 0.5 * size and self._haze < _CLEAR)
        if self._moves:
            self._far = None
        else:
            self._steady_ms = 0 if wavers else self._steady_ms + dt_ms
        shaded = open_w_m2 < _SHADED * size * sun.u  # that much it must have of the sun, or one is wrong
        if abs(total - self._ref) > STILL * size:
            self._ref = total
            self._stuck = False
        self._stuck |= shaded  # it told of a sun that was not there, and has told the same since
        # nor in the ring where it sees most of one, unless it has seen it whole: then something is odd
        self.odd = (not (sure or self._stuck) and self.bright and _LEAST_SKY < self._haze < _CLEAR
                    and self._steady_ms >= _STEADY_MS and beam_w_m2 < _PART * size
                    and COS_DARK * size < seen[2] < COS_TUBE * size)
        blind = off or size < _LEAST_W_M2 or self._haze > _HAZE or not sure or self._stuck
        if blind or self._steady_ms < _STEADY_MS or self.frozen >= FROZEN:
            self.contrary_ms = 0
            return False
        for i in range(3):
            seen[i] /= size
        dark = seen[2] > COS_TUBE and beam_w_m2 < 0.5 * size
        # Seen out there by a fault, the sun lights the tube as ever; truly there, by what is left of it.
        left = 0.5 * (seen[2] + max(0.0, _FALLS * (seen[2] - COS_DARK)))
        bright = not unlit and seen[2] < _COS_EDGE and beam_w_m2 * (self._ratio or 1.0) > left * size
        if bright:  # a dark tube may be a cloud
            self.contrary_ms += dt_ms
        elif unlit:
            self.contrary_ms = 0
        self._clash = dark or bright
        self.beside = seen[2] <= _COS_SEEN
        return True

    @staticmethod
    def ought(sun, beam_w_m2, open_w_m2):
        """Whether by tube and open cell there is light enough for it to see the sun."""
        return beam_w_m2 > 1.5 * _LEAST_W_M2 and open_w_m2 - beam_w_m2 * sun.u < 0.5 * _HAZE * beam_w_m2
