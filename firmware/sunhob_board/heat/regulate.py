"""Holds the food at a temperature by dialling the heat: quick to get there, then few moves.

Units: milli-degC and mK, mW, W/m2, ms, permille of full heat; heat capacity in J/K, gain in W/K
(mK times W/K is mW).
Integers throughout, so that every interpreter decides the same.

Heat wanted = loss of the pot + gain times the error foreseen. The loss is the integral part, but it is not
summed up from the error: it is the heat that went in less the heat the food took up, which stays true while
the dial is at an end, in cloud and off the heat. So there is nothing that could wind up.
Where even the least heat is more than the loss, it leaves the heat (0) and comes back, within a band.
"""

from .boil import boil_mc

STEP_MS = 5_000
LOWEST_MC = 30_000
BELOW_BOIL_MC = 1_000  # nearer to boiling, temperature no longer tells how much heat goes in
_HALF = 8  # samples in each half of the window the rate is taken over
_AHEAD_S = 40  # shell and probe go on warming the reading for so long: from the bench's pots
_BOOST_ON_MC, _BOOST_OFF_MC = 2_500, 600
_BAND_MC = 1_000
_HEAT_STEPS = 12  # heat is averaged over as many steps as shell, probe and window delay the rate
_LEARN_STEPS = 60  # the loss follows the balance over this many steps
_FAR_MC = 12_000  # so far below the set point the rise tells the heat capacity
_LOSS_MAX_MW = 1_500_000
_GAIN_S = 400  # time constant of the held food
_SAVED = 2  # moves not made while all was steady may be made later, close together
_LEAST_REST_MS = 30_000
_SOON_S, _SOON_MC = 160, 1_200  # so far below, after a cloud, the heat is to bring it back within so long
_GAIN_J_K = 16_000  # a larger pot holds by itself: no need to run after every tenth of a kelvin
_LEAST_CHANGE = 40
_WEAK_W_M2 = 200
_CLEAR_W_M2 = 850  # until a beam has been seen
_FADE_STEPS = 240  # the light believed in sinks over this many steps
_BLIND_MS = 120_000
_AIR_MC = 25_000
_REFUSED = ("pot temperature %.1f degC: give %.1f to %.1f degC; water boils at %.1f degC here; boiling is "
            "set by heat, in percent or watts")


