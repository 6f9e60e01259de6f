"""The heat table on the board, the aims made from it, and the heat where the axes stand.

Units: ms, W, W/m2, permille of what a dish dead on the sun would give now.
"""

from ..declared import modes
from ..heat.aims import Aims
from ..heat.boil import boil_mc
from ..heat.table import CODES, HeatTable, HeatTableError

_STEP_MS, _STEP_LATE_MS = 300, 2_500
_ESTIMATE_MS = 1_000
_AT_REST_MS = 5_000  # the sun goes 0.02 deg meanwhile


class Heating:
    """aims: None without a good table; trouble tells why, code is then its row in CODES from 1."""

    def __init__(self, folder, s):
        self.trouble = ""
        self.code = 0
        self.table = None
        self.aims = None
        self.trim = None
        self.permille = 0
        self.heat_w = self.full_w = 0.0
        self._since = _ESTIMATE_MS
        self._since_step = 0
        self._since_look = _AT_REST_MS
        self._at = [0, 0]
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
            if s.heat_trim and s.probe_contents:
                from ..heat.trim import Trim

                self.trim = Trim(s, boil_mc(s.site_pressure_pa))

    def trim_tick(self, dt_ms, mode, probe, beam_w_m2, tracker):
        """Learn how far the true lag is from the one believed in; a pot that hands may have moved is new."""
        trim = self.trim
        if trim is None or self.aims is None:
            return
        if mode == modes.COOKING:
            trim.tick(dt_ms, probe.mc, self.permille, beam_w_m2, self.aims.full_w(1000.0), self.aims.lag_udeg)
        elif mode in (modes.PARKED, modes.ASIDE) and (trim.capacity or trim.lag_udeg):
            trim.begin()
        tracker.trim_udeg = trim.lag_udeg

    def look(self, dial):
        """The same work that a tick does for the aims, at one that has little else to do."""
        if self.aims is not None and self.aims.sun.u > 0.0:
            self._looks(dial, _STEP_MS)

    def _looks(self, dial, every_ms):
        """Look at a piece of a trail if due: not at the tick that estimates the heat, if it can wait."""
        if self._since_step < every_ms and self.aims.ready:
            return False
        self.aims.step(max(dial.permille, dial.least), self._since_step)
        self._since_step = 0
        return True

    def tick(self, dt_ms, sun_ok, dial, beam_w_m2):
        """A bounded piece of work under a known sun; True if the dial now wants another heat."""
        if self.aims is None or not sun_ok or self.aims.sun.u <= 0.0:
            self.permille = 0
            self.heat_w = self.full_w = 0.0
            self._since_look = _AT_REST_MS
            return False
        self._since_step += dt_ms
        self._since += dt_ms
        estimates = self._since >= _ESTIMATE_MS
        if self._looks(dial, _STEP_LATE_MS if estimates else _STEP_MS) or not estimates:
            return False
        passed, self._since = self._since, 0
        self._since_look += passed
        one, two = self.aims.mount.axes
        at1, at2 = one.position_udeg, two.position_udeg
        if self._since_look >= _AT_REST_MS or at1 != self._at[0] or at2 != self._at[1]:
            self._since_look = 0
            self._at[0], self._at[1] = at1, at2
            self.aims.estimate()
            self.permille = self.aims.permille_now
        self.heat_w = self.aims.heat_w(beam_w_m2)
        self.full_w = self.aims.full_w(beam_w_m2)
        return dial.tick(passed, self.full_w, self.aims.full_w(1000.0), beam_w_m2)
