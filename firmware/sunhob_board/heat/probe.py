"""A temperature probe behind its converter: what it says, and whether to believe it.

Units: milli-degC, mK/s, ms. Integers throughout.
"""

from ..drivers.thermocouple_max31855 import OK, OUTSIDE

LOW_MC, HIGH_MC = -30_000, 480_000
_JUMP_MC_S = 25_000  # food and pot cannot warm or cool faster than this between two reads
_JUMPS = 3  # so many wild reads in a row are taken for true
_GRACE_MS = 3_000  # a reading is held over a fault for so long
_RISE_MS = 10_000


class Probe:
    """mc: filtered reading, None where there is none to believe. fault: row of the driver's FAULTS.

    same_ms: how long every frame has been the very same. rise_mk_s: rise of the reading [mK/s].
    chip: read() gives a fault and sets mc and frame.
    """

    def __init__(self, chip):
        self.chip = chip
        self.mc = None
        self.fault = OK
        self.same_ms = 0
        self.rise_mk_s = 0
        self._frame = bytearray(4)
        self._wild = 0
        self._bad_ms = 0
        self._from_mc = 0
        self._rise_ms = 0

    def read(self, dt_ms):
        """Read the chip once; dt_ms: since the last read."""
        chip = self.chip
        self.fault = chip.read()
        if self.fault == OK and not LOW_MC <= chip.mc <= HIGH_MC:
            self.fault = OUTSIDE
        if self.fault != OK:
            self.same_ms = 0
            self._bad_ms += dt_ms
            if self._bad_ms > _GRACE_MS:
                self.mc = None
                self.rise_mk_s = 0
            return
        self._bad_ms = 0
        self._compare(chip.frame, dt_ms)
        self._take(chip.mc, dt_ms)

    def _compare(self, frame, dt_ms):
        if frame == self._frame:
            self.same_ms = min(self.same_ms + dt_ms, 1 << 28)
            return
        self.same_ms = 0
        self._frame[:] = frame

    def _take(self, mc, dt_ms):
        if self.mc is None:
            self.mc = self._from_mc = mc
            self._rise_ms = self._wild = 0
            return
        if abs(mc - self.mc) > max(8_000, _JUMP_MC_S * min(dt_ms, 10_000) // 1000) and self._wild < _JUMPS:
            self._wild += 1
            return
        if self._wild >= _JUMPS:
            self.mc = self._from_mc = mc
        self._wild = 0
        self.mc += (mc - self.mc) // 2
        self._rise_ms += dt_ms
        if self._rise_ms >= _RISE_MS:
            self.rise_mk_s = (self.mc - self._from_mc) * 10 // (self._rise_ms // 100)
            self._from_mc = self.mc
            self._rise_ms = 0
