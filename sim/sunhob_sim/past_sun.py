"""Where the sun stood, also before the run began. Units: s from the start of the run, ENU unit vectors."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .sky import Sky, enu, spa_angles

BEFORE_S = 7200.0  # more than the greatest lag of the dial
_STEP_S = 30.0


class PastSun:
    """The sun of a sky from two hours before its start; between 30 s steps within 0.0002 deg."""

    def __init__(self, sky: Sky) -> None:
        self._grid_s = np.arange(-BEFORE_S, sky.duration_s + _STEP_S, _STEP_S)
        self._enu = enu(*spa_angles(sky.site, sky.start_unix + self._grid_s))

    def at(self, t_s: ArrayLike) -> NDArray:
        """Apparent ENU unit vectors (..., 3) at seconds from the start."""
        t = np.asarray(t_s, dtype=float)
        out = np.stack([np.interp(t, self._grid_s, self._enu[:, k]) for k in range(3)], axis=-1)
        return np.asarray(out / np.linalg.norm(out, axis=-1, keepdims=True))
