"""The heat dial: what the cook asks for, in percent of full heat or in watts.

Units: heat in permille of what a dish dead on the sun would give now, W, ms, W/m2. Asked less
than the least heat, the dish shall not dwell near the sun at all: permille is then 0.
"""

PERCENT = 0  # of full heat; the value is in permille
WATTS = 1  # the value is in W
KINDS = ("percent", "watts")
SCALE = (10, 1)  # of the value, to what the cook says

_EVERY_MS = 20_000  # watts follow the beam no oftener
_STEP = 20  # and by no less than this, in permille
_WEAK_W_M2 = 100.0  # below this the beam says nothing of full heat


class Dial:
    """kind and value as asked; permille: heat to hold now, 0 to leave the sun."""

    def __init__(self, least_permille):
        self.least = least_permille
        self.kind = PERCENT
        self.value = 0
        self.permille = 0
        self._since_ms = 0

    @property
    def asked(self):
        """What was asked, in the unit of its kind: percent, W."""
        return self.value / SCALE[self.kind]

    def ask(self, kind, value):
        """The cook's wish; True if it is another than before. WATTS begins at the heat held now."""
        if kind == self.kind and value == self.value:
            return False
        self.kind = kind
        self.value = value
        self._since_ms = _EVERY_MS
        if kind == PERCENT:
            value = max(0, min(1000, value))
            self.permille = value if value >= self.least else 0
        elif value <= 0:
            self.permille = 0
        else:
            self.permille = max(self.least, self.permille)
        return True

    def tick(self, dt_ms, full_w, beam_w_m2):
        """Follow the beam; full_w: heat a dish dead on the sun would give now. True if permille moved."""
        if self.permille == 0 or self.kind == PERCENT:
            return False
        self._since_ms += dt_ms
        if self._since_ms < _EVERY_MS or beam_w_m2 < _WEAK_W_M2 or full_w <= 0.0:
            return False
        self._since_ms = 0
        want = max(self.least, int(min(1000.0, self.value * 1000.0 / full_w)))
        if abs(want - self.permille) < _STEP and not (want in (self.least, 1000) and want != self.permille):
            return False
        self.permille = want
        return True
