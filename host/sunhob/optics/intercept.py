"""Share of the light that reaches the pot, over lag, axis elevation and direction of the sun.

Units: degrees, watts per 1000 W/m2 of beam, shares of the light that an unshaded aperture squarely to the
sun would collect (the cosine of the lag is in them, so watts are share * returned * beam * area).

The dish is round and its errors are alike both ways, so the rays off the mirror depend on the lag alone; the
other two only say how the pot stands in that bundle. One reflection thus serves every attitude at a lag, and
the same draws serve every lag, which keeps the noise of neighbouring points alike and curves smooth.
Arms that hold the pot are a plain share of shade, alike everywhere: one arm with its own place would end
that symmetry, and is not modelled. Light that the pot itself throws on, or that meets the mirror a second
time, is not followed.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sunhob.cache import cache_dir
from sunhob.errors import UserError

from .geometry import Optics
from .kept import load, save
from .rays import NO_OFFSET, to_level
from .shares import Intercept, gathered
from .tally import tally

Floats = NDArray[Any]
Progress = Callable[[int, int], None]  # (parts done, parts in all)
TRACE_VERSION = 2  # raise it when a change here or in rays.py moves the figures
REPLICATES = 8  # independent scrambles; their scatter is the error told
LAGS_DEG = (*range(13), 14, 16, 18, 20, 24, 28, 34, 40)
ELEVATIONS_DEG = tuple(range(10, 91, 10))
DIRECTIONS_DEG = tuple(range(0, 360, 45))
CACHED_RAYS = 1 << 15
_WORTH_PROCESSES = 100_000_000  # rays times points; starting processes costs about as much as tracing these
_LAGS_A_PART = 4


def intercept(
    optics: Optics,
    lag_deg: ArrayLike = LAGS_DEG,
    elevation_deg: ArrayLike = ELEVATIONS_DEG,
    direction_deg: ArrayLike = DIRECTIONS_DEG,
    rays: int = 100_000,
    seed: int = 1,
    progress: Progress | None = None,
    *,
    offset_m: tuple[float, float, float] = NO_OFFSET,
    limb_darkened: bool = True,
    jobs: int | None = None,
) -> Intercept:
    """Trace the pot's share over a grid of lags, axis elevations and directions, all in degrees, rising.

    At least `rays` a point: rounded up to REPLICATES times a power of two, as the sequence wants. `offset_m`
    moves the pot (right, forward, up). The result depends on `seed`, not on the number of `jobs`.
    UserError for a grid or a number of rays that will not do.
    """
    grid = (
        _grid("lag", lag_deg, 0.0, 80.0),
        _grid("elevation", elevation_deg, -90.0, 90.0),
        _grid("direction", direction_deg, 0.0, 359.999),
    )
    if not 256 <= rays <= 100_000_000:
        raise UserError(f"rays = {rays} will not do; give 256 to 100000000")
    return _traced(optics, grid, rays, seed, progress, offset_m, limb_darkened, jobs)[0]


def cached_intercept(
    optics: Optics, progress: Progress | None = None, rays: int = CACHED_RAYS, seed: int = 1
) -> Intercept:
    """The default grid, kept on disk by optics, rays, seed and TRACE_VERSION; traced where it is not there.

    Fewer rays than `sunhob optics` takes: its standard error is beside it. Never fails for the disk's sake.
    """
    key = [optics.model_dump(), LAGS_DEG, ELEVATIONS_DEG, DIRECTIONS_DEG, rays, seed, TRACE_VERSION]
    name = hashlib.sha256(json.dumps(key).encode()).hexdigest()[:32]
    path = cache_dir() / "optics" / f"{name}.npz"
    kept = load(path, ("shares", "run"))
    grid = tuple(np.asarray(values, dtype=float) for values in (LAGS_DEG, ELEVATIONS_DEG, DIRECTIONS_DEG))
    if kept is not None:
        run = (int(kept["run"][0]), seed, float(kept["run"][1]))
        return gathered(optics, grid, kept["shares"], run, NO_OFFSET)
    found, shares = _traced(optics, grid, rays, seed, progress, NO_OFFSET, True, None)
    save(path, {"shares": shares, "run": np.array([found.rays, found.wall_s])})
    return found


def _grid(name: str, values: ArrayLike, low: float, high: float) -> Floats:
    grid = np.atleast_1d(np.asarray(values, dtype=float))
    good = grid.ndim == 1 and grid.size > 0 and np.all(np.isfinite(grid))
    if not (good and low <= grid[0] and grid[-1] <= high and np.all(np.diff(grid) > 0.0)):
        raise UserError(f"{name} grid: give rising numbers from {low:g} to {high:g} deg")
    return grid


def _traced(
    optics: Optics,
    grid: tuple[Floats, ...],
    rays: int,
    seed: int,
    progress: Progress | None,
    offset_m: tuple[float, float, float],
    limb_darkened: bool,
    jobs: int | None,
) -> tuple[Intercept, Floats]:
    """The result and the shares [replicate, lag, elevation, direction, kind] it was made of."""
    started = time.perf_counter()
    lags, elevations, directions = grid
    each = 1 << max(5, (-(-rays // REPLICATES) - 1).bit_length())
    slices = [slice(i, i + _LAGS_A_PART) for i in range(0, lags.size, _LAGS_A_PART)]
    # a pot not moved sideways looks the same from right and left: 270 deg is 90 deg seen in a mirror
    sides = directions if offset_m[0] else np.minimum(directions, 360.0 - directions)
    traced, alike = np.unique(sides, return_inverse=True)
    turns = np.array([[to_level(e, d) for d in traced] for e in elevations], dtype=np.float32)
    work = [
        (optics, lags[part], turns, each, seed, replicate, offset_m, limb_darkened)
        for replicate in range(REPLICATES)
        for part in slices
    ]
    if jobs is None and each * REPLICATES * lags.size * turns[..., 0, 0].size < _WORTH_PROCESSES:
        jobs = 1
    found = _run(work, jobs, progress)
    shares = np.stack([np.concatenate(found[i : i + len(slices)]) for i in range(0, len(found), len(slices))])
    shares = shares[:, :, :, alike]
    shares[:, lags == 0.0] = shares[:, lags == 0.0].mean(axis=3, keepdims=True)  # no direction there
    run = (each * REPLICATES, seed, time.perf_counter() - started)
    return gathered(optics, grid, shares, run, offset_m), shares


def _run(work: list[tuple[Any, ...]], jobs: int | None, progress: Progress | None) -> list[Floats]:
    """Each part of the work done, in its order, over this many processes (None: one a core)."""
    from joblib import Parallel, cpu_count, delayed

    count = min(jobs or cpu_count(), len(work))
    found: list[Floats] = []
    results = Parallel(n_jobs=count, return_as="generator")(delayed(tally)(*item) for item in work)
    for done, result in enumerate(results, 1):
        found.append(result)
        if progress is not None:
            progress(done, len(work))
    return found
