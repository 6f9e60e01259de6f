"""How much of the beam the true pot takes up, from the ray trace at the true attitude of the dish.

Units: degrees, m, W, W/m2; east-north-up unit vectors. Shares are of the light that an unshaded aperture
squarely to the sun would collect. direction: of the sun as seen from the dish axis, 0 up, 90 to the right
looking out along it.
"""

from __future__ import annotations

import hashlib
import json
import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator
from sunhob.cache import cache_dir
from sunhob.optics.geometry import Optics
from sunhob.optics.intercept import TRACE_VERSION, Intercept, cached_intercept, intercept
from sunhob.optics.kept import load, save

Progress = Callable[[int, int], None]
_BESIDE_RAYS = 1 << 12
_LAGS_DEG = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 28.0, 40.0)
_ELEVATIONS_DEG = (10.0, 30.0, 50.0, 70.0, 90.0)


def lag_direction(axis: Sequence[float], sun: Sequence[float]) -> tuple[float, float, float]:
    """(lag, elevation of the axis, direction of the sun), degrees, of two ENU unit vectors."""
    e, n, u = axis
    flat = math.hypot(e, n)
    fe, fn = (e / flat, n / flat) if flat > 1e-9 else (0.0, 1.0)
    right = sun[0] * fn - sun[1] * fe
    up = sun[2] * flat - (sun[0] * fe + sun[1] * fn) * u
    along = sun[0] * e + sun[1] * n + sun[2] * u
    lag = math.degrees(math.atan2(math.hypot(right, up), along))
    return lag, math.degrees(math.atan2(u, flat)), math.degrees(math.atan2(right, up)) % 360.0


