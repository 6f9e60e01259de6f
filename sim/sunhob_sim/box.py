"""The retained-heat box: a hot pot in thick insulation, which cools as Newton says and goes on cooking.

Units: deg C, J/K, W/K, s, hours. T = Ta + (T0 - Ta) exp(-t UA / C); 0.5 to 2 W/K are what such boxes lose.
"""

import math
from dataclasses import dataclass

from .foods import cook_rate_per_s
from .storage import CONTENTS

HOLD_C = 60.0  # keep food hotter than this (WHO Five Keys, from memory; FDA Food Code 3-501.16: 57 deg C)
_COOK_STEP_S = 60.0


@dataclass
class HeatBox:
    """A pot in a box: how hot, how much heat it holds [J/K], what it loses [W/K], what cooks in it."""

    temp_c: float
    heat_j_k: float
    ua_w_k: float = 1.0
    food: str = "water"
    cooked: float = 0.0

    @property
    def time_constant_s(self) -> float:
        return self.heat_j_k / self.ua_w_k

    def after(self, seconds: float, air_c: float) -> float:
        """Temperature after so long, deg C."""
        return air_c + (self.temp_c - air_c) * math.exp(-seconds / self.time_constant_s)

    def hours_above(self, limit_c: float, air_c: float) -> float:
        """How long it stays above `limit_c`, hours; 0 if it never was, infinity if the air is warmer."""
        if self.temp_c <= limit_c:
            return 0.0
        if limit_c <= air_c:
            return math.inf
        return self.time_constant_s * math.log((self.temp_c - air_c) / (limit_c - air_c)) / 3600.0

    def step(self, dt_s: float, air_c: float) -> None:
        """Let `dt_s` pass: it cools and cooks on."""
        food, left = CONTENTS[self.food], dt_s
        while left > 0.0:
            part = min(left, _COOK_STEP_S)
            self.cooked += part * cook_rate_per_s(food, self.after(part / 2.0, air_c))
            self.temp_c = self.after(part, air_c)
            left -= part
