"""Guard plate and clear angles: the plate judged by the pot's own ray trace. Units: m, deg, percent, W/m2."""

import math

import numpy as np
import pytest
from sunhob.optics import loose, plate
from sunhob.optics.geometry import Optics
from sunhob.optics.intercept import intercept
from sunhob.optics.rays import MISSED, trace
from sunhob.optics.spill import spill

DISH = Optics(
    aperture_diameter_m=1.4, focal_length_m=0.55, reflectance=0.85, slope_error_mrad=5.0,
    specularity_mrad=2.0, pot_diameter_m=0.24, pot_height_m=0.16, pot_bottom_above_focus_m=-0.03,
    guard_below_focus_m=0.03,
)
GUARDED_M = 0.41


@pytest.fixture(scope="module")
def found():
    """A coarse intercept of the dish."""
    lags = (*range(0, 21, 2), 25, 30)
    return intercept(DISH, lags, (30, 50, 70, 90), (0, 45, 90, 135, 180), 1 << 12, jobs=1)


def strongest_spill(optics, lag, elevation, direction, places):
    """Strongest light (W/m2) that misses pot and plate, in discs of 3 cm radius about these places (m)."""
    got = trace(optics, lag, elevation, direction, 1 << 15)
    loose_rays = got.hit == MISSED
    start, ray = got.rays.point_m.T[loose_rays], got.rays.ray.T[loose_rays]
    watts = got.rays.power[loose_rays] * optics.returned * 1000.0 * optics.aperture_m2
    worst = 0.0
    for place in places:
        to = place - start
        along = np.sum(to * ray, axis=1)
        near = (along > 0) & (np.sum((to - along[:, None] * ray) ** 2, axis=1) < 0.03**2)
        worst = max(worst, watts[near].sum() / (math.pi * 0.03**2))
    return worst


def around(radius_m, count=1200):
    """Places even over a sphere about the focus."""
    k = np.arange(count) + 0.5
    up, turn = 1 - 2 * k / count, 2 * math.pi * k * 0.6180339887
    level = np.sqrt(1 - up**2)
    return radius_m * np.column_stack([level * np.cos(turn), level * np.sin(turn), up])


def test_a_sized_plate_catches_the_spill(found):
    # dialled to 10 %, the dish looking straight up: the spill lands beside the pot, beyond the sphere
    guard = plate.guard_for_least(DISH, 10.0, found, GUARDED_M)
    lag = guard.lag_deg[90.0]
    size = guard.by_elevation_m[90.0]
    assert 0.24 < size <= 1.4
    assert guard.diameter_m == max(guard.by_elevation_m.values())
    shells = np.concatenate([around(r) for r in (0.42, 0.45)])
    shells = shells[np.abs(shells[:, 2]) < 0.12]
    without = strongest_spill(DISH, lag, 90.0, 90.0, shells)
    with_plate = strongest_spill(
        DISH.model_copy(update={"guard_diameter_m": size}), lag, 90.0, 90.0, shells
    )
    assert without > 4000.0 * plate.MAP_NOISE
    assert with_plate < 4000.0 * plate.MAP_NOISE


def test_the_lower_the_heat_the_wider_the_plate(found):
    guards = [plate.guard_for_least(DISH, p, found, GUARDED_M, 1 << 13) for p in (40.0, 20.0, 8.0)]
    sizes = [guard.by_elevation_m[90.0] for guard in guards]
    assert sizes[0] == 0.0
    assert sizes[0] < sizes[1] < sizes[2]


def test_a_plate_catches_nothing_that_passes_through_the_pots_place():
    hot = plate.hot_cells(DISH, 14.0, GUARDED_M)
    assert hot.cells > 0
    up, side = (plate.plate_m(DISH, hot, 90.0, way) for way in (0.0, 90.0))  # the same, looking straight up
    assert up == pytest.approx(side, rel=0.05)
    cool = plate.hot_cells(DISH, 0.0, GUARDED_M)
    assert (cool.cells, plate.plate_m(DISH, cool, 60.0, 90.0)) == (0, 0.0)
    # 30 deg off, the whole bundle passes the dish's own width from the pot: no plate is wide enough
    assert math.isinf(plate.plate_m(DISH, plate.hot_cells(DISH, 30.0, GUARDED_M), 30.0, 0.0))


