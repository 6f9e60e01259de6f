"""The ray trace against closed forms. Units: metres, degrees, milliradians, shares of the collected light.

Closed forms are those of any text on concentrating collectors (parabola, sun of half-angle theta_s).
"""

import math

import numpy as np
import pytest
from sunhob.optics.geometry import Optics, level_from_dish, sun_direction, turn_about_axis
from sunhob.optics.rays import HIT_NAMES, reflect, trace
from sunhob.optics.sunshape import SUN_RADIUS_RAD, draw

IDEAL = Optics(aperture_diameter_m=1.5, focal_length_m=0.65, pot_diameter_m=0.2, pot_height_m=0.1)


def focal_plane(rays):
    """Where rays of the dish frame cross the focal plane: (2, N) m."""
    far = -rays.point_m[2] / rays.ray[2]
    return (rays.point_m + far * rays.ray)[:2]


@pytest.mark.parametrize(("rim_deg", "over_diameter"), [(30, 0.010768), (45, 0.009344), (60, 0.010826)])
def test_image_of_an_ideal_dish_has_the_textbook_width(rim_deg, over_diameter):
    # W = D sin(ts) / (sin(phi) cos(phi + ts)), ts = 4.65 mrad
    phi = math.radians(rim_deg)
    focal = 1.5 / (4.0 * math.tan(phi / 2.0))
    wide = 1.5 * math.sin(SUN_RADIUS_RAD) / (math.sin(phi) * math.cos(phi + SUN_RADIUS_RAD))
    assert wide / 1.5 == pytest.approx(over_diameter, abs=2e-6)
    optics = Optics(aperture_diameter_m=1.5, focal_length_m=focal, pot_diameter_m=0.2, pot_height_m=0.1)
    x, y = focal_plane(reflect(optics, draw(1 << 17, 3, limb_darkened=False), 0.0))
    widest = 2.0 * float(np.max(np.hypot(x, y)))
    assert 0.985 * wide < widest < 1.0005 * wide


@pytest.mark.parametrize("lag_deg", [0.0, 5.0, 20.0, 40.0])
def test_energy_is_kept(lag_deg):
    # what falls through the rim disc is cos(lag) of a squarely lit one; each ray ends in one place
    found = trace(IDEAL, lag_deg, 50.0, 120.0, rays=1 << 14)
    power = found.rays.power.astype(float)
    assert power.sum() == pytest.approx(math.cos(math.radians(lag_deg)), rel=1e-4)
    ended = [power[found.hit == kind].sum() for kind in range(len(HIT_NAMES))]
    assert sum(ended) == pytest.approx(power.sum(), rel=1e-9)


def test_directions_mean_what_the_docstring_says():
    # dish aimed level and north: right is east, up is up
    small = math.radians(10.0)
    seen = level_from_dish(0.0) @ sun_direction(10.0, 90.0)
    np.testing.assert_allclose(seen, [math.sin(small), math.cos(small), 0.0], atol=1e-12)
    seen = turn_about_axis(70.0) @ sun_direction(10.0)
    np.testing.assert_allclose(seen, sun_direction(10.0, 70.0), atol=1e-12)
