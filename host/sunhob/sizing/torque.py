"""Torque about both axes over the dish's attitude, from weight and wind. Units: N m, degrees, kg, m, m/s.

The axes cross at the pot, that is at the focus. A push along the dish axis goes through that crossing and
turns nothing; what turns the dish is the wind's own moment and its push across, at the arm of a focal length.
Both are added as if they always helped each other, and the wind may come level from any side: an upper bound
of the table in `wind`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import wind

G_M_S2 = 9.80665
_WIND_FROM_DEG = np.arange(0.0, 360.0, 5.0)


@dataclass(frozen=True)
class Torques:
    """Torque in N m about axis 1 and axis 2 at each elevation of the dish axis [deg], parts apart."""

    elevation_deg: NDArray
    weight1_n_m: NDArray
    weight2_n_m: NDArray
    wind1_n_m: NDArray
    wind2_n_m: NDArray
    friction1_n_m: float
    friction2_n_m: float

    def total(self, axis: int) -> NDArray:
        """Weight, wind and friction together about axis 1 or 2, N m at each elevation."""
        weight, blow = getattr(self, f"weight{axis}_n_m"), getattr(self, f"wind{axis}_n_m")
        return weight + blow + getattr(self, f"friction{axis}_n_m")

    def at_reading(self, cooker: Any, axis: int) -> Callable[[NDArray], NDArray]:
        """Torque [N m] about an axis at readings of it [deg]: where these are the dish's elevation that of
        the attitude, else the greatest of all attitudes."""
        total = self.total(axis)
        if cooker.mount.kind == "altaz" and axis == 2:
            return lambda reading: np.interp(reading + cooker.axis2.zero_deg, self.elevation_deg, total)
        return lambda reading: np.full_like(reading, total.max())


def wind_moments(elevation_deg: NDArray, diameter_m: float, focal_m: float,
                 q_pa: float) -> tuple[NDArray, NDArray]:
    """Greatest moment in N m about the upright axis and about the level axis, over all sides of the wind."""
    el = np.radians(elevation_deg)[:, None]
    side = np.radians(_WIND_FROM_DEG)[None, :]
    axis = np.stack(np.broadcast_arrays(0.0 * side, np.cos(el) + 0.0 * side, np.sin(el) + 0.0 * side), -1)
    source = np.stack(np.broadcast_arrays(np.sin(side), np.cos(side), 0.0 * el * side), -1)
    cos_attack = np.clip(np.sum(axis * source, -1), -1.0, 1.0)
    _, across, own = wind.coefficients(np.degrees(np.arccos(cos_attack)))
    area = np.pi / 4.0 * diameter_m**2
    size = q_pa * area * (own * diameter_m + across * focal_m)
    about = np.cross(axis, source)
    norm = np.linalg.norm(about, axis=-1, keepdims=True)
    about = np.divide(about, norm, out=np.zeros_like(about), where=norm > 1e-9)
    moment = np.abs(size[..., None] * about)
    return moment[..., 2].max(axis=1), moment[..., 0].max(axis=1)


def torques(cooker: Any, wind_m_s: float, elevation_deg: NDArray | None = None) -> Torques:
    """Torques of a cooker in this wind [m/s, gusts included by the caller] over its travel of elevation."""
    build, dish, polar = cooker.build, cooker.dish, cooker.mount.kind == "polar"
    el = np.arange(0.0, 91.0, 2.5) if elevation_deg is None else elevation_deg
    rad = np.radians(el)
    lifted = build.lifted_kg * G_M_S2
    if polar:  # axis 1 leans with the pole; axis 2 may lie any way round
        lat = np.radians(cooker.site.latitude_deg)
        reach = np.hypot(build.lifted_along_m, build.lifted_across_m)
        weight1 = np.full_like(el, build.turned_kg * G_M_S2 * build.turned_off_m * np.cos(lat))
        weight2 = np.full_like(el, lifted * reach)
    else:
        weight1 = np.full_like(el, build.turned_kg * G_M_S2 * build.turned_off_m
                               * np.sin(np.radians(build.level_deg)))
        weight2 = lifted * (np.abs(build.lifted_along_m) * np.cos(rad) + build.lifted_across_m * np.sin(rad))
    q = build.wind_factor * float(wind.pressure_pa(wind_m_s, cooker.site.altitude_m))
    upright, level = wind_moments(el, dish.aperture_diameter_m, dish.focal_length_m, q)
    if polar:
        upright = level = np.hypot(upright, level)
    return Torques(el, weight1, weight2, upright, level, build.friction1_n_m, build.friction2_n_m)
