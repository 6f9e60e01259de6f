"""Corrects the dial by the pot's own warm-up: what the table believes against what the food shows.

Units: milli-degC, mK/s, mW, W, W/m2, J/K, micro-degrees, permille of full heat, ms. Integers throughout.

At full heat the heat curve is flat: a pot set down a little off, or a fifth of a degree of misalignment,
costs nothing, so the rise there tells how much heat a kelvin takes. Dialled down the same error is several
percent of full heat; the rise then, with that capacity, tells the true heat, and the curve says which lag
gives it. The difference to the lag believed in is taken off from then on. Loss of the pot enters both times
and so only in part; two windows at full heat far enough apart tell it too.
"""

_SAMPLE_MS = 2_000
_SETTLE_MS = 100_000  # shell and probe after a change of heat
_WINDOW_MS = 240_000
_FULL = 985
_SAME = 20  # the dial counts as still within this
_BEAM_SHARE = 8  # and the beam within this part of itself
_WEAK_W_M2 = 300
_RISE_MIN_MK_S = 4
_BOIL_MK = 8_000  # nearer to boiling, steam carries off more than this knows
_APART_MK = 13_000  # two windows at full heat so far apart tell loss from capacity; nearer, noise does
_LOSS_MOST = 30_000
_MOST_UDEG = 1_500_000
_AIR_MC = 25_000


def _steepened_mk(above_mk):
    """Above the air, as if the loss went straight with it: W/K are those at 60 K. Between 15 and 65 K free
    convection grows by half (power 1.25) and radiation by a quarter, both textbook."""
    return above_mk * (100 + above_mk // 1000) // 160


class Trim:
    """lag_udeg: by how much the true lag is larger than believed; take it off the lag asked for.

    capacity: of pot and food by the rise at full heat [J/K], 0 until seen. loss_mw_k: of the pot [mW/K].
    seen: windows used dialled down.
    """

    def __init__(self, s, boil_mc):
        self._loss_first = int(s.heat_loss_w_per_k * 1000)
        self._high_mc = boil_mc - _BOIL_MK
        self.begin()

    def begin(self):
        """A new meal: another pot, or the same set down anew."""
        self.lag_udeg = 0
        self.capacity = 0
        self.loss_mw_k = self._loss_first
        self.seen = 0
        self._first = None  # (full heat W, rise mK/s, above the air mK) of the first window at full heat
        self._since_ms = 0
        self._restart(0, 0)

    def _restart(self, permille, beam):
        self._permille = permille
        self._beam = beam
        self._settled_ms = 0
        self._window_ms = 0
        self._heat_j = 0  # of full heat, over the window
        self._halves = [0, 0, 0, 0]  # sum of readings and their number, in each half of the window

    def tick(self, dt_ms, contents_mc, permille, beam_w_m2, full_w, lag_of):
        """permille: heat by the table where the axes stand. full_w: at full heat and 1000 W/m2.
        lag_of(permille): lag [micro-degrees] at which the table gives this heat."""
        self._since_ms += dt_ms
        if self._since_ms < _SAMPLE_MS:
            return
        passed, self._since_ms = self._since_ms, 0
        beam = int(beam_w_m2)
        if contents_mc is None or beam < _WEAK_W_M2 or contents_mc > self._high_mc:
            self._restart(permille, beam)
            return
        if abs(permille - self._permille) > _SAME or abs(beam - self._beam) * _BEAM_SHARE > self._beam:
            self._restart(permille, beam)
            return
        if self._settled_ms < _SETTLE_MS:
            self._settled_ms += passed
            return
        half = 0 if self._window_ms < _WINDOW_MS // 2 else 2
        self._halves[half] += contents_mc
        self._halves[half + 1] += 1
        self._window_ms += passed
        self._heat_j += int(full_w) * beam // 1000 * passed // 1000
        if self._window_ms >= _WINDOW_MS:
            self._judge(permille, lag_of)
            self._window_ms = self._heat_j = 0
            self._halves = [0, 0, 0, 0]

    def _judge(self, permille, lag_of):
        seconds = self._window_ms // 1000
        full_w = self._heat_j // seconds
        early, count, late, counted = self._halves
        if not count or not counted or full_w <= 0:
            return
        early, late = early // count, late // counted
        rise_uk_s = (late - early) * 2000 // seconds
        above_mk = _steepened_mk((early + late) // 2 - _AIR_MC)
        if rise_uk_s < _RISE_MIN_MK_S * 1000:
            return
        if permille >= _FULL:
            self._at_full(full_w, rise_uk_s, above_mk)
            return
        if not self.capacity:
            return
        true_w = self.capacity * (rise_uk_s // 10) // 100_000 + self._loss_w(above_mk)
        true = max(1, min(1000, true_w * 1000 // full_w))
        if true >= _FULL:  # on the flat part of the curve no lag can be told from another
            return
        off = lag_of(true) - lag_of(permille)
        off = max(-_MOST_UDEG, min(_MOST_UDEG, off))
        self.seen += 1
        self.lag_udeg += (off - self.lag_udeg) // (1 if self.seen == 1 else 2)

    def _loss_w(self, above_mk):
        return self.loss_mw_k * (above_mk // 100) // 10_000

    def _at_full(self, full_w, rise_uk_s, above_mk):
        first = self._first
        if first is None:
            self._first = (full_w, rise_uk_s, above_mk)
        elif above_mk - first[2] >= _APART_MK:
            # capacity * rise + loss * above = heat, twice; the rise at the air temperature has no loss
            slope = (first[1] * full_w // first[0] - rise_uk_s) * 1000 // (above_mk - first[2])  # uK/s per K
            at_air = rise_uk_s + slope * above_mk // 1000
            if at_air > 0:
                self.loss_mw_k = max(0, min(_LOSS_MOST, full_w * 1000 * slope // at_air))
        self.capacity = max(0, full_w - self._loss_w(above_mk)) * 1_000_000 // rise_uk_s
