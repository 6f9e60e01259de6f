"""The ray trace: light through the rim of a paraboloid, off its mirror, onto the pot.

Units: metres, radians inside, degrees at every argument. Frames as in geometry.py, origin at the focus.

Each ray enters through the disc spanned by the rim, so all carry the same light but for the cosine of their
own angle to the axis; `power` is a share of what an unshaded aperture turned squarely to the sun collects
(so the powers of all rays at one lag add up to cos(lag), the hole's share on top, less what the arms keep
off). Losses of the mirror (reflectance, soiling) are left out of `power`: they scale everything alike.
Only the first reflection is followed; a ray's `reach_m` is how far it goes before it meets the dish again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .geometry import Optics, level_from_dish, sun_direction, turn_about_axis
from .sunshape import Draws, draw

Floats = NDArray[Any]
# what a ray meets first: nothing (it flies on), the pot's parts, the guard plate; or why it never got there
MISSED, BOTTOM, WALL, LID, PLATE, SHADED, HOLE = range(7)
HIT_NAMES = ("missed", "bottom", "wall", "lid", "plate", "shaded", "hole")
NO_OFFSET = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Rays:
    """Rays just after the mirror. Arrays (3, N) are in the frame the maker says; N rays, float32."""

    point_m: Floats  # (3, N), where on the mirror
    ray: Floats  # (3, N), unit direction after reflection
    sun: Floats  # (3, N), unit direction back along the incoming ray, to its point of the sun
    power: Floats  # (N,), share of the light of an unshaded aperture squarely to the sun
    reach_m: Floats  # (N,), length of the ray until it meets the dish again; inf if never
    in_hole: NDArray[Any]  # (N,), whether it fell into the centre hole

    def turned(self, matrix: Floats) -> Rays:
        """The same rays in another frame with the same origin; `matrix` (3, 3)."""
        turn = matrix.astype(self.point_m.dtype)
        return replace(self, point_m=turn @ self.point_m, ray=turn @ self.ray, sun=turn @ self.sun)


@dataclass(frozen=True)
class Traced:
    """Rays in the level frame (right, forward, up) with what each meets.

    `hit` (N,) holds MISSED, BOTTOM, WALL, LID, PLATE, SHADED or HOLE; `distance_m` (N,) is the length from
    the mirror to what it meets, `reach_m` (to the dish again, or inf) for one that misses.
    """

    rays: Rays
    hit: NDArray[Any]
    distance_m: Floats
    over_lid: NDArray[Any]


def reflect(optics: Optics, draws: Draws, lag_deg: float) -> Rays:
    """Rays off the mirror in the dish frame, for a sun `lag_deg` off the axis in direction 0 (up).

    For another direction turn them by geometry.turn_about_axis: the dish is round and its errors are alike
    both ways, so one trace serves all directions.
    """
    focal, radius = optics.focal_length_m, optics.aperture_diameter_m / 2.0
    centre = sun_direction(lag_deg)
    across = np.array([0.0, centre[2], -centre[1]])
    s0, s1 = draws.sun
    sun = np.stack([s0, centre[1] + s1 * across[1], centre[2] + s1 * across[2]]).astype(np.float32)
    sun /= np.sqrt(np.sum(sun * sun, axis=0))
    point = _on_mirror(draws.entry * np.float32(radius), sun, focal, radius)
    ray = _mirrored(point, sun, draws, focal, optics.slope_error_mrad / 1e3)
    if optics.specularity_mrad:
        ray = _scattered(ray, draws.scatter * np.float32(optics.specularity_mrad / 1e3))
    whole = optics.aperture_diameter_m**2 / (optics.aperture_diameter_m**2 - optics.centre_hole_m**2)
    power = sun[2] * np.float32(whole * (1.0 - optics.arm_shade) / draws.entry.shape[1])
    in_hole = point[0] ** 2 + point[1] ** 2 < (optics.centre_hole_m / 2.0) ** 2
    return Rays(point, ray, sun, power, _reach(point, ray, focal, radius), in_hole)


def _on_mirror(entry: Floats, sun: Floats, focal: float, radius: float) -> Floats:
    """Where rays through `entry` (2, N) of the rim disc strike z = r^2/4f - f. The form keeps its digits."""
    rim = np.float32(radius**2)
    a = sun[0] ** 2 + sun[1] ** 2
    b = entry[0] * sun[0] + entry[1] * sun[1] - np.float32(2.0 * focal) * sun[2]
    c = entry[0] ** 2 + entry[1] ** 2 - rim  # below 0: the rim disc lies above the mirror
    far = c / (b - np.sqrt(np.maximum(b * b - a * c, 0.0)))
    x, y = entry[0] - far * sun[0], entry[1] - far * sun[1]
    return np.stack([x, y, (x * x + y * y) / np.float32(4.0 * focal) - np.float32(focal)])


def _mirrored(point: Floats, sun: Floats, draws: Draws, focal: float, slope: float) -> Floats:
    """Reflected directions off the mirror with slope errors (rad, RMS each way) in its tangent plane."""
    r = np.maximum(np.hypot(point[0], point[1]), np.float32(1e-9))
    cx, cy = point[0] / r, point[1] / r
    steep = r / np.float32(2.0 * focal)
    secant = np.sqrt(1.0 + steep * steep)
    along = draws.slope[0] * np.float32(slope)
    over = draws.slope[1] * np.float32(slope)
    radial = (along - steep) / secant  # normal plus errors, radial part; the tangent is (1, steep) / secant
    normal = np.stack([radial * cx - over * cy, radial * cy + over * cx, (1.0 + along * steep) / secant])
    normal /= np.sqrt(np.sum(normal * normal, axis=0))
    ray = 2.0 * np.sum(sun * normal, axis=0) * normal - sun
    return np.asarray(ray / np.sqrt(np.sum(ray * ray, axis=0)))


def _scattered(ray: Floats, tilt: Floats) -> Floats:
    """Directions moved by `tilt` (2, N), tangents two ways square to each ray (basis of Duff et al. 2017)."""
    sign = np.copysign(np.float32(1.0), ray[2])
    a = -1.0 / (sign + ray[2])
    b = ray[0] * ray[1] * a
    first = np.stack([1.0 + sign * ray[0] ** 2 * a, sign * b, -sign * ray[0]])
    second = np.stack([b, sign + ray[1] ** 2 * a, -ray[1]])
    moved = ray + tilt[0] * first + tilt[1] * second
    return np.asarray(moved / np.sqrt(np.sum(moved * moved, axis=0)))


def _reach(point: Floats, ray: Floats, focal: float, radius: float) -> Floats:
    """Length of each ray until it meets the dish again, m; inf if it leaves through the rim disc.

    From a point on the paraboloid r^2 = 4f(z + f), other than the start, along a ray: t = -2B / A.
    """
    a = ray[0] ** 2 + ray[1] ** 2
    b = point[0] * ray[0] + point[1] * ray[1] - np.float32(2.0 * focal) * ray[2]
    far = -2.0 * b / np.maximum(a, np.float32(1e-12))
    x, y = point[0] + far * ray[0], point[1] + far * ray[1]
    again = (far > 1e-4 * radius) & (x * x + y * y < radius**2)
    return np.where(again, far, np.float32(np.inf))


def meets_pot(
    optics: Optics, start: Floats, ray: Floats, offset_m: tuple[float, float, float] = NO_OFFSET
) -> tuple[NDArray[Any], Floats, NDArray[Any]]:
    """(hit, distance, over_lid), each (N,): what rays (3, N) of the level frame meet of pot and plate.

    hit: MISSED, BOTTOM, WALL, LID or PLATE; distance in m, inf if missed. over_lid: whether the ray, had it
    missed, passes through the room over the lid, up to the top of the guarded sphere. offset_m: the pot's
    (right, forward, up) off its place.
    """
    radius = np.float32(optics.pot_diameter_m / 2.0)
    low = np.float32(optics.pot_bottom_above_focus_m + offset_m[2])
    top = np.float32(optics.pot_top_above_focus_m + offset_m[2])
    ceiling = max(np.float32(optics.guarded_radius_m), top)
    x, y, z = start[0] - np.float32(offset_m[0]), start[1] - np.float32(offset_m[1]), start[2]
    dx, dy, dz = ray
    with np.errstate(divide="ignore", invalid="ignore"):
        a = dx * dx + dy * dy
        b = x * dx + y * dy
        root = b * b - a * (x * x + y * y - radius * radius)
        crosses = root > 0.0  # a plumb ray (a = 0) never comes: it has inf or nan below
        root = np.sqrt(np.maximum(root, 0.0))
        enter, leave = (-b - root) / a, (root - b) / a
        at_low, at_top = (low - z) / dz, (top - z) / dz
        in_level, out_level = np.minimum(at_low, at_top), np.maximum(at_low, at_top)
        first = np.maximum(enter, in_level)
        struck = crosses & (first <= np.minimum(leave, out_level)) & (first > 0.0)  # =: no height
        z_in, z_out = z + enter * dz, z + leave * dz
    over_lid = crosses & (leave > 0.0) & (np.maximum(z_in, z_out) > top) & (np.minimum(z_in, z_out) < ceiling)
    hit = np.where(enter >= in_level, WALL, np.where(dz > 0.0, BOTTOM, LID)).astype(np.int8)
    hit = np.where(struck, hit, np.int8(MISSED))
    distance = np.where(struck, first, np.float32(np.inf))
    if optics.guard_diameter_m:
        hit, distance = _or_plate(optics, start, ray, hit, distance)
    return hit, distance, over_lid & (hit == MISSED)


def _or_plate(
    optics: Optics, start: Floats, ray: Floats, hit: NDArray[Any], distance: Floats
) -> tuple[NDArray[Any], Floats]:
    """The guard plate: a level ring from the pot's radius outward; it takes what reaches it first."""
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (np.float32(-optics.guard_below_focus_m) - start[2]) / ray[2]
        square = (start[0] + far * ray[0]) ** 2 + (start[1] + far * ray[1]) ** 2
    inner, outer = (optics.pot_diameter_m / 2.0) ** 2, (optics.guard_diameter_m / 2.0) ** 2
    on = (far > 0.0) & (far < distance) & (square >= inner) & (square <= outer)
    return np.where(on, np.int8(PLATE), hit), np.where(on, far, distance)


