"""All that the light does off the pot, in one place: clear angles, guarded volume, stand-off, guard plates.

Units: metres, degrees, W/m2 and kW/m2 as named. Figures of a small trace are kept on disk for `sunhob check`.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sunhob.cache import cache_dir

from .flux import MAP_LAGS_DEG, FluxMap, Tell, flux_map, guarded_radius_m, loose_clear_deg, silent
from .geometry import Optics
from .intercept import Intercept
from .kept import load, save
from .plate import (
    ELEVATIONS_DEG,
    NO_PLATE_PERCENT,
    Guard,
    guard_for_least,
    guarded_dialled_m,
)
from .standoff import NO_DISCOMFORT_W_M2, STOLL_LONGEST_S, Standoff, standoff, stoll_w_m2

LOOSE_VERSION = 2  # raise it when a change here or in flux.py, plate.py, rays.py moves the figures
LEAST_RAYS, QUICK_RAYS, FULL_RAYS = 1 << 13, 1 << 14, 1 << 15  # fewer make noise into hot cells
PLATE_PERCENTS = (30.0, 20.0, 10.0)


@dataclass(frozen=True)
class Clear:
    """Traced angles (deg) and guarded radii (m): of full heat, and of the dial down to 40 %.

    `pot_clear_deg` is None where the intercept's lags end before the pot is clear.
    """

    pot_clear_deg: float | None
    loose_clear_deg: float
    guarded_full_m: float
    guarded_m: float


@dataclass(frozen=True)
class LooseLight:
    """Clear angles, guarded volume, stand-off distances, flux by lag, and plates for a lower least heat."""

    clear: Clear
    standoff: Standoff
    peaks: list[dict[str, Any]]
    plates: list[Guard]
    cell_m: float
    rays: int


def cached_clear(optics: Optics, found: Intercept, seed: int = 1, tell: Tell = silent) -> Clear:
    """Clear angles from a quick trace (about two seconds), kept on disk."""
    key = [optics.model_dump(), "clear", found.rays, found.seed, QUICK_RAYS, seed, LOOSE_VERSION]
    path = cache_dir() / "optics" / f"{hashlib.sha256(json.dumps(key).encode()).hexdigest()[:32]}.npz"
    kept = load(path, ("clear",))
    if kept is not None and kept["clear"].shape == (4,):
        pot_clear, *rest = (float(value) for value in kept["clear"])
        return Clear(None if np.isnan(pot_clear) else pot_clear, *rest)
    clear = _clear(optics, found, flux_map(optics, 0.0, QUICK_RAYS, seed), QUICK_RAYS, seed, tell)
    save(path, {"clear": np.array(list(asdict(clear).values()), dtype=float)})
    return clear


def cached_plate_m(
    optics: Optics, found: Intercept, percent: float, clear: Clear, tell: Tell = silent
) -> float:
    """Diameter (m) of the least plate for a least heat in percent, kept on disk; 0: none is needed, inf: none
    is wide enough."""
    if percent >= NO_PLATE_PERCENT:
        return 0.0
    key = [optics.model_dump(), "plate", found.rays, found.seed, percent, clear.guarded_m, LOOSE_VERSION]
    path = cache_dir() / "optics" / f"{hashlib.sha256(json.dumps(key).encode()).hexdigest()[:32]}.npz"
    kept = load(path, ("plate",))
    if kept is not None and kept["plate"].shape == (1,):
        return float(kept["plate"][0])
    size = guard_for_least(optics, percent, found, clear.guarded_m, tell=tell).diameter_m
    save(path, {"plate": np.array([size])})
    return size


def _clear(optics: Optics, found: Intercept, full: FluxMap, rays: int, seed: int, tell: Tell) -> Clear:
    guarded_full = guarded_radius_m(full)
    guarded = max(guarded_full, guarded_dialled_m(optics, found, rays, seed, tell))
    loose = loose_clear_deg(optics, guarded, rays, seed, tell=tell)
    return Clear(found.pot_clear_deg, loose, guarded_full, guarded)


def loose_parts() -> int:
    """About how often loose_light calls `tell(1)`, for a progress bar."""
    return len(MAP_LAGS_DEG) + 13 + len(PLATE_PERCENTS) * len(ELEVATIONS_DEG)


def loose_light(
    optics: Optics, found: Intercept, rays: int = FULL_RAYS, seed: int = 1, tell: Tell = silent
) -> LooseLight:
    """Trace all of it: flux maps at MAP_LAGS_DEG with `rays` rays each (a power of two), seeded."""
    maps = []
    for lag in MAP_LAGS_DEG:
        maps.append(flux_map(optics, lag, rays, seed))
        tell(1)
    clear = _clear(optics, found, maps[0], rays, seed, tell)
    limits = (stoll_w_m2(STOLL_LONGEST_S), NO_DISCOMFORT_W_M2)
    skin, comfort = (max(one.farthest_m(limit) for one in maps) for limit in limits)
    distances = standoff(optics.aperture_diameter_m, optics.focal_length_m, optics.returned,
                         optics.slope_error_mrad, optics.specularity_mrad, skin, comfort)
    half = max(LEAST_RAYS, rays // 2)
    plates = [guard_for_least(optics, p, found, clear.guarded_m, half, seed, tell) for p in PLATE_PERCENTS]
    return LooseLight(clear, distances, [_peaks(one, clear) for one in maps], plates, maps[0].cell_m, rays)


def _peaks(one: FluxMap, clear: Clear) -> dict[str, Any]:
    peak, beyond = one.peak(), one.peak(clear.guarded_m)
    place = beyond.place_m
    return {
        "lag_deg": one.lag_deg,
        "peak_suns": peak.flux_w_m2 / 1000.0,
        "peak_suns_standard_error": peak.standard_error_w_m2 / 1000.0,
        "peak_from_focus_m": float(np.linalg.norm(peak.place_m)),
        "beyond_guarded_suns": beyond.flux_w_m2 / 1000.0,
        "beyond_guarded_suns_standard_error": beyond.standard_error_w_m2 / 1000.0,
        "beyond_guarded_at_m": {"right": place[0], "up": place[1], "axis": place[2]},
        "farthest_4_kw_m2_m": one.farthest_m(4000.0),
    }
