"""The work of a ray trace: one scramble of rays at a few lags against every attitude of the pot.

Units: metres, degrees; shares of what an unshaded aperture squarely to the sun would collect.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .geometry import Optics
from .rays import HIT_NAMES, HOLE, MISSED, SHADED, Rays, meets_pot, reflect
from .sunshape import blocks

Floats = NDArray[Any]
BLOCK = 1 << 14  # rays at once: the working set stays in a core's cache
STRAY, OVER_LID = len(HIT_NAMES), len(HIT_NAMES) + 1  # kinds of share, after those of HIT_NAMES
KINDS = len(HIT_NAMES) + 2


def tally(
    optics: Optics,
    lags: Floats,
    turns: Floats,
    count: int,
    seed: int,
    replicate: int,
    offset_m: tuple[float, float, float],
    limb_darkened: bool,
) -> Floats:
    """Shares [lag, elevation, direction, kind] of one scramble; kinds are HIT_NAMES, stray, over the lid."""
    total = np.zeros((lags.size, *turns.shape[:2], KINDS))
    for draws in blocks(count, BLOCK, seed, replicate, limb_darkened):
        for i, lag in enumerate(lags):
            bundle = _Bundle(optics, reflect(optics, draws, float(lag)), offset_m)
            for place in np.ndindex(turns.shape[:2]):
                total[(i, *place)] += bundle.shares(turns[place])
    return total / max(1, count // BLOCK)


class _Bundle:
    """The rays at one lag, sorted once into those that may meet something in some attitude and the rest."""

    def __init__(self, optics: Optics, rays: Rays, offset_m: tuple[float, float, float]) -> None:
        self.optics, self.offset_m = optics, offset_m
        moved = float(np.linalg.norm(offset_m))
        plate = math.hypot(optics.guard_diameter_m / 2.0, optics.guard_below_focus_m)
        solid = max(optics.pot_reach_m + moved, plate if optics.guard_diameter_m else 0.0)
        lid_room = math.hypot(optics.pot_diameter_m / 2.0 + moved, max(optics.guarded_radius_m, solid))
        passing = _closest_m(rays.point_m, rays.ray)
        mirror = ~rays.in_hole
        shady = mirror & (_closest_m(rays.point_m, rays.sun) < solid)
        near = mirror & ~shady & (passing < lid_room)
        order = np.concatenate([np.flatnonzero(shady), np.flatnonzero(near)])
        self.shady = int(shady.sum())
        self.point, self.ray = rays.point_m[:, order], rays.ray[:, order]
        self.sun = rays.sun[:, order[: self.shady]]
        self.power, self.reach = rays.power[order].astype(float), rays.reach_m[order]
        self.outside = passing[order] > optics.guarded_radius_m
        self.rest = np.zeros(KINDS)
        self.rest[HOLE] = rays.power[rays.in_hole].sum(dtype=float)
        self.rest[SHADED] = rays.power.sum(dtype=float) * optics.arm_shade / (1.0 - optics.arm_shade)
        self.rest[[MISSED, STRAY]] = rays.power[mirror & ~shady & ~near].sum(dtype=float)

    def shares(self, turn: Floats) -> Floats:
        """Shares (kind,) with the pot standing as `turn` (3, 3) to the level frame says."""
        optics, n = self.optics, self.shady
        point = turn @ self.point
        hit, distance, over = meets_pot(optics, point, turn @ self.ray, self.offset_m)
        hit[distance > self.reach] = MISSED
        hit[:n][meets_pot(optics, point[:, :n], turn @ self.sun, self.offset_m)[0] != MISSED] = SHADED
        share = self.rest + np.bincount(hit, self.power, KINDS)
        missed = hit == MISSED
        over &= missed
        share[OVER_LID] += self.power @ over
        share[STRAY] += self.power @ (over | (missed & self.outside))
        return share


def _closest_m(point: Floats, ray: Floats) -> Floats:
    """How near lines (3, N) through points (3, N) come to the focus, m."""
    along = np.sum(point * ray, axis=0)
    return np.asarray(np.sqrt(np.maximum(np.sum(point * point, axis=0) - along * along, 0.0)))
