"""Axes to direction and back, against rotation matrices built another way. Units: degrees."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from sunhob_board.mount.geometry import Geometry

from .mount_fakes import settings

_LEAN = st.floats(-10, 10)
_MOUNTS = st.builds(
    settings,
    site_latitude_deg=st.floats(-66, 66),
    mount_kind=st.sampled_from(["altaz", "polar"]),
    mount_north_deg=st.floats(-180, 180),
    mount_tilt_east_deg=_LEAN,
    mount_tilt_north_deg=_LEAN,
    mount_square_deg=st.floats(-5, 5),
    axis1_zero_deg=st.floats(-180, 180),
    axis2_zero_deg=st.floats(-10, 10),
    axis2_low_deg=st.just(-60.0),
    axis2_high_deg=st.sampled_from([80.0, 92.0, 130.0]),
)


def separation_deg(a, b):
    return math.degrees(2 * math.asin(min(1.0, float(np.linalg.norm(np.subtract(a, b))) / 2)))


def independent(s, a1, a2):
    """The same chain as products of turns about named axes (clockwise from north is negative about up)."""
    a1, a2 = a1 + s.axis1_zero_deg, a2 + s.axis2_zero_deg
    aim = Rotation.from_euler("x", a2, degrees=True).apply([0, 1, 0])
    aim = Rotation.from_euler("y", s.mount_square_deg, degrees=True).apply(aim)
    aim = Rotation.from_euler("z", -a1, degrees=True).apply(aim)
    if s.mount_kind == "polar":
        south = s.site_latitude_deg < 0
        if south:
            aim = Rotation.from_euler("z", 180, degrees=True).apply(aim)
        colatitude = 90 - abs(s.site_latitude_deg)
        aim = Rotation.from_euler("x", colatitude if south else -colatitude, degrees=True).apply(aim)
    aim = Rotation.from_euler("z", -s.mount_north_deg, degrees=True).apply(aim)
    aim = Rotation.from_euler("y", s.mount_tilt_east_deg, degrees=True).apply(aim)
    return Rotation.from_euler("x", -s.mount_tilt_north_deg, degrees=True).apply(aim)


@given(_MOUNTS, st.floats(-20, 380), st.floats(-60, 80))
def test_forward_agrees_with_rotation_matrices(s, a1, a2):
    out = [0.0] * 3
    Geometry(s).enu_from_axes(round(a1 * 1e6), round(a2 * 1e6), out)
    assert separation_deg(out, independent(s, a1, a2)) < 2e-6


@given(_MOUNTS, st.floats(-20, 380), st.floats(-60, 80), st.floats(-20, 380))
def test_round_trip(s, a1, a2, near):
    g = Geometry(s)
    g.near[0], g.near[1] = round(near * 1e6), 0
    there, back, axes = [0.0] * 3, [0.0] * 3, [0, 0]
    g.enu_from_axes(round(a1 * 1e6), round(a2 * 1e6), there)
    assert g.axes_from_enu(*there, axes)
    assert g.admits(*axes)
    g.enu_from_axes(*axes, back)
    assert separation_deg(there, back) < 0.002


@pytest.mark.parametrize("lat", [-45.0, -10.0, 10.0, 60.0])
def test_polar_mount_has_the_noon_sun_at_180_and_the_pole_at_90(lat):
    g = Geometry(settings(site_latitude_deg=lat, mount_kind="polar", axis2_low_deg=-30.0))
    out = [0.0] * 3
    g.enu_from_axes(0, 90_000_000, out)
    towards = math.copysign(1, lat)
    pole = [0, towards * math.cos(math.radians(lat)), math.sin(math.radians(abs(lat)))]
    assert separation_deg(out, pole) < 1e-6
    g.enu_from_axes(180_000_000, 0, out)
    noon = [0, -towards * math.sin(math.radians(abs(lat))), math.cos(math.radians(lat))]
    assert separation_deg(out, noon) < 1e-6


@pytest.mark.parametrize(("near", "expected"), [(0, 10), (300, 370), (189, 10), (191, 370)])
def test_nearest_branch_of_axis_1(near, expected):
    g = Geometry(settings())
    g.near[0], g.near[1] = near * 1_000_000, 30_000_000
    axes = [0, 0]
    e, n = math.sin(math.radians(10)), math.cos(math.radians(10))
    assert g.axes_from_enu(e * math.cos(0.5), n * math.cos(0.5), math.sin(0.5), axes)
    assert axes[0] == pytest.approx(expected * 1e6, abs=2)


def test_past_the_zenith_only_where_the_travel_allows():
    aim = (0.0, -math.sin(math.radians(5)), math.cos(math.radians(5)))
    axes = [0, 0]
    for high, expected in ((92.0, (180, 85)), (120.0, (0, 95))):
        g = Geometry(settings(axis2_high_deg=high))
        g.near[0], g.near[1] = 0, 80_000_000
        assert g.axes_from_enu(*aim, axes)
        assert axes == pytest.approx([expected[0] * 1e6, expected[1] * 1e6], abs=2)


def test_below_the_travel_is_refused_and_out_left_alone():
    axes = [7, 7]
    assert not Geometry(settings()).axes_from_enu(0.0, math.cos(0.2), -math.sin(0.2), axes)
    assert axes == [7, 7]


def test_north_can_be_set_anew():
    g = Geometry(settings())
    g.set_north_deg(6.4)
    out = [0.0] * 3
    g.enu_from_axes(0, 0, out)
    assert math.degrees(math.atan2(out[0], out[1])) == pytest.approx(6.4, abs=1e-6)
