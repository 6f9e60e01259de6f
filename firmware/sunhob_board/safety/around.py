"""What goes on around the dish: wind, a base that was moved, supply, heat in the box, panel.

Units: m/s, V, degC, micro-degrees, ms. judge() puts the rows of declared/interlocks.py that are bad now.
"""

from ..declared import interlocks as table

_I = table.INDEX
_CALM = 0.75  # of the gust that trips: below it, it counts as calm
_RECOVERED = 1.04  # of the low supply
_COOLED_K = 5.0
_SILENT_MS = 2_000


class Around:
    """lean_set: lean of the base [udeg east, north] when north was set, or at the start; None: not known."""

    def __init__(self, s, locks):
        self.s = s
        self.locks = locks
        self.lean_set = None

    def judge(self, extras, panel):
        s, put = self.s, self.locks.put
        if extras.board.wind is not None:
            self._wind(extras)
        if extras.board.tilt is not None:
            self._base(extras)
        if extras.supply_v is not None:
            limit = s.interlock_supply_low_v
            if self.locks.is_tripped(_I["supply_low"]):
                limit *= _RECOVERED
            if extras.supply_v < limit:
                put(_I["supply_low"], int(extras.supply_v * 1000))
        if extras.board_c is not None:
            limit = s.interlock_board_hot_c
            if self.locks.is_tripped(_I["board_hot"]):
                limit -= _COOLED_K
            if extras.board_c > limit:
                put(_I["board_hot"], int(extras.board_c * 1000))
        if panel.knob.noisy:
            put(_I["knob_noisy"])
        if panel.stuck:
            put(_I["button_stuck"], panel.stuck)

    def _wind(self, extras):
        row = _I["wind"]
        limit = self.s.interlock_wind_m_s
        if self.locks.is_tripped(row):
            limit *= _CALM
        if extras.gust_m_s is not None and extras.gust_m_s > limit:
            self.locks.put(row, int(extras.gust_m_s * 10))
        if extras.silent_ms.wind > _SILENT_MS:
            self.locks.put(_I["wind_sensor"])

    def _base(self, extras):
        if extras.silent_ms.tilt > _SILENT_MS:
            self.locks.put(_I["base_sensor"])
            return
        lean = extras.lean
        if lean is None:
            return
        if self.lean_set is None:
            self.set_here(lean)
        off = max(abs(lean[0] - self.lean_set[0]), abs(lean[1] - self.lean_set[1]))
        if off > self.s.interlock_base_moved_deg * 1_000_000:
            self.locks.put(_I["base_moved"], off // 1000)

    def set_here(self, lean):
        """The base stands as it should now."""
        self.lean_set = None if lean is None else (lean[0], lean[1])
