"""Gusts at the dish: which way and how hard they push, second by second, from a seed.

Units: m/s, seconds. Strength goes with the square of the speed; thresholds: common practice, no source.
"""

from __future__ import annotations

import numpy as np

LOOSE_M_S = 5.0  # moves a load that nothing holds to one side of its play
LIFT_M_S = 12.0  # lifts a load that its own weight holds
_KEEP = 0.85  # of one second's gust in the next


class Wind:
    """Speed and side of the gusts; none at all when both speeds are 0."""

    def __init__(self, mean_m_s: float, gust_m_s: float, duration_s: float, seed: int) -> None:
        self.calm = mean_m_s <= 0.0 and gust_m_s <= 0.0
        self.shoves = False  # whether any gust moves a load in its play
        if self.calm:
            return
        rng = np.random.default_rng(seed)
        count = int(duration_s) + 2
        noise = rng.normal(size=(count, 3)) * np.sqrt(1.0 - _KEEP**2)
        state, rows = np.zeros(3), np.empty((count, 3))
        for i in range(count):
            state = _KEEP * state + noise[i]
            rows[i] = state
        spread = max(gust_m_s - mean_m_s, 0.0) / 3.0  # the gust speed is three sigmas out
        self.speed_m_s: list[float] = np.maximum(mean_m_s + spread * rows[:, 0], 0.0).tolist()
        self.shoves = max(self.speed_m_s) >= LOOSE_M_S
        self._side: tuple[list[float], list[float]] = (rows[:, 1].tolist(), rows[:, 2].tolist())

    def speed_at(self, t_s: float) -> float:
        """Speed of the wind at `t_s` seconds, m/s."""
        return 0.0 if self.calm else self.speed_m_s[min(int(t_s), len(self.speed_m_s) - 1)]

    def shove(self, axis: int, t_s: float, preloaded: bool) -> int:
        """-1, 0 or 1: the flank a gust holds this axis on at `t_s` seconds."""
        if self.calm:
            return 0
        i = min(int(t_s), len(self.speed_m_s) - 1)
        if self.speed_m_s[i] < (LIFT_M_S if preloaded else LOOSE_M_S):
            return 0
        side = self._side[axis][i]
        if preloaded:
            return 1 if side > 0.5 else 0
        return 1 if side > 0.5 else -1 if side < -0.5 else 0
