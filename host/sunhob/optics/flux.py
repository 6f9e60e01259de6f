"""Gathered light in the space about the focus: how strong, how far out, and at which lags it is loose.

Units: metres, degrees, W/m2. Frame: the dish frame of geometry.py (right, up, axis), origin at the focus, sun
in direction 0; a round dish needs no other, at any elevation.

The pot is left out: it may be lifted away, and what it takes only makes the light less. Flux is the light
that crosses a cubic cell, power times length of path over volume: never less than what a plate in the cell
gets. Cells are 3 cm wide (about what a finger or an ember covers; more where the map reaches beyond 2.1 m).
Paths are sampled at one random place in every cell's width, both sides of the plane of symmetry put together.
A second reflection is left out (rays end where they meet the dish again). A peak is the greatest of many
noisy cells, so few rays make it too high rather than too low; `Peak.standard_error_w_m2` counts the samples.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .geometry import Optics
from .rays import reflect
from .standoff import WOOD_W_M2
from .sunshape import draw

Floats = NDArray[Any]
Tell = Callable[[int], Any]  # told how many parts of the work are newly done
CELL_M = 0.03
CELLS_A_SIDE = 70.0
FULL_SUN_W_M2 = 1000.0
MAP_LAGS_DEG = (0.0, 4.0, 8.0, 12.0, 25.0, 40.0, 55.0, 65.0, 75.0, 80.0, 85.0)
_DARK_DEG = 90.0  # from here on no sun falls through the rim


def silent(_parts: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True)
class Peak:
    """The strongest cell: W/m2 with its standard error, and its place (right, up, axis) in m."""

    flux_w_m2: float
    standard_error_w_m2: float
    place_m: tuple[float, float, float]


@dataclass(frozen=True)
class FluxMap:
    """Flux (right, up, axis), W/m2, in cells `cell_m` wide at one lag; `low_m` is the middle of the first.

    The right half only: the left is its mirror image. `sample_w_m2` is what one sample adds to a cell.
    """

    lag_deg: float
    cell_m: float
    low_m: tuple[float, float, float]
    flux_w_m2: Floats
    sample_w_m2: float
    rays: int
    far_w: float  # reflectance * DNI * rim ray squared, the closed law beyond the map

    @cached_property
    def from_focus_m(self) -> Floats:
        """Distance of each cell's middle from the focus, m."""
        shape = self.flux_w_m2.shape
        axes = [low + self.cell_m * np.arange(n) for low, n in zip(self.low_m, shape, strict=True)]
        right, up, out = (axis.astype(np.float32) ** 2 for axis in axes)
        return np.asarray(np.sqrt(right[:, None, None] + up[None, :, None] + out[None, None, :]))

    def peak(self, beyond_m: float = 0.0) -> Peak:
        """The strongest cell at least so far (m) from the focus."""
        seen = np.where(self.from_focus_m >= beyond_m, self.flux_w_m2, 0.0)
        where = np.unravel_index(int(np.argmax(seen)), seen.shape)
        flux = float(seen[where])
        place = tuple(float(low + self.cell_m * i) for low, i in zip(self.low_m, where, strict=True))
        half = 1.0 if where[0] else 2.0  # the middle slab is not counted twice
        return Peak(flux, float(np.sqrt(flux * self.sample_w_m2 * half)), place)  # type: ignore[arg-type]

    def above(self, flux_w_m2: float) -> NDArray[np.bool_]:
        """The cells above a flux (W/m2) by more than their own standard error."""
        return np.asarray(self.flux_w_m2 - np.sqrt(self.flux_w_m2 * self.sample_w_m2) > flux_w_m2)

    def farthest_m(self, flux_w_m2: float) -> float:
        """Distance (m) of the farthest cell above a flux (W/m2) by more than its error; 0 where none is.

        Where that is the edge of the map, the closed law of a smooth dish far away takes over.
        """
        over = self.above(flux_w_m2)
        edge = over[-1].any() or over[:, (0, -1)].any() or over[:, :, -1].any()
        beyond = float(np.sqrt(self.far_w / flux_w_m2)) + float(self.from_focus_m.max()) if edge else 0.0
        return max(beyond, float(self.from_focus_m[over].max()) if over.any() else 0.0)


@dataclass(frozen=True)
class Samples:
    """What a map is made of: `cell` (flat index into it), `left` (whether in the left half), `ray`, and what
    each sample adds to its own side in W/m2; `start_m` and `way` (3, rays) in the dish frame."""

    cell: NDArray[Any]
    left: NDArray[Any]
    ray: NDArray[Any]
    flux_w_m2: Floats
    start_m: Floats
    way: Floats


def flux_map(
    optics: Optics, lag_deg: float, rays: int = 1 << 16, seed: int = 1, dni_w_m2: float = FULL_SUN_W_M2
) -> FluxMap:
    """Trace `rays` rays (a power of two) at a lag and gather what they carry through each cell."""
    return mapped(optics, lag_deg, rays, seed, dni_w_m2)[0]


