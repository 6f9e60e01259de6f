"""Share on the pot against an independent trace, open data and its own told error. Units: m, deg, mrad."""

import csv
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from joblib import parallel_config
from sunhob.errors import UserError
from sunhob.optics.geometry import Optics, level_offset
from sunhob.optics.intercept import intercept
from sunhob.optics.rays import BOTTOM, meets_pot, reflect
from sunhob.optics.sunshape import draw

from tests.ring_form import intercept as ring_form

from . import optics_brute as brute

DATA = Path(__file__).parent / "data" / "dish_intercept_mc.csv"
POT = Optics(
    aperture_diameter_m=1.4, focal_length_m=0.55, slope_error_mrad=5.0, specularity_mrad=2.0,
    pot_diameter_m=0.24, pot_height_m=0.16, pot_bottom_above_focus_m=-0.03,
)
DEEP = POT.model_copy(update={"focal_length_m": 0.33, "centre_hole_m": 0.3, "slope_error_mrad": 8.0})
PLATE = POT.model_copy(update={"guard_diameter_m": 0.6, "guard_below_focus_m": 0.05})


def dish_key(row):
    return tuple(float(row[k]) for k in list(row)[:2] + list(row)[3:5])


GROUPS = [(k, list(rows)) for k, rows in groupby(csv.DictReader(DATA.read_text().splitlines()), dish_key)]


@pytest.mark.parametrize(("key", "rows"), GROUPS, ids=[str(key) for key, _ in GROUPS])
def test_flat_receiver_agrees_with_the_independent_table(key, rows):
    # dish_intercept_mc.csv: independent trace, evenly bright sun, no shade, 4e5 rays a row (+-0.001)
    diameter, focal, radius, slope = key
    optics = Optics(aperture_diameter_m=diameter, focal_length_m=focal, slope_error_mrad=slope,
                    pot_diameter_m=2 * radius, pot_height_m=0.0)
    level = np.array([[1.0, 0, 0], [0, -1.0, 0], [0, 0, 1.0]], dtype=np.float32)  # the axis stands upright
    draws = draw(1 << 14, 5, limb_darkened=False)
    for row in rows:
        found = reflect(optics, draws, float(row["off_axis_deg"])).turned(level)
        hit = meets_pot(optics, found.point_m, found.ray)[0]
        got = found.power[hit == BOTTOM].sum() / found.power.sum()
        # the table's rays strike the dish evenly as seen along the axis, these as the sun lights it
        assert got == pytest.approx(float(row["fraction_of_reflected_rays_on_receiver"]), abs=0.006), row


CASES = [  # optics, lag, elevation, direction, azimuth of the axis, offset east, north, up
    (POT, 0.0, 60.0, 0.0, 0.0, (0.0, 0.0, 0.0)),
    (POT, 8.0, 30.0, 0.0, 75.0, (0.0, 0.0, 0.0)),
    (POT, 8.0, 30.0, 180.0, 200.0, (0.0, 0.0, 0.0)),
    (POT, 10.0, 50.0, 90.0, 310.0, (0.0, 0.0, 0.0)),
    (POT, 13.0, 20.0, 225.0, 20.0, (0.0, 0.0, 0.0)),
    (POT, 16.0, 70.0, 180.0, 20.0, (0.0, 0.0, 0.0)),
    (POT, 7.0, 45.0, 45.0, 120.0, (0.05, -0.03, 0.02)),
    (PLATE, 9.0, 35.0, 60.0, 10.0, (0.0, 0.0, 0.0)),
    (DEEP, 4.0, 55.0, 300.0, 10.0, (0.0, 0.0, 0.0)),
    (DEEP, 12.0, 80.0, 180.0, 10.0, (0.0, 0.0, 0.0)),
]


@pytest.mark.parametrize(("optics", "lag", "elevation", "direction", "azimuth", "offset"), CASES)
def test_one_reflection_for_all_attitudes_agrees_with_brute_force(
    optics, lag, elevation, direction, azimuth, offset
):
    rays = 100_000
    want = brute.shares(optics, lag, elevation, direction, rays, 11, azimuth, offset)
    moved = level_offset(offset, azimuth)
    found = intercept(optics, [lag], [elevation], [direction], 1 << 16, 3, offset_m=moved, jobs=1)
    # a share p of the aperture's light has an error of sqrt(p * spread / rays): 4 of them
    spread = 2.5 * 1.44 * (optics.aperture_diameter_m**2 / 4 + optics.focal_length_m**2) / optics.aperture_m2
    for name in ("missed", "bottom", "wall", "lid", "plate", "shaded"):
        allowed = 4 * np.sqrt(spread * (want[name] + 1e-4) / rays) + 3e-4
        assert float(found.parts[name][0, 0, 0]) == pytest.approx(want[name], abs=allowed), name


@pytest.mark.parametrize(
    ("optics", "lag", "elevation", "direction"),
    [(POT, 14.0, 50.0, 180.0), (POT, 20.0, 30.0, 135.0), (POT, 30.0, 60.0, 0.0), (PLATE, 14.0, 60.0, 90.0)],
)
def test_stray_light_and_light_over_the_lid_agree_with_walking_the_rays(optics, lag, elevation, direction):
    want = brute.shares(optics, lag, elevation, direction, 20_000, 8, walk=True)
    found = intercept(optics, [lag], [elevation], [direction], 1 << 13, 3, jobs=1)
    assert float(found.over_lid[0, 0, 0]) == pytest.approx(want["over_lid"], abs=0.03)
    assert float(found.stray[0, 0, 0]) == pytest.approx(want["stray"], abs=0.04)


