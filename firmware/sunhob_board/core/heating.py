"""The heat table on the board, the aims made from it, and the heat where the axes stand.

Units: ms, W, W/m2, permille of what a dish dead on the sun would give now.
"""

from ..heat.aims import Aims
from ..heat.table import CODES, HeatTable, HeatTableError

_ESTIMATE_MS = 1_000


class Heating:
    """aims: None without a good table; trouble tells why, code is then its row in CODES from 1."""

    def __init__(self, folder, s):
        self.trouble = ""
        self.code = 0
        self.table = None
        self.aims = None
        self.permille = 0
        self.heat_w = self.full_w = 0.0
        self._since = _ESTIMATE_MS
        data = b""
        try:
            with open(folder + "heat.tab", "rb") as f:
                data = f.read()
        except OSError:
            pass
        try:
            self.table = HeatTable(data, s.optics_fingerprint)
        except HeatTableError as err:
            self.trouble = err.args[1]
            self.code = CODES.index(err.args[0]) + 1

    def wire(self, s, sun, mount):
        """Make the aims of this sun and mount."""
        if self.table is not None:
            self.aims = Aims(self.table, sun, mount, s)

    def tick(self, dt_ms, sun_ok, dial, beam_w_m2):
        """A bounded piece of work under a known sun; True if the dial now wants another heat."""
        if self.aims is None or not sun_ok or self.aims.sun.u <= 0.0:
            self.permille = 0
            self.heat_w = self.full_w = 0.0
            return False
        self.aims.step(max(dial.permille, dial.least))
        self._since += dt_ms
        if self._since < _ESTIMATE_MS:
            return False
        passed, self._since = self._since, 0
        self.aims.estimate()
        self.permille = self.aims.permille_now
        self.heat_w = self.aims.heat_w(beam_w_m2)
        self.full_w = self.aims.full_w(beam_w_m2)
        return dial.tick(passed, self.full_w, self.aims.full_w(1000.0), beam_w_m2)
