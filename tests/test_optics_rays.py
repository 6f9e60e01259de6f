"""The ray trace against closed forms. Units: metres, degrees, milliradians, shares of the collected light.

Closed forms are those of any text on concentrating collectors (parabola, sun of half-angle theta_s).
"""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from sunhob.optics.concentration import LIMIT, ideal_concentration, peak_concentration
from sunhob.optics.geometry import Optics, level_from_dish, sun_direction, turn_about_axis
from sunhob.optics.intercept import intercept
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


@pytest.mark.parametrize("rim_deg", [30.0, 45.0, 60.0])
def test_peak_of_an_ideal_dish(rim_deg):
    # sin^2(phi) / sin^2(theta_s): 11562, 23124, 34686 suns (23474 and 34291 traced elsewhere, +-2 %)
    focal = 1.5 / (4.0 * math.tan(math.radians(rim_deg) / 2.0))
    optics = Optics(aperture_diameter_m=1.5, focal_length_m=focal, pot_diameter_m=0.2, pot_height_m=0.1)
    want = math.sin(math.radians(rim_deg)) ** 2 * 46248.0
    assert ideal_concentration(rim_deg) == pytest.approx(want, rel=1e-4)
    assert peak_concentration(optics, 1 << 17, limb_darkened=False) == pytest.approx(want, rel=0.01)
    dark = peak_concentration(optics, 1 << 17)
    assert want < dark < 1.25 * want  # the sun's middle is 1.25 of its mean


def test_mean_over_the_whole_image():
    # sin^2(phi) cos^2(phi + ts) / sin^2(ts) without shade: 11455 at 45 deg
    phi, radius = math.radians(45.0), 0.009344 * 1.5 / 2.0
    optics = IDEAL.model_copy(update={"focal_length_m": 1.5 * 0.60355})
    found = reflect(optics, draw(1 << 14, 3, limb_darkened=False), 0.0)
    inside = np.hypot(*focal_plane(found)) < radius * 1.0001
    mean = found.power[inside].sum() * optics.aperture_m2 / (math.pi * radius**2)
    want = (math.sin(phi) * math.cos(phi + SUN_RADIUS_RAD) / math.sin(SUN_RADIUS_RAD)) ** 2
    assert want == pytest.approx(11455, abs=1)
    assert mean == pytest.approx(want, rel=0.002)


@pytest.mark.parametrize(
    ("rim_deg", "factor"), [(30.0, 1.0754), (45.0, 1.1941), (60.0, 1.4328), (75.0, 2.0186)]
)
@pytest.mark.parametrize("lag_deg", [0.5, 1.0, 2.0])
def test_centroid_shift_off_axis(rim_deg, factor, lag_deg):
    # f tan(lag) K, K = (-U - 2 ln(1 - U)) / U, U = tan^2(phi/2): 1.0754, 1.1941, 1.4328, 2.0186
    u = math.tan(math.radians(rim_deg) / 2.0) ** 2
    assert (-u - 2.0 * math.log(1.0 - u)) / u == pytest.approx(factor, abs=1e-4)
    focal = 1.5 / (4.0 * math.sqrt(u))
    optics = Optics(aperture_diameter_m=1.5, focal_length_m=focal, pot_diameter_m=0.2, pot_height_m=0.1)
    found = reflect(optics, draw(1 << 15, 9), lag_deg)
    x, y = focal_plane(found)
    # K is the mean over mirror area seen along the axis; entry through the rim weighs it as the sun does
    even = (found.sun[2] / incidence(found, focal)).astype(float)
    shift = -float(np.average(y, weights=even))
    assert shift == pytest.approx(factor * focal * math.tan(math.radians(lag_deg)), rel=0.01)
    assert abs(float(np.average(x, weights=even))) < 0.002 * shift + 1e-5


def incidence(found, focal):
    """Light on the mirror per area seen along the axis: d.n / a.n, for weights."""
    slope = found.point_m[:2] / (2.0 * focal)
    return found.sun[2] - found.sun[0] * slope[0] - found.sun[1] * slope[1]