def test_upright_pot_makes_the_direction_matter():
    # one attitude, one lag: sun above the axis, spot below the pot; sun below it, spot up the wall
    found = intercept(POT, [10.0], [20.0], [0.0, 180.0], 1 << 13, jobs=1)
    both = [brute.shares(POT, 10.0, 20.0, way, 100_000, 4) for way in (0.0, 180.0)]
    traced = [share["bottom"] + share["wall"] + share["lid"] for share in both]
    assert traced[1] - traced[0] > 0.67
    np.testing.assert_allclose(found.fraction[0, 0], traced, atol=0.02)


def test_aimed_true_the_direction_means_nothing_and_left_is_like_right():
    beside = (1e-7, 0.0, 0.0)  # so little to the right that only the short cut of like sides is left out
    at = ([0.0, 6.0], [10.0, 40.0], [0.0, 90.0, 180.0, 270.0])
    found = intercept(POT, *at, 1 << 15, jobs=1, offset_m=beside)
    short = intercept(POT, *at, 1 << 15, jobs=1)
    np.testing.assert_array_equal(short.fraction[..., 3], short.fraction[..., 1])
    np.testing.assert_allclose(short.fraction[..., :3], found.fraction[..., :3], atol=2e-3)
    assert np.ptp(found.fraction[0], axis=1).max() == 0.0
    apart = np.abs(found.fraction[1, :, 1] - found.fraction[1, :, 3])
    assert np.all(apart < 5.0 * np.hypot(found.standard_error[1, :, 1], found.standard_error[1, :, 3]) + 1e-6)
    turned = intercept(POT, [1e-4], [10.0, 40.0], [0.0, 90.0, 180.0, 270.0], 1 << 15, jobs=1)
    np.testing.assert_allclose(turned.fraction[0], found.fraction[0], atol=1e-3)


def test_told_error_is_the_true_scatter():
    # the scatter of whole runs over seeds, against what a single run tells of itself
    at = ([7.0, 9.0], [30.0], [0.0, 90.0])
    runs = [intercept(POT, *at, 2048, seed, jobs=1) for seed in range(24)]
    true = np.std([run.fraction for run in runs], axis=0, ddof=1)
    told = np.mean([run.standard_error for run in runs], axis=0)
    assert np.all((told > 0.6 * true) & (told < 1.6 * true)), (told, true)


def test_the_sequence_beats_plain_random_rays():
    found = intercept(POT, [8.0], [30.0], [90.0], 1 << 15, jobs=1)
    share = float(found.fraction[0, 0, 0])
    assert found.standard_error[0, 0, 0] < 0.75 * np.sqrt(share * (1.0 - share) / found.rays)


def test_result_depends_on_the_seed_and_not_on_how_it_is_shared_out():
    at = ([2.0, 8.0, 9.0, 10.0, 12.0], [30.0], [0.0])
    with parallel_config(backend="threading"):
        one, two, other = (intercept(POT, *at, 4096, s, jobs=j) for s, j in ((5, 1), (5, 2), (6, 1)))
    np.testing.assert_array_equal(one.fraction, two.fraction)
    assert np.any(one.fraction != other.fraction)
    np.testing.assert_allclose(one.fraction, other.fraction, atol=0.01)


def test_between_points_it_goes_round_and_stays_at_the_edges():
    found = intercept(POT, [0.0, 6.0, 12.0], [10.0, 50.0], [0.0, 90.0, 180.0, 270.0], 1024, jobs=1)
    grid = found.at(found.lag_deg[:, None, None], found.elevation_deg[:, None], found.direction_deg)
    np.testing.assert_allclose(grid, found.fraction)
    half = (found.fraction[1, 0, 3] + found.fraction[1, 0, 0]) / 2
    assert found.at(6.0, 10.0, 315.0) == pytest.approx(half)
    assert found.at(6.0, 10.0, -45.0) == found.at(6.0, 10.0, 315.0)
    assert found.at(60.0, 5.0, 90.0, "absorbed") == found.absorbed[2, 0, 1]


def test_ring_form_of_a_flat_receiver_stays_near_the_trace():
    # two models of one thing: a thin disc facing the dish, traced, and the closed ring form (no shade, no
    # limb darkening). They stay within 0.02; the upright pot itself is up to 0.6 away from the ring form.
    lags = [0.0, 3.0, 5.0, 7.0, 9.0, 12.0]
    disc = {"pot_height_m": 0.0, "pot_bottom_above_focus_m": 0.0, "specularity_mrad": 0.0}
    flat = POT.model_copy(update=disc)
    found = intercept(flat, lags, [90.0], [90.0], 1 << 14, jobs=1)
    lit = np.cos(np.radians(lags)) - found.parts["shaded"][:, 0, 0]
    want = ring_form(lags, 1.4, 0.55, 0.12, 5.0)
    np.testing.assert_allclose(found.fraction[:, 0, 0] / lit, want, atol=0.025)


@pytest.mark.parametrize(
    ("grids", "rays", "words"),
    [
        (([5.0, 4.0], [30.0], [0.0]), 1000, "lag grid"),
        (([0.0], [float("nan")], [0.0]), 1000, "elevation grid"),
        (([0.0], [30.0], [0.0, 360.0]), 1000, "direction grid"),
        (([], [30.0], [0.0]), 1000, "lag grid"),
        (([0.0], [30.0], [0.0]), 10, "rays = 10"),
    ],
)
def test_grids_that_will_not_do_are_named(grids, rays, words):
    with pytest.raises(UserError, match=words):
        intercept(POT, *grids, rays=rays)