def meet(optics: Optics, level: Rays, offset_m: tuple[float, float, float] = NO_OFFSET) -> Traced:
    """What rays of the level frame meet, shade on the incoming light taken into account."""
    hit, distance, over_lid = meets_pot(optics, level.point_m, level.ray, offset_m)
    late = distance > level.reach_m
    shade = meets_pot(optics, level.point_m, level.sun, offset_m)[0] != MISSED
    hit = np.where(late, np.int8(MISSED), hit)
    hit = np.where(shade, np.int8(SHADED), hit)
    hit = np.where(level.in_hole, np.int8(HOLE), hit)  # light that no aperture would collect, shaded or not
    distance = np.where((hit == MISSED) | (hit > PLATE), level.reach_m, distance)
    return Traced(level, hit, distance, over_lid & (hit == MISSED))


def to_level(elevation_deg: float, direction_deg: float = 0.0) -> Floats:
    """Matrix (3, 3) from rays traced with the sun at direction 0 to the level frame at this attitude."""
    return np.asarray(level_from_dish(elevation_deg) @ turn_about_axis(direction_deg))


def trace(
    optics: Optics,
    lag_deg: float,
    elevation_deg: float = 60.0,
    direction_deg: float = 0.0,
    rays: int = 1 << 16,
    seed: int = 1,
    offset_m: tuple[float, float, float] = NO_OFFSET,
) -> Traced:
    """Trace `rays` rays at one attitude: points, directions and powers in the level frame, and their hits.

    Angles in degrees as in geometry.py; `offset_m` moves the pot (right, forward, up). A power of two of
    rays is best. Multiply `power` by optics.returned * DNI * optics.aperture_m2 for watts.
    """
    found = reflect(optics, draw(rays, seed), lag_deg)
    return meet(optics, found.turned(to_level(elevation_deg, direction_deg)), offset_m)
