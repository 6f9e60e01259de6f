"""The closed form of a flat receiver against ray-traced values and the textbook image shift.

Units: degrees, metres, milliradians.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from .ring_form import intercept, rim_angle_deg

DATA = Path(__file__).parent / "data" / "dish_intercept_mc.csv"
ROWS = list(csv.DictReader(DATA.read_text().splitlines()))


def test_rim_angle_is_the_textbook_one():
    # rim angle 60 deg at f/D 0.43301, 45 deg at 0.60355 (computed table, tan(phi/2) = D/4f)
    assert rim_angle_deg(1.0, 0.43301) == pytest.approx(60.0, abs=0.001)
    assert rim_angle_deg(1.0, 0.60355) == pytest.approx(45.0, abs=0.001)


def test_small_rim_gaussian_limit():
    # small rim: gamma = 1 - exp(-a^2 / (2 sigma^2 f^2)), sigma^2 = (2 slope)^2 + sun^2
    f, a, slope = 2.0, 0.03, 5.0
    sigma = math.hypot(2 * slope, 4.65 / 2) / 1e3
    want = 1 - math.exp(-(a**2) / (2 * sigma**2 * f**2))
    assert intercept(0.0, 0.1, f, a, slope)[0] == pytest.approx(want, abs=0.003)


def test_image_shifts_by_f_tan_lag():
    # off axis by eps the image of a small mirror moves f * tan(eps): half of it off the disc's edge there
    f, a = 2.0, 0.1
    edge_deg = math.degrees(math.atan(a / f))
    assert intercept(edge_deg, 0.05, f, a, 1.0)[0] == pytest.approx(0.5, abs=0.03)


def test_wider_pot_and_truer_mirror_hold_more():
    lag = np.arange(0, 12, 0.5)
    assert np.all(intercept(lag, 1.4, 0.55, 0.14, 5) >= intercept(lag, 1.4, 0.55, 0.12, 5) - 1e-9)
    assert intercept(0, 1.4, 0.55, 0.06, 3)[0] > intercept(0, 1.4, 0.55, 0.06, 10)[0]


GROUPS = sorted(
    {
        tuple(
            float(r[k])
            for k in (
                "aperture_diameter_m",
                "focal_length_m",
                "flat_receiver_radius_m_at_focal_plane",
                "slope_error_mrad_rms_per_axis",
            )
        )
        for r in ROWS
    }
)


@pytest.mark.parametrize("group", GROUPS, ids=str)
def test_matches_ray_trace(group):
    # dish_intercept_mc.csv: independent ray trace, 4e5 rays a row (+-0.001)
    diameter, focal, radius, slope = group
    mine = [r for r in ROWS if tuple(map(float, list(r.values())[:2] + list(r.values())[3:5])) == group]
    lag = [float(r["off_axis_deg"]) for r in mine]
    traced = [float(r["fraction_of_reflected_rays_on_receiver"]) for r in mine]
    got = intercept(lag, diameter, focal, radius, slope)
    # a mirror of little or no slope error has a hard coma edge that the first-order shift rounds off
    np.testing.assert_allclose(got, traced, atol=0.01 if slope > 3.0 else 0.0125)
