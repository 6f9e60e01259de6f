"""Where the sun is: pvlib's SPA, vectorised. Units: unix seconds (UTC, taken as UT1), deg, m, Pa, degC."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pvlib import spa

from sunhob.sun_table import DELTA_T_S

ATMOS_REFRACT_DEG = 0.5667  # SPA's own, at sunrise and sunset
Floats = NDArray[np.float64]


def sun_azel(
    times_unix: ArrayLike,
    lat: ArrayLike,
    lon: ArrayLike,
    alt: ArrayLike = 0.0,
    pressure_pa: ArrayLike = 101325.0,
    temp_c: ArrayLike = 15.0,
) -> tuple[Floats, Floats]:
    """Azimuth (deg from north, clockwise), apparent elevation (deg) of the sun; all may be arrays."""
    given = (times_unix, lat, lon, alt, pressure_pa, temp_c)
    times, lat, lon, alt, pressure, temp = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(value, dtype=np.float64)) for value in given)
    )
    found: Any = spa.solar_position_numpy(
        times, lat, lon, alt, pressure / 100.0, temp, DELTA_T_S, ATMOS_REFRACT_DEG, None
    )
    return np.asarray(found[4], dtype=np.float64), np.asarray(found[2], dtype=np.float64)


def enu_from_azel(azimuth_deg: ArrayLike, elevation_deg: ArrayLike) -> Floats:
    """East, north, up unit vectors, shape (n, 3), of directions in deg."""
    azimuth = np.radians(np.atleast_1d(np.asarray(azimuth_deg, dtype=np.float64)))
    elevation = np.radians(np.atleast_1d(np.asarray(elevation_deg, dtype=np.float64)))
    level = np.cos(elevation)
    return np.column_stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])


def sun_enu(
    times_unix: ArrayLike,
    lat: ArrayLike,
    lon: ArrayLike,
    alt: ArrayLike = 0.0,
    pressure_pa: ArrayLike = 101325.0,
    temp_c: ArrayLike = 15.0,
) -> Floats:
    """The apparent sun as east, north, up unit vectors, shape (n, 3)."""
    return enu_from_azel(*sun_azel(times_unix, lat, lon, alt, pressure_pa, temp_c))


def separation_deg(one: ArrayLike, other: ArrayLike) -> Floats:
    """Angles (deg) between rows of two (n, 3) arrays of vectors, exact when small."""
    a = np.asarray(one, dtype=np.float64)
    b = np.asarray(other, dtype=np.float64)
    across = np.linalg.norm(np.cross(a, b), axis=-1)
    return np.degrees(np.arctan2(across, np.sum(a * b, axis=-1)))