def one_ray(start, way):
    """A hot cell made by a single ray, in the frame of a dish that looks straight up."""
    way = np.array(way, dtype=float)
    ray = (way / np.linalg.norm(way)).reshape(3, 1)
    return plate.Hot(2, np.array([0]), np.array([0]), np.array([9e3]), np.array(start).reshape(3, 1), ray)


def test_the_plate_reaches_as_far_as_the_ray_it_must_stop():
    # the plate lies 0.03 m below the focus: a plumb ray 0.30 m out crosses it there
    out = one_ray((0.30, 0.0, -0.5), (0.0, 0.0, 1.0))
    assert plate.plate_m(DISH, out, 90.0, 0.0) == pytest.approx(0.60, abs=0.02)
    level = one_ray((-0.5, 0.0, -0.2), (1.0, 0.0, 0.0))  # it never crosses the plane
    assert math.isinf(plate.plate_m(DISH, level, 90.0, 0.0))
    # from above the plate, past the pot and never back: no plate stops it
    assert math.isinf(plate.plate_m(DISH, one_ray((-0.5, 0.3, 0.1), (1.0, 0.0, 0.2)), 90.0, 0.0))
    on_the_pot = one_ray((0.05, 0.0, -0.5), (0.0, 0.0, 1.0))
    assert plate.plate_m(DISH, on_the_pot, 90.0, 0.0) == 0.0


def test_dial_lag_undoes_the_intercept(found):
    for percent in (80.0, 40.0, 10.0):
        lag = plate.dialled_lag_deg(found, percent, 50.0, 90.0)
        heat = found.at([lag, 0.0], 50.0, 90.0, "absorbed")
        assert 100.0 * heat[0] / heat[1] == pytest.approx(percent, abs=0.5)
    assert plate.dial_end_deg(found, 10.0) > plate.dial_end_deg(found, 40.0) > 5.0


def test_guarded_sphere_of_the_dial_holds_that_of_full_heat(found):
    radius = plate.guarded_dialled_m(DISH, found)
    assert 0.3 < radius < 0.75 * 0.55 + 0.03


def test_clear_angles_are_kept_and_told_again(found, tmp_path, monkeypatch):
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path))
    told = []
    clear = loose.cached_clear(DISH, found, tell=told.append)
    assert told
    told.clear()
    assert loose.cached_clear(DISH, found, tell=told.append) == clear
    assert not told
    assert clear.guarded_full_m <= clear.guarded_m
    assert 15.0 < clear.pot_clear_deg <= 25.0  # about 15 to 25 deg for such a dish
    assert loose.cached_plate_m(DISH, found, 40.0, clear) == 0.0
    assert loose.cached_plate_m(DISH, found, 10.0, clear) > 0.24


def test_where_the_pot_never_clears_it_is_kept_as_unknown(tmp_path, monkeypatch):
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path))
    monkeypatch.setattr(loose, "QUICK_RAYS", 1 << 10)
    short = intercept(DISH, (0, 4, 9), (50,), (0, 90), 1 << 10, jobs=1)
    first = loose.cached_clear(DISH, short)
    assert first.pot_clear_deg is None
    assert loose.cached_clear(DISH, short) == first


def test_where_the_spill_ends():
    # looking straight up all light that misses the pot flies up; aimed true all but the shade is on the pot
    true = spill(DISH, 0.0, 90.0, 0.0)
    assert true["pot_bottom"] + true["pot_wall"] + true["shaded"] == pytest.approx(1.0, abs=1e-3)
    # the pot shades its own share of the aperture: (0.24 / 1.4)^2
    assert true["shaded"] == pytest.approx((0.24 / 1.4) ** 2, rel=0.03)
    past = spill(DISH, 20.0, 90.0, 0.0)
    assert past["upward"] + past["over_lid"] > 0.9 and past["downward"] < 0.02
    # the sun above an axis near the horizon: the spill is thrown below the pot, half of it to the ground
    low = spill(DISH, 20.0, 15.0, 0.0)
    assert low["downward"] > 0.4
    high = spill(DISH, 20.0, 15.0, 180.0)
    assert high["downward"] < 0.5 * low["downward"]
    assert high["over_lid"] > 10.0 * low["over_lid"]
    plate = spill(DISH.model_copy(update={"guard_diameter_m": 0.8}), 12.0, 90.0, 90.0)
    assert plate["plate"] > 0.5
