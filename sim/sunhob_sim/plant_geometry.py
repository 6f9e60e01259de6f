"""Where a mount of two turning axes truly points, written apart from the firmware's own geometry.

Units: degrees for angles, unit vectors east, north, up.
Axis 1 turns clockwise seen from above its end; axis 2 lifts. `altaz`: axis 1 stands upright. `polar`: axis 1
points at the elevated celestial pole and reads 180 deg with the sun at noon.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray


def _about(axis: int, angle_deg: float) -> NDArray:
    """Right-handed turn by degrees about coordinate axis 0, 1 or 2."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    i, j = (axis + 1) % 3, (axis + 2) % 3
    out = np.eye(3)
    out[i, i], out[i, j], out[j, i], out[j, j] = c, -s, s, c
    return out


@dataclass(frozen=True)
class TrueMount:
    """How the mount really stands: turn of the base clockwise, leans and zeros in degrees."""

    kind: str = "altaz"
    latitude_deg: float = 0.0
    north_deg: float = 0.0
    tilt_east_deg: float = 0.0
    tilt_north_deg: float = 0.0
    square_deg: float = 0.0
    zero_deg: tuple[float, float] = (0.0, 0.0)

    def base(self) -> NDArray:
        """3 x 3 matrix whose columns are the right, forward and upright of what stands on the ground."""
        # clockwise from above is left-handed about up; a lean to the north is left-handed about east
        turn = _about(2, -self.north_deg)
        lean = _about(0, -self.tilt_north_deg) @ _about(1, self.tilt_east_deg)
        return np.asarray(lean @ turn)

    def frame(self) -> NDArray:
        """3 x 3 matrix whose columns are the base's x, y, z in east, north, up."""
        base = self.base()
        if self.kind != "polar":
            return base
        sign = 1.0 if self.latitude_deg >= 0.0 else -1.0
        lat = np.radians(abs(self.latitude_deg))
        z = np.array([0.0, sign * np.cos(lat), np.sin(lat)])
        down = np.array([0.0, 0.0, -1.0])
        y = down - z * (down @ z)
        y /= np.linalg.norm(y)
        return np.asarray(base @ np.stack([np.cross(y, z), y, z], axis=1))

    @cached_property
    def _rows(self) -> list[list[float]]:
        rows: list[list[float]] = self.frame().tolist()
        return rows

    def aim(self, axis1_deg: float, axis2_deg: float) -> tuple[float, float, float]:
        """As enu(), for one pair of angles."""
        one = math.radians(axis1_deg + self.zero_deg[0])
        two = math.radians(axis2_deg + self.zero_deg[1])
        square = math.radians(self.square_deg)
        x, y, z = math.sin(square) * math.sin(two), math.cos(two), math.cos(square) * math.sin(two)
        c, s = math.cos(one), math.sin(one)
        x, y = c * x + s * y, c * y - s * x
        (a, b, d), (e, f, g), (h, i, k) = self._rows
        return a * x + b * y + d * z, e * x + f * y + g * z, h * x + i * y + k * z

    def enu(self, axis1_deg: ArrayLike, axis2_deg: ArrayLike) -> NDArray:
        """Unit vectors (..., 3) of the dish axis at these axis angles in degrees."""
        one = np.radians(np.asarray(axis1_deg, dtype=float) + self.zero_deg[0])
        two = np.radians(np.asarray(axis2_deg, dtype=float) + self.zero_deg[1])
        lifted = np.stack([np.zeros_like(two), np.cos(two), np.sin(two)], axis=-1)
        lifted = lifted @ _about(1, self.square_deg).T  # the lifting axis rolled about the line of sight
        x, y, z = lifted[..., 0], lifted[..., 1], lifted[..., 2]
        c, s = np.cos(one), np.sin(one)
        body = np.stack([c * x + s * y, c * y - s * x, z], axis=-1)
        return np.asarray(body @ self.frame().T)

    def dish(self, axis1_deg: float, axis2_deg: float) -> tuple[tuple[float, float, float], ...]:
        """Unit vectors of the dish at these axis angles: to its right, up from it, along it."""
        one = math.radians(axis1_deg + self.zero_deg[0])
        two = math.radians(axis2_deg + self.zero_deg[1])
        square = math.radians(self.square_deg)
        c, s, up, out = math.cos(one), math.sin(one), math.cos(two), math.sin(two)
        p, q = math.cos(square), math.sin(square)
        (a, b, d), (e, f, g), (h, i, k) = self._rows
        found = []
        for x, y, z in ((p, 0.0, -q), (q * up, -out, p * up), (q * out, up, p * out)):
            x, y = c * x + s * y, c * y - s * x
            found.append((a * x + b * y + d * z, e * x + f * y + g * z, h * x + i * y + k * z))
        return tuple(found)

    def axes_for(self, direction: ArrayLike, near_deg: tuple[float, float]) -> tuple[float, float]:
        """Axis angles in degrees that point at an ENU unit vector; axis 1 on the turn nearest `near_deg`."""
        e = self.frame().T @ np.asarray(direction, dtype=float)
        want = np.array([np.arctan2(e[0], e[1]), np.arcsin(np.clip(e[2], -1.0, 1.0))])
        at = want.copy()
        for _ in range(6):  # square is small: the plain mount's answer is nearly right, and the rest shrinks
            zero = np.degrees(at) - np.asarray(self.zero_deg)
            got = self.frame().T @ self.enu(zero[0], zero[1])
            miss = want - np.array([np.arctan2(got[0], got[1]), np.arcsin(np.clip(got[2], -1.0, 1.0))])
            at += (miss + np.pi) % (2.0 * np.pi) - np.pi
        one, two = (float(v) for v in np.degrees(at) - np.asarray(self.zero_deg))
        return one + 360.0 * round((near_deg[0] - one) / 360.0), two
