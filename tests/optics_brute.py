"""A slow ray trace that shares nothing with the product's: checks its symmetry, frames and hit test.

Units: metres, degrees in, shares out. World frame east-north-up about the focus, double precision, plain
random rays. Light starts on a disc square to the sun that covers dish and pot, strikes what is nearest of
pot and dish, is thrown back once, and strikes again. Solids are met by listing every surface point.
"""

import numpy as np

SUN = 4.65e-3
KINDS = ("missed", "bottom", "wall", "lid", "plate")


def unit(v):
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def any_square_to(v):
    """Two unit vectors square to each row and to one another."""
    helper = np.where(np.abs(v[..., :1]) < 0.7, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
    first = unit(np.cross(v, helper))
    return first, np.cross(v, first)


def axis_enu(azimuth_deg, elevation_deg):
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array([np.sin(a) * np.cos(e), np.cos(a) * np.cos(e), np.sin(e)])


def sun_enu(azimuth_deg, elevation_deg, lag_deg, direction_deg):
    """The sun `lag_deg` from the axis, towards `direction_deg` clockwise from up, looking out along it."""
    axis = axis_enu(azimuth_deg, elevation_deg)
    up = axis_enu(azimuth_deg, elevation_deg + 90.0)
    right = np.cross(axis, up)
    lag, way = np.radians(lag_deg), np.radians(direction_deg)
    return np.cos(lag) * axis + np.sin(lag) * (np.cos(way) * up + np.sin(way) * right)


def first_on_pot(o, start, ray, offset=(0.0, 0.0, 0.0)):
    """(distance, surface) of the first point ahead; the surface counts along KINDS, 0 for none."""
    start = start - np.asarray(offset)
    radius, low = o.pot_diameter_m / 2, o.pot_bottom_above_focus_m
    top = low + o.pot_height_m
    found = []
    with np.errstate(all="ignore"):
        for height, kind in ((low, 1), (top, 3)):
            t = (height - start[:, 2]) / ray[:, 2]
            at = start + t[:, None] * ray
            found.append((np.where((t > 1e-9) & (np.hypot(at[:, 0], at[:, 1]) <= radius), t, np.inf), kind))
        flat, side = start[:, :2], ray[:, :2]
        a, b = (side**2).sum(1), (flat * side).sum(1)
        root = np.sqrt(b * b - a * ((flat**2).sum(1) - radius**2))
        for t in ((-b - root) / a, (-b + root) / a):
            z = start[:, 2] + t * ray[:, 2]
            found.append((np.where((t > 1e-9) & (z >= low) & (z <= top), t, np.inf), 2))
    if o.guard_diameter_m:
        start = start + np.asarray(offset)
        with np.errstate(all="ignore"):
            t = (-o.guard_below_focus_m - start[:, 2]) / ray[:, 2]
            off = np.linalg.norm(start[:, :2] + t[:, None] * ray[:, :2], axis=1)
        on = (t > 1e-9) & (off >= radius) & (off <= o.guard_diameter_m / 2)
        found.append((np.where(on, t, np.inf), 4))
    times = np.array([np.where(np.isnan(t), np.inf, t) for t, _ in found])
    first = times.argmin(axis=0)
    distance = times.min(axis=0)
    return distance, np.where(np.isfinite(distance), np.array([k for _, k in found])[first], 0)


def on_dish(o, axis, start, ray):
    """Distance to the mirror's inner side below the rim plane, inf if it is missed."""
    along, across = ray @ axis, ray - (ray @ axis)[:, None] * axis
    z, flat = start @ axis + o.focal_length_m, start - (start @ axis)[:, None] * axis
    a = (across**2).sum(1)
    b = 2 * (flat * across).sum(1) - 4 * o.focal_length_m * along
    c = (flat**2).sum(1) - 4 * o.focal_length_m * z
    best = np.full(len(start), np.inf)
    with np.errstate(all="ignore"):
        root = np.sqrt(b * b - 4 * a * c)
        for t in ((-b - root) / (2 * a), (-b + root) / (2 * a), -c / b):
            at = start + t[:, None] * ray
            off = np.linalg.norm(at - (at @ axis)[:, None] * axis, axis=1)
            good = (t > 1e-6) & (off <= o.aperture_diameter_m / 2)
            best = np.where(good & (t < best), t, best)
    return best


def astray(o, start, ray, length):
    """(over the lid, nearest to the focus) of free rays, found by walking along them in steps of 5 mm."""
    over, nearest = np.zeros(len(start), bool), np.full(len(start), np.inf)
    top, ceiling = o.pot_bottom_above_focus_m + o.pot_height_m, 0.6 * o.focal_length_m
    for t in np.arange(0.0, 2.5, 0.005):
        at = start + t * ray
        going = t < length
        inside = np.hypot(at[:, 0], at[:, 1]) < o.pot_diameter_m / 2
        inside &= (at[:, 2] > top) & (at[:, 2] < ceiling)
        over |= going & inside
        nearest = np.where(going, np.minimum(nearest, np.linalg.norm(at, axis=1)), nearest)
    return over, nearest


def shares(
    o, lag_deg, elevation_deg, direction_deg, rays, seed, azimuth_deg=0.0, offset_enu=(0, 0, 0), walk=False
):
    """Shares by name of what an unshaded aperture squarely to the sun collects.

    `walk`: 'over_lid' and 'stray' as well, by walking along each ray that is free (slow: few rays).
    """
    rng = np.random.default_rng(seed)
    axis = axis_enu(azimuth_deg, elevation_deg)
    sun = sun_enu(azimuth_deg, elevation_deg, lag_deg, direction_deg)
    reach = 1.2 * np.hypot(o.aperture_diameter_m / 2, o.focal_length_m)
    e1, e2 = any_square_to(sun[None])
    r, turn = reach * np.sqrt(rng.random(rays)), 2 * np.pi * rng.random(rays)
    start = 3 * sun + r[:, None] * (np.cos(turn)[:, None] * e1 + np.sin(turn)[:, None] * e2)
    # brightness (2 + 3 mu) / 5 over the disc, by rejection
    off = np.sqrt(rng.random(4 * rays))
    off = off[rng.random(off.size) < (2 + 3 * np.sqrt(1 - off**2)) / 5][:rays] * SUN
    turn = 2 * np.pi * rng.random(rays)
    ray = -unit(sun + off[:, None] * (np.cos(turn)[:, None] * e1 + np.sin(turn)[:, None] * e2))
    start = start - 3 * sun - ray * (3 / -(ray @ sun))[:, None]  # aim spread at the dish, not 3 m up
    each = np.pi * reach**2 / rays / o.aperture_m2
    far = on_dish(o, axis, start, ray)
    lit = np.isfinite(far)
    before, _ = first_on_pot(o, start, ray, offset_enu)
    # light must come in through the rim: what comes from behind the mirror strikes its back
    rim = (o.aperture_diameter_m / 2) ** 2 / (4 * o.focal_length_m) - o.focal_length_m
    back = (rim - start @ axis) / (ray @ axis)
    at = start + back[:, None] * ray
    lit &= np.linalg.norm(at - (at @ axis)[:, None] * axis, axis=1) <= o.aperture_diameter_m / 2
    shaded = lit & (before < far)
    spot = start + np.where(lit, far, 0.0)[:, None] * ray
    across = spot - (spot @ axis)[:, None] * axis
    lit &= np.linalg.norm(across, axis=1) >= o.centre_hole_m / 2
    normal = unit(2 * o.focal_length_m * axis - across)
    n1, n2 = any_square_to(normal)
    tilt = rng.normal(0, o.slope_error_mrad / 1e3, (2, rays))
    normal = unit(normal + tilt[0][:, None] * n1 + tilt[1][:, None] * n2)
    out = ray - 2 * (ray * normal).sum(1)[:, None] * normal
    n1, n2 = any_square_to(out)
    tilt = rng.normal(0, o.specularity_mrad / 1e3, (2, rays))
    out = unit(out + tilt[0][:, None] * n1 + tilt[1][:, None] * n2)
    live = lit & ~shaded
    reached, kind = first_on_pot(o, spot[live], out[live], offset_enu)
    again = on_dish(o, axis, spot[live] + 1e-5 * out[live], out[live])
    kind = np.where(reached < again, kind, 0)
    told = {name: float((kind == k).sum() * each) for k, name in enumerate(KINDS)}
    free = kind == 0
    if walk:
        over, nearest = astray(o, spot[live][free], out[live][free], again[free])
        told["over_lid"] = float(over.sum() * each)
        told["stray"] = float((over | (nearest > 0.6 * o.focal_length_m)).sum() * each)
    return {**told, "shaded": float((shaded & lit).sum() * each)}
