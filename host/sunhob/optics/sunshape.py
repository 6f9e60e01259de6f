"""Quasi-random draws that every ray is made of: entry point, place on the sun's disc, mirror errors.

Units: the entry point in rim radii, angles in radians on the sun's disc, standard deviations for the errors.

Limb darkening is the grey-atmosphere law of Eddington, I(mu)/I(1) = (2 + 3 mu) / 5 with mu the cosine of the
angle to the normal of the sun's surface; measured total light keeps to it within 0.7 % to mid-disc and 7 %
at worst (table beside tests/test_optics_sunshape.py). Radius of the disc 4.65 mrad.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]
SUN_RADIUS_RAD = 4.65e-3
CENTRE_OVER_MEAN = 1.25  # brightness of the disc's centre over its mean, by the law above: 1 / (4/5)
_DIMENSIONS = 8


@dataclass(frozen=True)
class Draws:
    """What N rays are made of, float32: the same draws serve every lag, so that curves come out smooth."""

    entry: Floats  # (2, N), points of the unit disc
    sun: Floats  # (2, N), tangents of the offset from the sun's centre, two ways
    slope: Floats  # (2, N), standard normal: mirror slope along the radius and across it
    scatter: Floats  # (2, N), standard normal: scatter of the reflected ray, two ways


def disc_radius_share(share: Floats, limb_darkened: bool = True) -> Floats:
    """Radius (0..1 of the disc's) inside which this share (0..1) of the sun's light lies.

    Limb-darkened: the light outside the radius of cosine mu is (mu**2 + mu**3) / 2, from the law above.
    """
    if not limb_darkened:
        return np.asarray(np.sqrt(share))
    mu = np.linspace(0.0, 1.0, 4097)
    inside = 1.0 - (mu**2 + mu**3) / 2.0
    return np.asarray(np.sqrt(np.maximum(1.0 - np.interp(share, inside[::-1], mu[::-1]) ** 2, 0.0)))


def draw(count: int, seed: int, replicate: int = 0, limb_darkened: bool = True) -> Draws:
    """The first `count` draws (a power of two is best) of one scramble of the Sobol sequence."""
    return next(blocks(count, count, seed, replicate, limb_darkened))


def blocks(count: int, block: int, seed: int, replicate: int = 0, limb_darkened: bool = True) -> Any:
    """Yield Draws of at most `block` rays until `count` are made; memory is that of one block."""
    from scipy.stats import qmc  # here: it takes a second to load, and a trace that is kept needs none of it

    sobol = qmc.Sobol(_DIMENSIONS, scramble=True, rng=np.random.default_rng([seed, replicate]))
    for start in range(0, count, block):
        u = sobol.random(min(block, count - start)).T
        yield _shaped(np.clip(u, 1e-9, 1.0 - 1e-9), limb_darkened)


def _shaped(u: Floats, limb_darkened: bool) -> Draws:
    from scipy.special import ndtri

    turn = 2.0 * np.pi * u[1]
    entry = np.sqrt(u[0]) * np.stack([np.cos(turn), np.sin(turn)])
    turn = 2.0 * np.pi * u[3]
    off = np.tan(SUN_RADIUS_RAD * disc_radius_share(u[2], limb_darkened))
    sun = off * np.stack([np.cos(turn), np.sin(turn)])
    parts = (entry, sun, ndtri(u[4:6]), ndtri(u[6:8]))
    return Draws(*(np.ascontiguousarray(part, dtype=np.float32) for part in parts))