def lag_directions(axis: NDArray, sun: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """The same for rows (n, 3) of ENU unit vectors."""
    flat = np.maximum(np.hypot(axis[..., 0], axis[..., 1]), 1e-9)
    fe, fn, u = axis[..., 0] / flat, axis[..., 1] / flat, axis[..., 2]
    right = sun[..., 0] * fn - sun[..., 1] * fe
    up = sun[..., 2] * flat - (sun[..., 0] * fe + sun[..., 1] * fn) * u
    lag = np.degrees(np.arctan2(np.hypot(right, up), np.sum(axis * sun, axis=-1)))
    return lag, np.degrees(np.arctan2(u, flat)), np.degrees(np.arctan2(right, up)) % 360.0


class PotLight:
    """Light taken up by bottom and wall together, and by the lid, for a dish with its pot as it truly stands.

    `optics`: with the true pot's absorptances; the pot `offset_mm` beside the focus towards `bearing_deg`
    (from north, clockwise). `w_per_share`: watts of 1 W/m2 of beam for a share of 1.
    """

    def __init__(self, optics: Optics, offset_mm: float = 0.0, bearing_deg: float = 0.0,
                 progress: Progress | None = None) -> None:
        self.bearing_deg = bearing_deg
        self.true = cached_intercept(optics, progress)  # as it would be at the focus
        taken = _taken(self.true)
        if offset_mm:
            taken = _taken_beside(self.true, offset_mm / 1000.0, progress)
        self._taken = taken  # (wave, lag, elevation, direction, body or lid)
        self._rows: list[Any] = taken.tolist()
        self._lag: list[float] = self.true.lag_deg.tolist()
        self._elevation: list[float] = self.true.elevation_deg.tolist()
        self._turns = len(self.true.direction_deg)
        self.w_per_share = optics.returned * optics.aperture_m2

    def watts(self, axis: Sequence[float], sun: Sequence[float], beam_w_m2: float) -> tuple[float, float]:
        """(body, lid) W taken up now; nothing once the dish looks farther away than the trace goes."""
        if beam_w_m2 <= 0.0:
            return 0.0, 0.0
        lag, elevation, direction = lag_direction(axis, sun)
        if lag >= self._lag[-1]:
            return 0.0, 0.0
        i, fi = _place(self._lag, lag)
        j, fj = _place(self._elevation, elevation)
        turn = direction * self._turns / 360.0
        k = int(turn) % self._turns
        fk, k2 = turn - int(turn), (k + 1) % self._turns
        body = lid = 0.0
        for wave, rows in zip(self._waves(axis), self._rows, strict=False):
            for row, wi in ((rows[i], 1.0 - fi), (rows[i + 1], fi)):
                for col, wj in ((row[j], wi * (1.0 - fj)), (row[j + 1], wi * fj)):
                    near, far, w = col[k], col[k2], wave * wj
                    body += w * (near[0] + fk * (far[0] - near[0]))
                    lid += w * (near[1] + fk * (far[1] - near[1]))
        scale = beam_w_m2 * self.w_per_share
        return max(body, 0.0) * scale, max(lid, 0.0) * scale

    def shares(self, axis: NDArray, sun: NDArray) -> NDArray:
        """Share taken up by the whole pot for rows (n, 3) of ENU unit vectors of dish axis and sun."""
        lag, elevation, direction = lag_directions(axis, sun)
        around = np.concatenate([self._taken, self._taken[:, :, :, :1]], axis=3).sum(axis=-1)
        grid = (self._lag, self._elevation, np.arange(self._turns + 1) * 360.0 / self._turns)
        at = np.stack([np.minimum(lag, self._lag[-1]),
                       np.clip(elevation, self._elevation[0], self._elevation[-1]), direction], axis=-1)
        look = np.radians(self.bearing_deg) - np.arctan2(axis[..., 0], axis[..., 1])
        waves = (np.ones_like(look), np.cos(look), np.sin(look), np.cos(2.0 * look))
        out = sum(wave * RegularGridInterpolator(grid, rows)(at)
                  for wave, rows in zip(waves, around, strict=False))
        return np.where(lag < self._lag[-1], np.maximum(out, 0.0), 0.0)

    def full_share(self, sun: NDArray) -> NDArray:
        """Share at full heat: of a pot that stands where it should, dish dead on these suns (n, 3)."""
        height = np.degrees(np.arcsin(np.clip(sun[..., 2], -1.0, 1.0)))
        return np.interp(height, self.true.elevation_deg, self.true.absorbed[0].mean(axis=-1))

    def _waves(self, axis: Sequence[float]) -> tuple[float, ...]:
        """Weights of the terms in the turn of the pot's offset as the dish sees it."""
        if len(self._rows) == 1:
            return (1.0,)
        look = math.radians(self.bearing_deg) - math.atan2(axis[0], axis[1])
        return 1.0, math.cos(look), math.sin(look), math.cos(2.0 * look)


def _place(grid: list[float], value: float) -> tuple[int, float]:
    """Index of the step that holds `value`, and how far into it; held at the ends."""
    i = min(max(bisect_right(grid, value) - 1, 0), len(grid) - 2)
    return i, min(max((value - grid[i]) / (grid[i + 1] - grid[i]), 0.0), 1.0)


def _taken(found: Intercept) -> NDArray:
    """Shares (1, lag, elevation, direction, 2) taken up by body and lid."""
    optics, parts = found.optics, found.parts
    body = parts["bottom"] * optics.bottom_absorptance + parts["wall"] * optics.wall_absorptance
    return np.stack([body, parts["lid"] * optics.lid_absorptance], axis=-1)[None]


def _taken_beside(true: Intercept, offset_m: float, progress: Progress | None) -> NDArray:
    """Terms 1, cos, sin, cos 2 of the shares in the turn of an offset against the dish's own forward.

    What the offset changes is traced on a coarser grid, with the same rays as the pot at the focus, so that
    their noise falls out; with the pot ahead, to the right and behind, as to the left mirrors to the right.
    """
    key = json.dumps([true.optics.model_dump(), true.rays, offset_m, _BESIDE_RAYS, TRACE_VERSION])
    path = cache_dir() / "optics" / f"beside-{hashlib.sha256(key.encode()).hexdigest()[:32]}.npz"
    kept = load(path, ("terms",))
    if kept is not None:
        return np.asarray(kept["terms"])
    focus, ahead, right, behind = (
        _taken(intercept(true.optics, _LAGS_DEG, _ELEVATIONS_DEG, true.direction_deg, _BESIDE_RAYS,
                         progress=progress, offset_m=(x * offset_m, y * offset_m, 0.0)))[0]
        for x, y in ((0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (0.0, -1.0)))
    left = right[:, :, (-np.arange(right.shape[2])) % right.shape[2]]
    terms = np.stack([(ahead + right + behind + left) / 4.0 - focus, (ahead - behind) / 2.0,
                      (right - left) / 2.0, (ahead - right + behind - left) / 4.0])
    where = np.stack(np.meshgrid(true.lag_deg, true.elevation_deg, indexing="ij"), axis=-1)
    fine = np.stack([RegularGridInterpolator((_LAGS_DEG, _ELEVATIONS_DEG), term)(where) for term in terms])
    fine[0] += _taken(true)[0]
    save(path, {"terms": fine})
    return fine
