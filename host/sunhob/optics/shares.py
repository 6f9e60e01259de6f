"""What a trace over lag, axis elevation and direction tells: shares of the light, and figures made of them.

Units: degrees, watts, shares of the light that an unshaded aperture squarely to the sun would collect.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .geometry import Optics
from .rays import BOTTOM, HIT_NAMES, LID, NO_OFFSET, WALL
from .tally import OVER_LID, STRAY

Floats = NDArray[Any]
CLEAR_SHARE = 0.01  # the pot is clear of the light below this share


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
        self,
        lag_deg: ArrayLike,
        elevation_deg: ArrayLike,
        direction_deg: ArrayLike,
        beam_w_m2: float = 1000.0,
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
            from scipy.interpolate import RegularGridInterpolator  # slow to load

            self._at[what] = RegularGridInterpolator(grid, around, bounds_error=False, fill_value=None)
        lag, elevation, direction = np.broadcast_arrays(lag_deg, elevation_deg, direction_deg)
        lag = np.clip(lag, self.lag_deg[0], self.lag_deg[-1])
        elevation = np.clip(elevation, self.elevation_deg[0], self.elevation_deg[-1])
        places = np.stack([lag, elevation, np.mod(direction, 360.0)], axis=-1)
        return np.asarray(self._at[what](places)).reshape(lag.shape)


def gathered(
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
