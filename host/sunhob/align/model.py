"""Where a mount points, vectorised, for the fit. Units: degrees; unit vectors east, north, up.

The conventions are those of sunhob_board.mount.geometry (base frame, turn and leans of the base, zeros,
square); a test holds the two together. Added here: `scale`, the share by which an axis
turns more than it reads.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
NAMES = ("base_north_deg", "base_tilt_east_deg", "base_tilt_north_deg", "axis1_zero_deg", "axis2_zero_deg",
         "square_deg", "axis1_scale", "axis2_scale")
KEYS = {  # the setting that holds each; scale has none: it belongs into steps_per_turn
    "base_north_deg": "mount.north_deg", "base_tilt_east_deg": "mount.tilt_east_deg",
    "base_tilt_north_deg": "mount.tilt_north_deg", "axis1_zero_deg": "axis1.zero_deg",
    "axis2_zero_deg": "axis2.zero_deg", "square_deg": "mount.square_deg",
}


def from_cooker(cooker: Any) -> dict[str, float]:
    """The values of NAMES as the settings hold them, scales 0."""
    return {name: float(cooker.value(KEYS[name])) if name in KEYS else 0.0 for name in NAMES}


def base_frame(values: Mapping[str, float], polar: bool, latitude_deg: float) -> Floats:
    """3 x 3 matrix, columns: the base's x, y, z in east, north, up."""
    n, e, s = (np.radians(values[k]) for k in ("base_north_deg", "base_tilt_east_deg", "base_tilt_north_deg"))
    turn = np.array([[np.cos(n), np.sin(n), 0.0], [-np.sin(n), np.cos(n), 0.0], [0.0, 0.0, 1.0]])
    lean_e = np.array([[np.cos(e), 0.0, np.sin(e)], [0.0, 1.0, 0.0], [-np.sin(e), 0.0, np.cos(e)]])
    lean_n = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(s), np.sin(s)], [0.0, -np.sin(s), np.cos(s)]])
    base = lean_n @ lean_e @ turn
    if not polar:
        return base
    lat = np.radians(latitude_deg)
    side = 1.0 if latitude_deg >= 0.0 else -1.0
    z = np.array([0.0, side * np.cos(lat), abs(np.sin(lat))])
    y = np.array([0.0, side * abs(np.sin(lat)), -np.cos(lat)])  # the foot of the meridian below the pole
    x = np.cross(y, z)
    return base @ np.column_stack([x, y, z])


def pointing(values: Mapping[str, float], axis1_deg: ArrayLike, axis2_deg: ArrayLike, polar: bool,
             latitude_deg: float) -> Floats:
    """Unit vectors, shape (n, 3), that these readings point at."""
    one = np.radians(np.asarray(axis1_deg, float) * (1.0 + values["axis1_scale"]) + values["axis1_zero_deg"])
    two = np.radians(np.asarray(axis2_deg, float) * (1.0 + values["axis2_scale"]) + values["axis2_zero_deg"])
    square = np.radians(values["square_deg"])
    lift_x, lift_y, lift_z = np.sin(two) * np.sin(square), np.cos(two), np.sin(two) * np.cos(square)
    x = np.cos(one) * lift_x + np.sin(one) * lift_y
    y = np.cos(one) * lift_y - np.sin(one) * lift_x
    body = np.stack(np.broadcast_arrays(x, y, lift_z), axis=-1)
    return np.asarray(body @ base_frame(values, polar, latitude_deg).T)


def readings(values: Mapping[str, float], direction: Floats, polar: bool, latitude_deg: float) -> Floats:
    """Readings in degrees, shape (n, 2), that point a square mount without scale at unit vectors (n, 3)."""
    x, y, z = (direction @ base_frame(values, polar, latitude_deg)).T
    one = np.degrees(np.arctan2(x, y)) - values["axis1_zero_deg"]
    return np.column_stack([one, np.degrees(np.arcsin(np.clip(z, -1.0, 1.0))) - values["axis2_zero_deg"]])
