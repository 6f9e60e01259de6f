"""A dead mount on the sun: how long the light stays, and when it comes back. Units: deg, minutes, UTC."""

from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest
from sunhob.optics import walk_off as w
from sunhob.sun_truth import separation_deg

SITES = ((0.0, 20.0), (24.6, 73.7), (-26.2, 28.0), (45.0, 7.0))
DAYS = ("2025-03-20", "2025-06-21", "2025-08-15", "2025-12-21")


def at(day: str, longitude_deg: float, solar_hour: float) -> float:
    """Unix seconds of a mean solar hour of a day at a longitude."""
    midnight = datetime.fromisoformat(day).replace(tzinfo=UTC).timestamp()
    return midnight + (solar_hour - longitude_deg / 15) * 3600


def ramp(lag, _elevation, _direction):
    """An invented pot: all its heat to 2 deg, none from 12 deg on, straight between."""
    return np.clip((12.0 - np.asarray(lag)) / 10.0, 0.0, 1.0)


@pytest.mark.parametrize(("latitude", "longitude"), SITES)
@pytest.mark.parametrize("day", DAYS)
def test_the_sun_walks_off_at_13_7_to_15_deg_an_hour_and_comes_back_next_day(latitude, longitude, day):
    found = w.walk_off(w.Site(latitude, longitude), at(day, longitude, 11.0), 5.0, ramp, 60.0)
    minutes = found.below_1_percent  # from a lag of 5 deg to 11.9 deg
    # 13.76 deg/h at the solstices to 15 deg/h at the equinoxes, less where the aim is not on the sun's great
    # circle; refraction bends no more than 0.05 deg at these heights
    assert 6.9 / 15.05 * 60 - 0.2 <= minutes <= 6.9 / 13.6 * 60 + 0.4
    assert found.below_5_percent < found.below_1_percent < found.loose_ends
    # a trailing aim is met again within 0.4 deg next day: the declination moves at most 0.4 deg a day
    assert found.back_nearest_deg < 0.4
    assert 24 * 60 - 30 < found.back_nearest < 24 * 60
    assert found.back_on_pot == pytest.approx(found.back_nearest - 11.9 / 15 * 60, abs=6)
    assert found.back_loose < found.back_on_pot < found.back_nearest


def test_the_farther_behind_the_sooner_clear():
    site, noon = w.Site(24.6, 73.7), at("2025-05-15", 73.7, 12.0)
    found = [w.walk_off(site, noon, lag, ramp, 60.0) for lag in (0.0, 3.0, 6.0, 11.0)]
    assert all(a.below_1_percent > b.below_1_percent for a, b in pairwise(found))
    assert found[0].below_5_percent == pytest.approx(11.5 / 14.4 * 60, abs=1.5)
    assert all(one.back_nearest_deg < 0.4 for one in found)


def test_late_in_the_day_the_light_ends_with_the_sun():
    site = w.Site(24.6, 73.7, 600.0)
    found = w.walk_off(site, at("2025-12-21", 73.7, 15.5), 0.0, ramp, 75.0)
    assert found.ends_by_sunset
    # sunset by the textbook: cos H = -tan(lat) tan(dec); here 5.26 h after solar noon, less the
    # equation of time
    half_day_h = np.degrees(np.arccos(-np.tan(np.radians(24.6)) * np.tan(np.radians(-23.44)))) / 15.0
    assert found.loose_ends == pytest.approx((half_day_h - 3.5) * 60.0, abs=8.0)
    early = w.walk_off(site, at("2025-12-21", 73.7, 9.0), 0.0, ramp, 75.0)
    assert not early.ends_by_sunset


def test_where_the_sun_does_not_set():
    found = w.walk_off(w.Site(75.0, 20.0), at("2025-06-21", 20.0, 12.0), 0.0, ramp, 60.0)
    assert not found.ends_by_sunset
    assert found.back_nearest == pytest.approx(24 * 60, abs=2)


def test_lag_and_direction_as_seen_from_the_axis():
    # axis level to the north: up is the zenith, to the right is east
    axis = np.array([0.0, 1.0, 0.0])
    suns = np.array([[0, np.cos(0.1), np.sin(0.1)], [np.sin(0.2), np.cos(0.2), 0], [-0.6, 0.8, 0.0]])
    lag, direction = w.sun_as_seen(axis, suns)
    assert lag == pytest.approx([np.degrees(0.1), np.degrees(0.2), np.degrees(np.arcsin(0.6))])
    assert direction == pytest.approx([0.0, 90.0, 270.0])
    lag, direction = w.sun_as_seen(np.array([0.0, 0.0, 1.0]), suns[:1])
    assert np.isfinite(direction).all()
    assert lag == pytest.approx([90.0 - np.degrees(0.1)])


def test_trailing_aim_is_on_the_path_and_so_far_behind():
    site, now = w.Site(-26.2, 28.0), at("2025-02-10", 28.0, 14.0)
    aim = w.trailing_aim(site, now, 8.0)
    assert separation_deg(aim, site.sun(np.array([now]))[0][0])[()] == pytest.approx(8.0, abs=0.01)
    path = site.sun(now - np.arange(0.0, 3600.0, 5.0))[0]
    assert separation_deg(np.broadcast_to(aim, path.shape), path).min() < 0.012
