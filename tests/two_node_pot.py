"""A pot of two nodes, shell and contents, on plain Euler steps: a plant for tests of the regulator alone.

Units: degC, W, W/K, J/K, s. Invented figures of handbook size; it shares nothing with the firmware.
"""

import math
import random
from dataclasses import dataclass, field

from sunhob_board.heat.regulate import Regulator


class TwoNodePot:
    """Water of `kg` in an aluminium shell. loss: W/K to the air; lid off adds evaporation."""

    def __init__(self, kg=5.0, loss_w_k=3.0, lid=True, start_c=22.0, air_c=25.0, seed=1):
        self.water_jk, self.shell_jk = 4186.0 * kg, 1100.0 + 80.0 * kg
        self.loss_w_k, self.lid, self.air_c = loss_w_k, lid, air_c
        self.water_c = self.shell_c = self.probe_c = start_c
        self.film_w_k = 35.0
        self.random = random.Random(seed)

    def step(self, watts, dt):
        """Let `watts` fall on the shell for dt seconds."""
        into = self.film_w_k * (self.shell_c - self.water_c)
        out = self.loss_w_k * (self.shell_c - self.air_c)
        steam = 0.0
        if not self.lid:  # about 45 W at 60 degC and 190 W at 85 degC from such a surface
            steam = 45.0 * math.exp(0.0576 * (self.water_c - 60.0))
        self.shell_c += (watts - into - out) / self.shell_jk * dt
        self.water_c += (into - steam) / self.water_jk * dt
        self.probe_c += (self.water_c - self.probe_c) / 12.0 * dt

    def reading_mc(self):
        """Contents as the converter tells it: quarters of a kelvin, a little noise."""
        return 250 * round((self.probe_c + self.random.gauss(0.0, 0.1)) * 4)

    def under_mc(self):
        return 250 * round((self.shell_c + self.random.gauss(0.0, 0.3)) * 4)


@dataclass
class Held:
    """reached_s: first within 2 K of the set point. in_band: share of sunny seconds within 2 K since."""

    reached_s: float | None = None
    peak_k: float = 0.0
    moves_s: list[float] = field(default_factory=list)
    said: set[int] = field(default_factory=set)
    sunny: int = 0
    good: int = 0

    @property
    def in_band(self):
        return self.good / max(1, self.sunny)

    @property
    def most_moves_in_an_hour(self):
        return max((sum(a <= m < a + 3600.0 for m in self.moves_s) for a in self.moves_s), default=0)


def held(s, kg, loss_w_k=3.0, lid=True, dni=900.0, set_c=85.0, hours=4.0, full_w=1000, cloud=None):
    """Runs a Regulator on this pot. A change of heat takes 4 s, leaving or coming back 25 s."""
    regulator, pot, got = Regulator(s), TwoNodePot(kg, loss_w_k, lid), Held()
    assert regulator.begin(int(set_c * 1000)) == ""
    dial, last, due = 0.0, 0, None
    seen_mc = pot.reading_mc()
    for t in range(int(hours * 3600)):
        beam = dni * (0.05 if cloud is not None and cloud(t) else 1.0)
        seen_mc += (pot.reading_mc() - seen_mc) // 4
        said = regulator.tick(1000, seen_mc, pot.under_mc(), beam if dial > 0 else 0, full_w)
        got.said.add(said)
        if said != last:
            got.moves_s.append(float(t))
            due, last = t + (25 if said == 0 or last == 0 else 4), said
        if due is not None and t >= due:
            dial, due = said / 1000.0, None
        pot.step(dial * full_w * beam / 1000.0, 1.0)
        off = pot.water_c - set_c
        if got.reached_s is None and off >= -2.0:
            got.reached_s = float(t)
        if got.reached_s is not None:
            got.peak_k = max(got.peak_k, off)
            if cloud is None or not cloud(t):
                got.sunny += 1
                got.good += abs(off) <= 2.0
    return got