def mapped(
    optics: Optics, lag_deg: float, rays: int, seed: int = 1, dni_w_m2: float = FULL_SUN_W_M2
) -> tuple[FluxMap, Samples]:
    """The flux map of a lag, and the samples it was made of."""
    grid = _Grid(optics)
    found = reflect(optics, draw(rays, seed), lag_deg)
    alive = ~found.in_hole & (found.power > 0.0)
    start, way, power = found.point_m[:, alive], found.ray[:, alive], found.power[alive]
    places = _march(grid, start, way, found.reach_m[alive], seed)
    cell, left, ray = (np.concatenate(part) for part in zip(*places, strict=True))
    watts = optics.returned * dni_w_m2 * optics.aperture_m2
    one = watts / grid.cell**2 / 2.0  # by a sample of power 1, were both halves counted in its cell
    flux = np.bincount(cell, power[ray], int(np.prod(grid.shape))).reshape(grid.shape) * one
    flux[0] *= 2.0  # the slab through the axis is not folded: |right| < cell/2 is its whole width
    rim_ray = optics.focal_length_m + optics.aperture_diameter_m**2 / (16.0 * optics.focal_length_m)
    low = (0.0, -grid.half * grid.cell, -grid.deep * grid.cell)
    far = optics.returned * dni_w_m2 * rim_ray**2
    whole = FluxMap(lag_deg, grid.cell, low, flux.astype(np.float32), one / rays, rays, far)
    return whole, Samples(cell, left, ray, power[ray] * np.float32(2.0 * one), start, way)


class _Grid:
    """Cells of a map: `shape`, width in m, whole cells below the focus and to each side."""

    def __init__(self, optics: Optics) -> None:
        reach = optics.aperture_diameter_m * 1.1 + optics.focal_length_m
        self.cell = max(CELL_M, reach / CELLS_A_SIDE)
        self.half = math.ceil(reach / self.cell)
        self.deep = math.ceil(optics.focal_length_m / self.cell)
        self.shape = (self.half + 1, 2 * self.half + 1, self.deep + self.half + 1)


def _march(grid: _Grid, start: Floats, way: Floats, reach: Floats, seed: int) -> Iterator[tuple[Any, ...]]:
    """(cell, whether in the left half, ray) of each ray, at one random place in every cell's width of its
    path until it leaves the map or ends."""
    random = np.random.default_rng([seed, 7]).random(start.shape[1], dtype=np.float32)
    at = start / np.float32(grid.cell) + way * random
    left = np.minimum(reach / np.float32(grid.cell), 1e6) - random
    ray = np.arange(start.shape[1], dtype=np.int32)
    edge = np.float32(grid.half + 0.5)
    low = np.float32(-grid.deep - 0.5)
    while ray.size:
        inside = left > 0.0
        inside &= np.abs(at[0]) < edge
        inside &= np.abs(at[1]) < edge
        inside &= (at[2] > low) & (at[2] < edge)
        if not inside.all():
            at, way, left, ray = at[:, inside], way[:, inside], left[inside], ray[inside]
        index = (np.abs(at[0]) + np.float32(0.5)).astype(np.int32)
        index *= grid.shape[1]
        index += (at[1] + edge).astype(np.int32)
        index *= grid.shape[2]
        index += (at[2] - low).astype(np.int32)
        yield index, at[0] < -0.5, ray
        at = at + way
        left = left - np.float32(1.0)


def guarded_radius_m(full_heat: FluxMap, limit_w_m2: float = WOOD_W_M2) -> float:
    """Radius (m) of the sphere about the focus that holds all above the limit (W/m2) at full heat."""
    return full_heat.farthest_m(limit_w_m2) + full_heat.cell_m / 2.0


def loose_clear_deg(
    optics: Optics,
    guarded_m: float,
    rays: int = 1 << 15,
    seed: int = 1,
    limit_w_m2: float = WOOD_W_M2,
    tell: Tell = silent,
) -> float:
    """Least lag (deg) from which on no cell beyond `guarded_m` of the focus is above the limit (W/m2).

    Found from above by steps of 5 deg, then halved to 0.25 deg. `tell(1)` is called for each map traced.
    """

    def loose(lag_deg: float) -> bool:
        strongest = flux_map(optics, lag_deg, rays, seed).peak(guarded_m).flux_w_m2
        tell(1)
        return strongest > limit_w_m2

    low = _DARK_DEG
    while low > 0.0 and not loose(low - 5.0):
        low -= 5.0
    if low <= 0.0:
        return 0.0
    low, high = low - 5.0, low
    while high - low > 0.25:
        middle = (low + high) / 2.0
        low, high = (middle, high) if loose(middle) else (low, middle)
    return high
