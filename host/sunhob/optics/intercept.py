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
import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RegularGridInterpolator

from sunhob.cache import cache_dir
from sunhob.errors import UserError

from .geometry import Optics
from .kept import load, save
from .rays import BOTTOM, HIT_NAMES, LID, NO_OFFSET, WALL, to_level
from .tally import OVER_LID, STRAY, tally

Floats = NDArray[Any]
Progress = Callable[[int, int], None]  # (parts done, parts in all)
TRACE_VERSION = 2  # raise it when a change here or in rays.py moves the figures
REPLICATES = 8  # independent scrambles; their scatter is the error told
LAGS_DEG = (*range(13), 14, 16, 18, 20, 24, 28, 34, 40)
ELEVATIONS_DEG = tuple(range(10, 91, 10))
DIRECTIONS_DEG = tuple(range(0, 360, 45))
CACHED_RAYS = 1 << 15
CLEAR_SHARE = 0.01  # the pot is clear of the light below this share
_WORTH_PROCESSES = 100_000_000  # rays times points; starting processes costs about as much as tracing these
_LAGS_A_PART = 4


@dataclass(frozen=True)
class Intercept:
    """Where the light goes. Arrays [lag, elevation, direction] hold shares of the light that an unshaded
    aperture squarely to the sun would collect; multiply by optics.returned * beam * optics.aperture_m2 for W.

    fraction: on the pot. absorbed: taken up by it. standard_error: of `fraction`, from independent scrambles.
    stray: spilled light that passes over the lid or farther from the focus than the guarded radius, and is
    not caught by the guard plate. over_lid: the part of it that passes over the lid. `parts` maps each name
    of rays.HIT_NAMES to its share. `rays` is the number at each point.
    """

    optics: Optics
    lag_deg: Floats
    elevation_deg: Floats
    direction_deg: Floats
    fraction: Floats
    absorbed: Floats
    standard_error: Floats
    stray: Floats
    over_lid: Floats
    parts: dict[str, Floats]
    rays: int
    seed: int
    wall_s: float = 0.0
    offset_m: tuple[float, float, float] = NO_OFFSET
    _at: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def full_heat_w_at_1000(self) -> float:
        """Watts into the pot aimed true in 1000 W/m2 of beam, at the elevation where that is most."""
        return float(1000.0 * self.optics.aperture_m2 * self.optics.returned * self.absorbed[0].max())

    @property
    def full_heat_elevation_deg(self) -> float:
        """Elevation of the axis at which the pot gets its full heat, deg."""
        return float(self.elevation_deg[int(np.argmax(self.absorbed[0].mean(axis=1)))])

    def heat_w(
        self, lag_deg: ArrayLike, elevation_deg: ArrayLike, direction_deg: ArrayLike, beam_w_m2: float = 1000.0
    ) -> Floats:
        """Watts into the pot in a beam of so many W/m2 (direct normal irradiance); arguments as of `at`."""
        taken = self.at(lag_deg, elevation_deg, direction_deg, "absorbed")
        return np.asarray(beam_w_m2 * self.optics.aperture_m2 * self.optics.returned * taken)

    @property
    def pot_clear_deg(self) -> float | None:
        """Least lag of the grid from which on the pot gets under 1 % in every attitude, deg, between
        points by their logarithms (it falls off by powers of ten); None if the grid ends before."""
        most = self.fraction.max(axis=(1, 2))
        lit = np.flatnonzero(most >= CLEAR_SHARE)
        if lit.size == 0:
            return float(self.lag_deg[0])
        last = int(lit[-1])
        if last + 1 == most.size:
            return None
        above, below = np.log(most[last]), np.log(max(most[last + 1], 1e-6))
        part = (above - np.log(CLEAR_SHARE)) / (above - below)
        return float(self.lag_deg[last] + part * (self.lag_deg[last + 1] - self.lag_deg[last]))

    def at(
        self, lag_deg: ArrayLike, elevation_deg: ArrayLike, direction_deg: ArrayLike, what: str = "fraction"
    ) -> Floats:
        """`what` ('fraction', 'absorbed', 'stray', 'over_lid' or a name of `parts`) between the points.

        Trilinear; direction goes round; lag and elevation beyond the grid take its edge. Arguments
        broadcast, degrees.
        """
        if what not in self._at:
            values = self.parts[what] if what in self.parts else getattr(self, what)
            around = np.concatenate([values[..., -1:], values, values[..., :1]], axis=2)
            turn = np.concatenate(
                [self.direction_deg[-1:] - 360.0, self.direction_deg, self.direction_deg[:1] + 360.0]
            )
            grid = (self.lag_deg, self.elevation_deg, turn)
            self._at[what] = RegularGridInterpolator(grid, around, bounds_error=False, fill_value=None)
        lag, elevation, direction = np.broadcast_arrays(lag_deg, elevation_deg, direction_deg)
        lag = np.clip(lag, self.lag_deg[0], self.lag_deg[-1])
        elevation = np.clip(elevation, self.elevation_deg[0], self.elevation_deg[-1])
        places = np.stack([lag, elevation, np.mod(direction, 360.0)], axis=-1)
        return np.asarray(self._at[what](places)).reshape(lag.shape)


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
        return _gathered(optics, grid, kept["shares"], run, NO_OFFSET)
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
    return _gathered(optics, grid, shares, run, offset_m), shares


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


def _gathered(
    optics: Optics,
    grid: tuple[Floats, ...],
    shares: Floats,
    run: tuple[int, int, float],
    offset_m: tuple[float, float, float],
) -> Intercept:
    """The result of shares [replicate, lag, elevation, direction, kind]."""
    mean = shares.mean(axis=0)
    on_pot = shares[..., [BOTTOM, WALL, LID]].sum(axis=-1)
    taken = (optics.bottom_absorptance, optics.wall_absorptance, optics.lid_absorptance)
    return Intercept(
        optics=optics,
        lag_deg=grid[0],
        elevation_deg=grid[1],
        direction_deg=grid[2],
        fraction=on_pot.mean(axis=0),
        absorbed=mean[..., [BOTTOM, WALL, LID]] @ np.array(taken),
        standard_error=on_pot.std(axis=0, ddof=1) / math.sqrt(len(shares)),
        stray=mean[..., STRAY],
        over_lid=mean[..., OVER_LID],
        parts={name: mean[..., i] for i, name in enumerate(HIT_NAMES)},
        rays=run[0],
        seed=run[1],
        wall_s=run[2],
        offset_m=offset_m,
    )