@settings(max_examples=40, deadline=None)
@example(focal=0.375, slope=0.0, scatter=0.0, lag=0.0, tilt=0.0, turn=0.0, size=0.9, off=(0.0, 0.0, 0.0))
@given(
    focal=st.floats(0.26, 2.0), slope=st.floats(0.0, 10.0), scatter=st.floats(0.0, 10.0),
    lag=st.floats(0.0, 30.0), tilt=st.floats(0.0, 80.0), turn=st.floats(0.0, 360.0), size=st.floats(0.3, 3.0),
    off=st.tuples(*[st.floats(-1.0, 1.0)] * 3),
)
def test_no_plane_anywhere_passes_the_etendue_limit(focal, slope, scatter, lag, tilt, turn, size, off):
    # 1 / sin^2(theta_s) = 46248 suns on one side of any small surface, evenly bright sun, whatever the optics
    optics = Optics(aperture_diameter_m=1.5, focal_length_m=focal, slope_error_mrad=slope,
                    specularity_mrad=scatter, pot_diameter_m=0.1, pot_height_m=0.05)
    found = reflect(optics, draw(1 << 13, 2, limb_darkened=False), lag)
    a, b = math.radians(tilt), math.radians(turn)
    normal = np.array([math.sin(a) * math.cos(b), math.sin(a) * math.sin(b), math.cos(a)], dtype=np.float32)
    radius = size * focal * SUN_RADIUS_RAD
    spot = np.array([0.0, -focal * math.tan(math.radians(lag)), 0.0]) + 2.0 * radius * np.array(off)
    start = found.point_m - spot.astype(np.float32)[:, None]
    facing = normal @ found.ray
    far = -(normal @ start) / facing
    apart = np.sqrt(np.sum((start + far * found.ray) ** 2, axis=0))
    through = found.power[(apart < radius) & (facing > 0.0) & (far > 0.0)]
    concentration = through.sum() * optics.aperture_m2 / (math.pi * radius**2)
    if focal == 0.375 and lag == slope == scatter == tilt == 0.0 and size < 1.0:
        assert concentration > 0.95 * LIMIT  # rim angle 90 deg: as near the limit as a mirror comes
    noise = 4.0 * math.sqrt(through.size + 1) * optics.aperture_m2 / 8192 / (math.pi * radius**2)
    assert concentration <= LIMIT + noise


def test_shade_and_hole_are_their_areas():
    # aimed true at 35 deg: a cylinder's shadow is d h cos(e) + pi d^2/4 sin(e); the hole is its own area
    optics = Optics(aperture_diameter_m=1.4, focal_length_m=0.55, centre_hole_m=0.1, arm_shade=0.04,
                    pot_diameter_m=0.24, pot_height_m=0.16, pot_bottom_above_focus_m=0.2)
    found = intercept(optics, [0.0], [35.0], [0.0], 1 << 15, jobs=1)
    e = math.radians(35.0)
    shadow = 0.24 * 0.16 * math.cos(e) + math.pi / 4 * 0.24**2 * math.sin(e)
    area = math.pi / 4 * (1.4**2 - 0.1**2)
    got = {name: float(share[0, 0, 0]) for name, share in found.parts.items()}
    total = area + math.pi / 4 * 0.1**2
    assert got["shaded"] == pytest.approx((0.04 * total + 0.96 * shadow) / area, abs=0.0015)
    assert sum(got.values()) == pytest.approx(total / area, rel=1e-3)
    over_hole = optics.model_copy(update={"pot_bottom_above_focus_m": -0.08})
    found = intercept(over_hole, [0.0], [90.0], [0.0], 1 << 15, jobs=1)  # here the shadow covers the hole
    shadow = math.pi / 4 * (0.24**2 - 0.1**2)
    want = (0.04 * total + 0.96 * shadow) / area
    assert found.parts["shaded"][0, 0, 0] == pytest.approx(want, abs=0.0015)


def test_guard_plate_catches_what_falls_beside_the_pot():
    bare = Optics(aperture_diameter_m=1.4, focal_length_m=0.55, slope_error_mrad=3.0,
                  pot_diameter_m=0.24, pot_height_m=0.16, pot_bottom_above_focus_m=0.0)
    plate = bare.model_copy(update={"guard_diameter_m": 0.9})
    alone, guarded = (intercept(o, [15.0], [90.0], [0.0], 1 << 13, jobs=1) for o in (bare, plate))
    assert alone.parts["missed"][0, 0, 0] > 0.7
    assert alone.over_lid[0, 0, 0] > 0.02
    assert guarded.over_lid[0, 0, 0] == 0.0
    assert guarded.parts["plate"][0, 0, 0] > 0.45
    assert guarded.stray[0, 0, 0] < 0.02
    # a level plate of 0.9 m shades its own ring from the sun as well
    assert guarded.parts["shaded"][0, 0, 0] > alone.parts["shaded"][0, 0, 0] + 0.3


def test_absorbed_weighs_the_surfaces():
    optics = Optics(aperture_diameter_m=1.4, focal_length_m=0.55, reflectance=0.8, soiling=0.1,
                    pot_diameter_m=0.24, pot_height_m=0.16, pot_bottom_above_focus_m=-0.03,
                    bottom_absorptance=0.9, wall_absorptance=0.5, lid_absorptance=0.2)
    found = intercept(optics, [0.0, 9.0], [30.0], [180.0], 1 << 12, jobs=1)
    want = 0.9 * found.parts["bottom"] + 0.5 * found.parts["wall"] + 0.2 * found.parts["lid"]
    np.testing.assert_allclose(found.absorbed, want)
    assert found.parts["lid"][1, 0, 0] > 0.05
    watts = 1000.0 * math.pi / 4 * 1.4**2 * 0.8 * 0.9 * want[0, 0, 0]
    assert found.full_heat_w_at_1000 == pytest.approx(watts)
    assert found.heat_w(0.0, 30.0, 180.0, 850.0) == pytest.approx(0.85 * watts)
