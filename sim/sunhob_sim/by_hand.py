"""The same hours with a hand turning the dish every so often, for comparison.

Units: seconds from the start, degrees, W, J. The hand is an invented one: it sets the lag that gives the heat
asked for, at the first moment of the same hours and then every `every_min` minutes, and never aims ahead.
"""

import numpy as np
from numpy.typing import NDArray

from .past_sun import PastSun
from .pot_light import PotLight
from .sky import Sky

_STEP_S = 5.0
_HAND_DEG = 0.3  # how closely a hand sets a dish by its shadow; common practice, no source
_DEG_PER_S = 15.0 / 3600.0  # hour angle of the sun
_LAGS_DEG = np.arange(0.0, 20.01, 0.25)


def hand_heat(
    sky: Sky, t_s: NDArray, asked: NDArray, light: PotLight, every_min: float = 10.0, seed: int = 1,
) -> dict[str, float]:
    """Heat delivered by hand [J] where `asked` (fraction of full heat at `t_s`) is above zero."""
    rng = np.random.default_rng(seed)
    grid = np.arange(float(t_s[0]), float(t_s[-1]), _STEP_S)
    want = asked[np.minimum(np.searchsorted(t_s, grid), len(t_s) - 1)]
    past, suns = PastSun(sky), sky.sun_array(grid)
    aims = np.zeros((len(grid), 3))
    aim, visit_s, before, touches = np.array([0.0, 0.0, 1.0]), -np.inf, 0.0, 0
    for i, (t, share) in enumerate(zip(grid, want, strict=True)):
        turned = before <= 0.0 or abs(share - before) > 0.02 or t - visit_s >= 60.0 * every_min
        if share > 0.0 and turned:
            lag = _lag_deg(float(t), share, past, suns[i], light) + abs(float(rng.normal(0.0, _HAND_DEG)))
            aim, visit_s, touches = past.at(t - lag / _DEG_PER_S), t, touches + 1
        before, aims[i] = share, aim
    taken = light.shares(aims, suns) * sky.beam(grid) * (want > 0.0)
    delivered = float(taken.sum()) * light.w_per_share * _STEP_S
    return {"delivered_j": round(delivered), "every_min": every_min, "touches": float(touches)}


def _lag_deg(t_s: float, share: float, past: PastSun, sun: NDArray, light: PotLight) -> float:
    """Least lag [deg] behind the sun at which the pot gets no more than `share` of full heat."""
    if share >= 0.999:
        return 0.0
    aims = past.at(t_s - _LAGS_DEG / _DEG_PER_S)
    enough = light.shares(aims, np.broadcast_to(sun, aims.shape)) <= share * light.full_share(sun)
    return float(_LAGS_DEG[int(np.argmax(enough))] if enough.any() else _LAGS_DEG[-1])
