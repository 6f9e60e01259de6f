"""The same hours with a hand turning the dish every so often, for comparison.

Units: seconds from the start, degrees, W, J. The hand is an invented one: it sets the lag that the heat dial
asks for, at the first moment of the same hours and then every `every_min` minutes, and never aims ahead.
"""

import numpy as np
from numpy.typing import NDArray

from .past_sun import PastSun
from .sky import Sky

_STEP_S = 5.0
_HAND_DEG = 0.3  # how closely a hand sets a dish by its shadow; common practice, no source
_DEG_PER_S = 15.0 / 3600.0  # hour angle of the sun


def hand_heat(
    sky: Sky, t_s: NDArray, asked: NDArray, fraction_at_deg: NDArray, fraction: NDArray,
    full_heat_w_at_1000: float, every_min: float = 10.0, seed: int = 1,
) -> dict[str, float]:
    """Heat delivered by hand [J] where `asked` (fraction of full heat at `t_s`) is above zero.

    fraction_at_deg, fraction: the heat curve, fraction of full heat over separation [deg].
    """
    rng = np.random.default_rng(seed)
    grid = np.arange(float(t_s[0]), float(t_s[-1]), _STEP_S)
    want = asked[np.minimum(np.searchsorted(t_s, grid), len(t_s) - 1)]
    aim = np.zeros(3)
    visit_s, delivered, touches = -np.inf, 0.0, 0
    before = 0.0
    past = PastSun(sky)
    suns, beams = sky.sun_array(grid), sky.beam(grid)
    for t, share, sun, beam in zip(grid, want, suns, beams, strict=True):
        if share <= 0.0:
            before = 0.0
            continue
        if before <= 0.0 or abs(share - before) > 0.02 or t - visit_s >= 60.0 * every_min:
            lag = _lag_deg(share, fraction_at_deg, fraction) + abs(float(rng.normal(0.0, _HAND_DEG)))
            aim = past.at(t - lag / _DEG_PER_S)
            visit_s, touches = t, touches + 1
        before = share
        off = np.degrees(np.arctan2(np.linalg.norm(np.cross(sun, aim)), float(sun @ aim)))
        got = float(np.interp(off, fraction_at_deg, fraction))
        delivered += got * full_heat_w_at_1000 * beam / 1000.0 * _STEP_S
    return {"delivered_j": round(float(delivered)), "every_min": every_min, "touches": float(touches)}


def _lag_deg(share: float, fraction_at_deg: NDArray, fraction: NDArray) -> float:
    """Least separation [deg] at which the pot gets no more than `share` of full heat."""
    if share >= 0.999:
        return 0.0
    return float(np.interp(-share, -fraction, fraction_at_deg))
