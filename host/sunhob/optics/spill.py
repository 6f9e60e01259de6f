"""Where the light ends that the dish gathers, at one attitude. Shares of an unshaded aperture's light."""

from __future__ import annotations

import numpy as np

from .geometry import Optics
from .rays import BOTTOM, HOLE, LID, MISSED, PLATE, SHADED, WALL, trace

_ENDS = {
    "pot_bottom": BOTTOM, "pot_wall": WALL, "pot_lid": LID, "plate": PLATE, "shaded": SHADED, "hole": HOLE,
}


def spill(
    optics: Optics, lag_deg: float, elevation_deg: float, direction_deg: float,
    rays: int = 1 << 14, seed: int = 1,
) -> dict[str, float]:
    """Share by where it ends: on the pot's parts, the plate, in shade or hole; of what misses, `over_lid`,
    `dish_again`, and the rest by whether it flies `upward` or `downward` (to the ground).

    All shares together are cos(lag), and those of the hole on top. Angles in degrees as in geometry.py.
    """
    got = trace(optics, lag_deg, elevation_deg, direction_deg, rays, seed)
    power = got.rays.power
    shares = {name: float(power[got.hit == code].sum()) for name, code in _ENDS.items()}
    missed = got.hit == MISSED
    over = missed & got.over_lid
    again = missed & ~over & np.isfinite(got.rays.reach_m)
    up = got.rays.ray[2] > 0.0
    shares["over_lid"] = float(power[over].sum())
    shares["dish_again"] = float(power[again].sum())
    shares["upward"] = float(power[missed & ~over & ~again & up].sum())
    shares["downward"] = float(power[missed & ~over & ~again & ~up].sum())
    return shares