class Regulator:
    """permille: what it asks now, 0 (off the heat) or least..1000. changes: how often it has changed it."""

    def __init__(self, s):
        self.least = int(s.heat_least_percent * 10)
        self.highest_mc = boil_mc(s.site_pressure_pa) - BELOW_BOIL_MC
        self.spacing_ms = -(-3_600_000 // (s.heat_moves_per_hour - _SAVED - 1))
        self._loss_w_per_k = s.heat_loss_w_per_k
        self._past = [0] * (2 * _HALF)
        self.changes = 0
        self.permille = 0
        self._since_change = self._rested_ms = self.spacing_ms
        self.begin(LOWEST_MC)

    def begin(self, set_mc):
        """Take a new temperature to hold [milli-degC]; '' or, where it is refused, why."""
        if not LOWEST_MC <= set_mc <= self.highest_mc:
            return _REFUSED % (set_mc / 1000, LOWEST_MC / 1000, self.highest_mc / 1000,
                               (self.highest_mc + BELOW_BOIL_MC) / 1000)
        self.set_mc = set_mc
        self.loss_mw = max(0, int(self._loss_w_per_k * (set_mc - _AIR_MC)))
        self.capacity = 20_000
        self.error_mc = 0
        self._light = 0
        self._heat_mw = 0
        self._samples = 0
        self._at = 0
        self._since_step = STEP_MS
        self._blind_ms = 0
        self._boost = False
        return ""

    def tick(self, dt_ms, contents_mc, under_mc, beam_w_m2, full_w):
        """One tick; returns the heat wanted [permille of full heat], 0 to be off the heat.

        contents_mc, under_mc: milli-degC, None where there is no sane reading. beam_w_m2: at the tube.
        full_w: heat on this pot at full heat and 1000 W/m2 [W].
        """
        self._since_step += dt_ms
        self._since_change += dt_ms
        self._rested_ms = min(self._rested_ms + dt_ms, (_SAVED + 1) * self.spacing_ms)
        if contents_mc is None:
            self._blind(dt_ms)
            return self.permille
        self._blind_ms = 0
        if self._since_step < STEP_MS:
            return self.permille
        self._since_step = 0
        full_mw = self._full_mw(int(beam_w_m2), int(full_w))
        rate = self._rate(contents_mc)
        lead = rate * _AHEAD_S
        if under_mc is not None and self.permille and under_mc > contents_mc:
            lead = max(lead, 0)
        self.error_mc = self.set_mc - contents_mc - lead
        weak = self.permille and beam_w_m2 < _WEAK_W_M2
        if not weak:
            self._learn(rate, int(beam_w_m2) * int(full_w), contents_mc)
            self._decide(full_mw)
        return self.permille

    def _blind(self, dt_ms):
        """Without a reading: no more than the least heat, and after a while none."""
        self._samples = 0
        self._blind_ms += dt_ms
        if self._blind_ms >= _BLIND_MS:
            self._change(0)
        elif self.permille > self.least:
            self._change(self.least)

    def _full_mw(self, beam, full_w):
        """Full heat in the light believed in: up with the beam at once, down slowly, so that the dial does
        not run after each cloud. Off the heat the tube sees no sun, and the light believed in stays."""
        if beam >= self._light:
            self._light = beam
        elif self.permille:
            self._light -= max(1, (self._light - beam) // _FADE_STEPS)
        return max(1, (self._light or _CLEAR_W_M2) * full_w)

    def _rate(self, contents_mc):
        """Rise of the reading [mK/s] from the means of two halves of the last 80 s."""
        past, n = self._past, 2 * _HALF
        if self._samples == 0:
            for i in range(n):
                past[i] = contents_mc
        self._samples = min(n, self._samples + 1)
        past[self._at] = contents_mc
        self._at = (self._at + 1) % n
        rise = 0
        for i in range(_HALF):
            rise += past[(self._at + _HALF + i) % n] - past[(self._at + i) % n]
        window = _HALF * _HALF * STEP_MS // 1000
        return (rise + window // 2) // window

    def _learn(self, rate, beam_heat_mw, contents_mc):
        self._heat_mw += (beam_heat_mw // 1000 * self.permille - self._heat_mw) // _HEAT_STEPS
        if self._samples < 2 * _HALF:
            return
        if self.set_mc - contents_mc > _FAR_MC:
            if rate > 8:
                loss = self.loss_mw * max(0, contents_mc - _AIR_MC) // max(1, self.set_mc - _AIR_MC)
                got = max(3_000, min(50_000, (self._heat_mw - loss) // rate))
                self.capacity += (got - self.capacity) // 12
            return
        seen = self._heat_mw - self.capacity * rate
        seen = max(0, min(seen, 2 * self.loss_mw + 300_000, _LOSS_MAX_MW))
        self.loss_mw += (seen - self.loss_mw) // _LEARN_STEPS

    def _decide(self, full_mw):
        error = self.error_mc
        if self.permille == 1000:
            self._boost = error > _BOOST_OFF_MC and self._boost
        else:
            # Full heat stays for as long as the motors rest: only where that does not carry it too far.
            rest_ms = _LEAST_REST_MS if self._rested_ms >= 2 * self.spacing_ms else self.spacing_ms
            gain = max(0, full_mw - self.loss_mw) // self.capacity * (rest_ms // 1000)
            self._boost = error > max(_BOOST_ON_MC, gain)
        if self._boost:
            self._change(1000)
            return
        within_s = _SOON_S if error > _SOON_MC else _GAIN_S
        wanted = self.loss_mw + min(self.capacity, _GAIN_J_K) * error // within_s
        permille = wanted * 10 // max(1, full_mw // 100) // 10 * 10
        if permille < self.least:
            # The least heat is too much: off at the top of the band, on again at its foot.
            if error < -_BAND_MC:
                permille = 0
            elif error > _BAND_MC or self.permille:
                permille = self.least
            else:
                permille = 0
        self._change(min(1000, permille))

    def _change(self, permille):
        """Move only when it is worth it and the motors have rested."""
        worth = abs(permille - self.permille) >= _LEAST_CHANGE or permille == 1000 or permille == self.least
        least_ms = min(_LEAST_REST_MS, self.spacing_ms)
        rested = self._rested_ms >= self.spacing_ms and self._since_change >= least_ms
        if permille == self.permille or not worth or not rested:
            return
        self.permille = permille
        self._since_change = 0
        self._rested_ms -= self.spacing_ms
        self.changes += 1
