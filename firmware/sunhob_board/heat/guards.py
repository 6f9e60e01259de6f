"""What the pot itself forbids: scorch, dry, too hot, missing or lifted, and probes not to be believed.

Units: milli-degC, mK, W, ms. judge() puts the interlock rows that are bad now; how long each must last, and
what it does, stands in declared/interlocks.py.
"""

from ..declared import interlocks as table
from ..declared import modes
from ..drivers.thermocouple_max31855 import OK, OPEN
from .boil import boil_mc

_I = table.INDEX
_ON_SUN = (modes.COMING, modes.COOKING)
_LEAST_SCORCH_MK = 25_000  # below this difference nothing burns on, whatever the watts
_SCORCH_FROM_MC = 115_000  # starch and sugar brown above this: common practice, no source
_WARM_MS = 90_000  # the shell gives its heat to the food over this time
_NEAR_BOIL_MK = 2_500
_BOILED_MS = 120_000  # so long at boiling: there was water in it
_COOLED_MK = 15_000
_ABOVE_BOIL_MK = 6_000
_AHEAD_S = 6  # warning and the way off the pot take about so long
_COOL_MK = 15_000
_TOGETHER_MS = 10_000  # switch and plug open within this of each other: somebody lifted the pot
_FLOWS_W = 100
_SAME_MS = 4_000
_SILENT_MS = 2_000
_LONG_MS = 1 << 28


class Guards:
    """judge(...) puts the pot's rows into the interlocks."""

    def __init__(self, s, locks):
        self.s = s
        self.locks = locks
        self.boil_mc = boil_mc(s.site_pressure_pa)
        self._hot_mc = int(s.interlock_pot_hot_c * 1000)
        self._uk_per_w = int(s.interlock_scorch_k_per_w * 1_000_000)
        self._warm_w = 0
        self._boil_ms = 0
        self._gone_ms = 0
        self._open_ms = 0

    def judge(self, dt_ms, mode, pot_seen, sensors, heat_w):
        """heat_w: heat on the pot by the table and the beam [W]."""
        contents, under = sensors.contents, sensors.underside
        heat_w = int(heat_w)
        self._pot(dt_ms, mode, pot_seen, contents)
        self._probes(contents, under, pot_seen, heat_w)
        if sensors.light.silent_ms > _SILENT_MS:
            self.locks.put(_I["light_sensor"])
        self._warm(dt_ms, heat_w)
        in_food = contents.mc if contents is not None else None
        below = under.mc if under is not None else None
        self._hot(contents, under)
        if in_food is not None:
            self._boiling(dt_ms, in_food)
            if mode in _ON_SUN:
                self._burning(in_food, below)

    def _pot(self, dt_ms, mode, pot_seen, contents):
        unplugged = contents is not None and contents.fault == OPEN
        self._open_ms = min(self._open_ms + dt_ms, _LONG_MS) if unplugged else 0
        if pot_seen:
            self._gone_ms = 0
            return
        self._gone_ms = min(self._gone_ms + dt_ms, _LONG_MS)
        lifted = unplugged and abs(self._open_ms - self._gone_ms) <= _TOGETHER_MS
        if mode == modes.RESTING or (mode in _ON_SUN and lifted):
            self.locks.put(_I["pot_lifted"])
        else:
            self.locks.put(_I["pot_missing" if mode in _ON_SUN else "pot_absent"])

    def _probes(self, contents, under, pot_seen, heat_w):
        for probe, row in ((contents, _I["probe_contents"]), (under, _I["probe_underside"])):
            if probe is None:
                continue
            if probe.fault != OK and pot_seen:
                self.locks.put(row, probe.fault)
            if probe.same_ms > _SAME_MS and heat_w > _FLOWS_W:
                self.locks.put(_I["probe_stuck"], 0 if probe is contents else 1)

    def _warm(self, dt_ms, heat_w):
        """The heat the pot still feels: up at once, down as the shell cools. So neither a cloud, after which
        the underside stays warm, nor the sun's return, after which it jumps, looks like a scorch."""
        if heat_w >= self._warm_w:
            self._warm_w = heat_w
        else:
            step = (self._warm_w - heat_w) * min(dt_ms, _WARM_MS)
            self._warm_w -= min(self._warm_w - heat_w, max(1, step // _WARM_MS))

    def _hot(self, contents, under):
        row = _I["pot_hot"]
        limit = self._hot_mc - (_COOL_MK if self.locks.is_tripped(row) else 0)
        for probe in (under, contents):
            if probe is not None and probe.mc is not None:
                if probe.mc + max(0, probe.rise_mk_s) * _AHEAD_S > limit:
                    self.locks.put(row, probe.mc)
                    return

    def _boiling(self, dt_ms, in_food):
        off = in_food - self.boil_mc
        if off < -_COOLED_MK:
            self._boil_ms = 0
        elif abs(off) < _NEAR_BOIL_MK:
            self._boil_ms = min(self._boil_ms + dt_ms, _LONG_MS)

    def _burning(self, in_food, below):
        limit = max(_LEAST_SCORCH_MK, self._uk_per_w * self._warm_w // 1000)
        over = 0 if below is None else below - in_food
        if self._boil_ms >= _BOILED_MS and (in_food > self.boil_mc + _ABOVE_BOIL_MK or over > 2 * limit):
            self.locks.put(_I["dry_pot"], in_food)
        if self.locks.is_tripped(_I["scorch"]):
            limit = limit * 4 // 5
        if below is not None and below > _SCORCH_FROM_MC and over > limit:
            self.locks.put(_I["scorch"], over)
            self.locks.put(_I["scorch_stays"], over)
