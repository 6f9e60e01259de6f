"""Optics of a cooker: relations of the paraboloid, frames, fingerprint, bad values. Units: m, deg."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from sunhob.errors import UserError
from sunhob.optics.geometry import (
    Optics,
    checked,
    level_offset,
    optics_fingerprint,
    optics_of,
    sun_direction,
    trailing_direction_deg,
)
from sunhob.settings import cooker_from_text, load_cooker
from sunhob_board.declared.settings import OPTICS_KEYS, SETTINGS

GOOD = {"aperture_diameter_m": 1.4, "focal_length_m": 0.55, "pot_diameter_m": 0.24, "pot_height_m": 0.16}
TOML = """[site]
latitude_deg = 10.0
longitude_deg = 20.0
[dish]
aperture_diameter_m = 1.4
focal_length_m = 0.55
{dish}
[pot]
diameter_m = 0.24
{pot}
[guard]
{guard}
"""


def cooker(tmp_path, dish="", pot="", guard=""):
    return cooker_from_text(TOML.format(dish=dish, pot=pot, guard=guard), tmp_path / "c.toml")


@pytest.mark.parametrize(
    ("rim_deg", "f_over_d", "depth_over_d", "rim_ray_over_f"),
    [(30, 0.93301, 0.06699, 1.0718), (45, 0.60355, 0.10355, 1.1716), (60, 0.43301, 0.14434, 1.3333),
     (75, 0.32581, 0.19183, 1.5888), (90, 0.25, 0.25, 2.0)],
)
def test_rim_angle_and_focal_ratio(rim_deg, f_over_d, depth_over_d, rim_ray_over_f):
    # tan(phi/2) = D / 4f; depth = D^2 / 16f; rim ray 2f / (1 + cos phi): textbook relations, worked out
    optics = Optics(**{**GOOD, "aperture_diameter_m": 1.0, "focal_length_m": f_over_d})
    assert optics.rim_angle_deg == pytest.approx(rim_deg, abs=0.001)
    assert 1.0 / (16.0 * f_over_d) == pytest.approx(depth_over_d, abs=1e-5)
    phi = math.radians(optics.rim_angle_deg)
    assert 2.0 / (1.0 + math.cos(phi)) == pytest.approx(rim_ray_over_f, abs=1e-4)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"focal_length_m": 0.0}, "focal_length_m = 0.0"),
        ({"focal_length_m": -1.0}, "focal_length_m = -1.0"),
        ({"focal_length_m": float("nan")}, "focal_length_m = nan"),
        ({"aperture_diameter_m": 0.0}, "aperture_diameter_m = 0.0"),
        ({"pot_diameter_m": 1.5}, "pot_diameter_m = 1.5 m shades the whole dish of 1.4 m"),
        ({"reflectance": 1.1}, "reflectance = 1.1"),
        ({"reflectance": 0.0}, "reflectance = 0.0"),
        ({"soiling": 1.0}, "soiling = 1.0"),
        ({"wall_absorptance": 1.2}, "wall_absorptance = 1.2"),
        ({"slope_error_mrad": -1.0}, "slope_error_mrad = -1.0"),
        ({"specularity_mrad": 300.0}, "specularity_mrad = 300.0"),
        ({"centre_hole_m": 1.4}, "centre_hole_m = 1.4 m leaves no mirror"),
        ({"pot_height_m": 0.7}, "the pot reaches 0.71 m"),
        ({"guard_diameter_m": 0.2}, "guard_diameter_m = 0.2 m must lie between"),
        ({"guard_diameter_m": 1.3}, "guard_diameter_m = 1.3 m: the dish"),
        ({"pot_heigth_m": 0.1}, "pot_heigth_m"),
    ],
)
def test_impossible_optics_are_named(change, words):
    with pytest.raises(UserError) as told:
        checked({**GOOD, **change})
    assert words in str(told.value)
    assert "\n" not in str(told.value)


def test_every_impossible_value_has_its_line():
    with pytest.raises(UserError) as told:
        checked({**GOOD, "focal_length_m": 0.0, "reflectance": 2.0})
    assert len(str(told.value).splitlines()) == 2


@pytest.mark.parametrize(
    ("parts", "key"),
    [
        ({"dish": "centre_hole_m = 1.5"}, "dish.centre_hole_m"),
        ({"dish": "reflectance = 1.2"}, "dish.reflectance"),
        ({"pot": "height_m = 0.6"}, "pot.height_m"),
        ({"guard": "diameter_m = 0.2"}, "guard.diameter_m"),
        ({"guard": "diameter_m = 1.2"}, "guard.diameter_m"),
    ],
)
def test_cooker_file_with_impossible_optics_is_refused(tmp_path, parts, key):
    with pytest.raises(UserError, match=rf"c\.toml:\d+: {key} = "):
        cooker(tmp_path, **parts)


def test_wall_and_lid_follow_the_bottom_unless_told(tmp_path):
    bright = optics_of(cooker(tmp_path, pot="absorptance = 0.3\nlid_absorptance = 0.8"))
    assert (bright.bottom_absorptance, bright.wall_absorptance, bright.lid_absorptance) == (0.3, 0.3, 0.8)


def test_fingerprint_moves_with_every_optical_setting_and_no_other(tmp_path):
    plain = load_cooker()
    base = optics_fingerprint(plain)
    assert 0 <= base < 1 << 32
    for key in (row[0] for row in SETTINGS if row[1] == "float"):
        def value(asked, key=key):
            return plain.value(asked) + (0.001 if asked == key else 0.0)

        moved = optics_fingerprint(SimpleNamespace(value=value)) != base
        assert moved == (key in OPTICS_KEYS), key


def test_every_optical_setting_is_read(tmp_path):
    # a setting in OPTICS_KEYS that changes nothing, or one the optics read that is not in it, is a mistake
    plain = load_cooker()
    read = set()

    class Section:
        def __init__(self, name):
            self.name = name

        def __getattr__(self, key):
            read.add(f"{self.name}.{key}")
            return plain.value(f"{self.name}.{key}")

    assert optics_of(SimpleNamespace(**{s: Section(s) for s in ("dish", "pot", "guard")})) == optics_of(plain)
    assert read == set(OPTICS_KEYS)


@pytest.mark.parametrize(("lag", "way"), [(5.0, 0.0), (5.0, 90.0), (20.0, 200.0), (3.0, 315.0)])
@pytest.mark.parametrize(("azimuth", "elevation"), [(0.0, 30.0), (130.0, 60.0), (300.0, 85.0)])
def test_lag_and_direction_of_vectors(lag, way, azimuth, elevation):
    a, e = math.radians(azimuth), math.radians(elevation)
    axis = np.array([math.sin(a) * math.cos(e), math.cos(a) * math.cos(e), math.sin(e)])
    up = np.array([-math.sin(a) * math.sin(e), -math.cos(a) * math.sin(e), math.cos(e)])
    right = np.array([math.cos(a), -math.sin(a), 0.0])
    x, y, z = sun_direction(lag, way)
    assert trailing_direction_deg(axis, x * right + y * up + z * axis) == pytest.approx((lag, way))


def test_offset_turns_with_the_axis():
    assert level_offset((0.01, 0.0, 0.02), 0.0) == pytest.approx((0.01, 0.0, 0.02))  # looking north
    assert level_offset((0.01, 0.0, 0.02), 90.0) == pytest.approx((0.0, 0.01, 0.02))  # east: forward
    assert level_offset((0.0, 0.01, 0.0), 90.0) == pytest.approx((-0.01, 0.0, 0.0))  # north is to the left
