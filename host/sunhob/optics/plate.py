"""The guard plate: how wide it must be for a wanted least heat, and whether a declared one is wide enough.

Units: metres, degrees, percent of full heat, W/m2. Frames as in geometry.py.

Dialled down, part of the light misses the pot and flies on. Without a plate the dial ends at 40 % of full
heat, and the guarded volume is the sphere about the focus that holds everything above 4 kW/m2 on the way
there. Below 40 % a cell beyond that sphere and above 4 kW/m2 is hot. The plate, a level ring from the pot
outward, takes what crosses its plane: it is wide enough when the spill that passes it leaves no cell hot.
Light on its way to plate or pot is no spill, but as strong as ever: nobody reaches in under the plate.

Of the aims behind the sun the mount takes one whose spill is least. With the sun square to the side of the
axis (direction 90 or 270) an aim is behind the sun at every hour, half-way up or down from there at most
hours: the plate is sized for the best of these three, at every elevation. Left and right are alike.

A plate also shades the mirror and the pot's wall, so that less lag is enough once it is there: a size found
for a dish without its plate is on the wide side. Declare the plate and trace again to see its heat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .flux import Tell, flux_map, mapped, silent
from .geometry import Optics
from .intercept import Intercept
from .rays import MISSED, meets_pot, to_level
from .standoff import NO_PLATE_PERCENT, WOOD_W_M2

Floats = NDArray[Any]
ELEVATIONS_DEG = (30.0, 50.0, 70.0, 90.0)
DIRECTIONS_DEG = (90.0, 45.0, 135.0)
MAP_NOISE = 1.1  # the greatest of many noisy cells is told as at the limit up to so much above it
RAYS = 1 << 14
LAG_STEP_DEG = 0.5
_HALVINGS = 7
_DIAL_MAPS = 5


@dataclass(frozen=True)
class Hot:
    """Cells above the limit at one lag: `cell` and `ray` (samples,) say whose `flux_w_m2` is in which;
    `start_m` and `way` (3, rays) in the dish frame."""

    cells: int
    cell: NDArray[Any]
    ray: NDArray[Any]
    flux_w_m2: Floats
    start_m: Floats
    way: Floats


@dataclass(frozen=True)
class Guard:
    """Least plate for a least heat: diameter in m (0: none is needed, inf: none is wide enough)."""

    percent: float
    diameter_m: float
    by_elevation_m: dict[float, float]
    lag_deg: dict[float, float]  # dialled down to `percent` at each elevation, with the best aim


def dialled_lag_deg(found: Intercept, percent: float, elevation_deg: float, direction_deg: float) -> float:
    """Least lag (deg) at which the pot gets no more than this share of the heat it gets aimed true."""
    lags = np.linspace(0.0, float(found.lag_deg[-1]), 241)
    heat = found.at(lags, elevation_deg, direction_deg, "absorbed")
    falling = np.minimum.accumulate(heat / heat[0])
    return float(np.interp(-percent / 100.0, -falling, lags))


def dial_end_deg(found: Intercept, percent: float) -> float:
    """Lag (deg) that is enough at every elevation to dial down to `percent`, sun to the side of the axis."""
    return max(dialled_lag_deg(found, percent, e, DIRECTIONS_DEG[0]) for e in ELEVATIONS_DEG)


def guarded_dialled_m(
    optics: Optics, found: Intercept, rays: int = RAYS, seed: int = 1, tell: Tell = silent
) -> float:
    """Radius (m) of the guarded sphere: it holds all above 4 kW/m2 from full heat down to 40 %, no plate."""
    far = 0.0
    for lag in np.linspace(0.0, dial_end_deg(found, NO_PLATE_PERCENT), _DIAL_MAPS):
        one = flux_map(optics, float(lag), rays, seed)
        far = max(far, one.farthest_m(WOOD_W_M2) + one.cell_m / 2.0)
        tell(1)
    return far


def hot_cells(optics: Optics, lag_deg: float, guarded_m: float, rays: int = RAYS, seed: int = 1) -> Hot:
    """The cells above the limit beyond the guarded sphere at a lag, with the rays that make them so."""
    one, samples = mapped(optics, lag_deg, rays, seed)
    over = (one.above(WOOD_W_M2) & (one.from_focus_m >= guarded_m)).ravel()
    mine = over[samples.cell]
    cell = 2 * (np.cumsum(over) - 1)[samples.cell[mine]] + samples.left[mine]
    flux = samples.flux_w_m2[mine]
    return Hot(2 * int(over.sum()), cell, samples.ray[mine], flux, samples.start_m, samples.way)


def plate_m(optics: Optics, hot: Hot, elevation_deg: float, direction_deg: float) -> float:
    """Diameter (m) of the least ring that cools every hot cell; 0 if none is hot, inf if no ring can."""
    crossing = _crossing_m(optics, hot, to_level(elevation_deg, direction_deg))[hot.ray]

    def cool(radius_m: float) -> bool:
        left = np.bincount(hot.cell, np.where(crossing > radius_m, hot.flux_w_m2, 0.0), hot.cells)
        return not hot.cells or bool(left.max() <= WOOD_W_M2 * MAP_NOISE)

    low, high = optics.pot_diameter_m / 2.0, optics.aperture_diameter_m / 2.0
    if cool(low):
        return 0.0
    if not cool(high):
        return math.inf
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if cool(middle) else (middle, high)
    return 2.0 * high


def _crossing_m(optics: Optics, hot: Hot, turn: Floats) -> Floats:
    """How far from the pot's upright each ray crosses the plane of the plate, m: 0 if the pot takes it, inf
    if it never crosses, or only within the pot's own width."""
    start, way = turn @ hot.start_m, turn @ hot.way
    bare = optics.model_copy(update={"guard_diameter_m": 0.0})
    hit, _distance, _over = meets_pot(bare, start, way)
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (-optics.guard_below_focus_m - start[2]) / way[2]
        radius = np.hypot(start[0] + far * way[0], start[1] + far * way[1])
    crosses = (far > 0.0) & (radius > optics.pot_diameter_m / 2.0)
    return np.where(hit != MISSED, 0.0, np.where(crosses, radius, np.inf))


def guard_for_least(
    optics: Optics, percent: float, found: Intercept, guarded_m: float, rays: int = RAYS, seed: int = 1,
    tell: Tell = silent,
) -> Guard:
    """The least plate for heat dialled down to `percent`, at the height `guard_below_focus_m` of the optics.

    `guarded_m` as of guarded_dialled_m; `tell(1)` is called after each of the len(ELEVATIONS_DEG) elevations.
    """
    known: dict[float, Hot] = {}
    sizes, lags = {}, {}
    for elevation in ELEVATIONS_DEG:
        best = (math.inf, math.nan)
        for direction in DIRECTIONS_DEG:
            lag = dialled_lag_deg(found, percent, elevation, direction)
            lag = math.ceil(lag / LAG_STEP_DEG) * LAG_STEP_DEG
            if lag not in known:
                known[lag] = hot_cells(optics, lag, guarded_m, rays, seed)
            size = plate_m(optics, known[lag], elevation, direction)
            best = min(best, (size, lag)) if not math.isnan(best[1]) else (size, lag)
            if size == 0.0:
                break
        sizes[elevation], lags[elevation] = best
        tell(1)
    return Guard(percent, max(sizes.values()), sizes, lags)
