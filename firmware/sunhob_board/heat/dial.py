"""The heat dial: what the cook asks for, in percent of full heat, in watts or as a pot temperature.

Units: heat in permille of what a dish dead on the sun would give now, W, 0.001 degC, ms, W/m2. Asked less
than the least heat, the dish shall not dwell near the sun at all: permille is then 0.
"""

PERCENT = 0  # of full heat; the value is in permille
WATTS = 1  # the value is in W
POT = 2  # the value is in 0.001 degC
KINDS = ("percent", "watts", "pot_c")
SCALE = (10, 1, 1000)  # of the value, to what the cook says

_EVERY_MS = 20_000  # watts follow the beam no oftener
_STEP = 20  # and by no less than this, in permille
_WEAK_W_M2 = 100.0  # below this the beam says nothing of full heat
_FADE_MS = 300_000  # a weaker beam is believed in so slowly: the edge of a cloud turns nothing up


class Dial:
    """kind and value as asked; permille: heat to hold now, 0 to leave the sun. refused: why not the last."""

    def __init__(self, least_permille, regulator, probe):
        """regulator: holds a pot temperature; probe: the one in the food, or None."""
        self.least = least_permille
        self.regulator = regulator
        self.probe = probe
        self.kind = PERCENT
        self.value = 0
        self.permille = 0
        self.blind = False  # the probe tells something, but it is not to be believed
        self.refused = ""
        self._since_ms = 0
        self._full_w = 0.0

    @property
    def asked(self):
        """What was asked, in the unit of its kind: percent, W, degC."""
        return self.value / SCALE[self.kind]

    @property
    def resting(self):
        """Whether the pot is warm enough for now: off the heat, to come back by itself."""
        return self.kind == POT and self.value > 0 and self.permille == 0

    def ask(self, kind, value):
        """The cook's wish; True if it is taken and another than before. WATTS and POT begin at the heat held
        now."""
        self.refused = ""
        if kind == self.kind and value == self.value:
            return False
        if kind == POT and value > 0:
            self.refused = self.regulator.begin(value) if self.probe is not None else (
                "pot_c: no probe stands in the food; ask in percent or watts")
            if self.refused:
                return False
        self.kind = kind
        self.value = value
        self._since_ms = _EVERY_MS
        self._full_w = 0.0
        if kind == PERCENT:
            value = max(0, min(1000, value))
            self.permille = value if value >= self.least else 0
        else:
            self.permille = max(self.least, self.permille) if value > 0 else 0
            self.regulator.permille = self.permille
        return True

    def tick(self, dt_ms, full_w, full_w_at_1000, beam_w_m2):
        """Follow the beam or the pot; full_w: heat a dish dead on the sun would give now, full_w_at_1000: and
        in 1000 W/m2. True if permille moved."""
        if self.kind == PERCENT or self.value <= 0:
            return False
        if self.kind == POT:
            mc = None if self.blind else self.probe.mc
            want = self.regulator.tick(dt_ms, mc, None, beam_w_m2, full_w_at_1000)
        else:
            want = self._for_watts(dt_ms, full_w, beam_w_m2)
        moved = want != self.permille
        self.permille = want
        return moved

    def _for_watts(self, dt_ms, full_w, beam_w_m2):
        """Full heat believed in: up with the beam at once, or the pot would get too much; down slowly."""
        self._since_ms += dt_ms
        if beam_w_m2 < _WEAK_W_M2 or full_w <= 0.0:
            return self.permille
        fade = min(dt_ms, _FADE_MS) / _FADE_MS
        self._full_w = max(full_w, self._full_w - (self._full_w - full_w) * fade)
        if self._since_ms < _EVERY_MS:
            return self.permille
        self._since_ms = 0
        want = max(self.least, int(min(1000.0, self.value * 1000.0 / self._full_w)))
        if abs(want - self.permille) < _STEP and want not in (self.least, 1000):
            return self.permille
        return want
