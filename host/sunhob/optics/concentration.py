"""How far the dish gathers the light at its focus. Units: metres, suns (flux over that of the beam).

No mirror loss, no shade of the pot: the figure of shape and errors alone, as the closed forms have it.
"""

from __future__ import annotations

import math

from .geometry import Optics
from .rays import reflect
from .sunshape import SUN_RADIUS_RAD, blocks
from .tally import BLOCK

LIMIT = 1.0 / math.sin(SUN_RADIUS_RAD) ** 2  # no mirror passes this mean over the sun's image: 46248
_RAYS = 1 << 19


def ideal_concentration(rim_angle_deg: float) -> float:
    """Suns at the focus of a perfect paraboloid under an evenly bright sun: sin2(phi) / sin2(theta_s)."""
    return math.sin(math.radians(rim_angle_deg)) ** 2 * LIMIT


def peak_concentration(
    optics: Optics, rays: int = _RAYS, seed: int = 1, limb_darkened: bool = True
) -> float:
    """Suns on a plane through the focus square to the axis, aimed true, over a disc of the sun's own image.

    The disc has radius f tan(theta_s), the image a perfect mirror's middle makes. A point of it can be
    brighter: under a perfect mirror by up to a quarter, as the sun's middle is than its mean.
    """
    radius = optics.focal_length_m * math.tan(SUN_RADIUS_RAD)
    through = 0.0
    count = max(1, rays // BLOCK)
    for draws in blocks(count * BLOCK, BLOCK, seed, 0, limb_darkened):
        found = reflect(optics, draws, 0.0)
        far = -found.point_m[2] / found.ray[2]
        x, y = found.point_m[0] + far * found.ray[0], found.point_m[1] + far * found.ray[1]
        inside = (x * x + y * y < radius**2) & (far > 0.0) & (far < found.reach_m) & ~found.in_hole
        through += float(found.power[inside].sum(dtype=float)) / count
    return through * optics.aperture_m2 / (math.pi * radius**2)
