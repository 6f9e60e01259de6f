"""Worst times of leaving the sun by the firmware's planner, and what one axis alone cannot do: deg, s, h."""

from pathlib import Path

import numpy as np
import pytest
from sunhob.cooker_writer import cooker_text
from sunhob.leave_times import leave_times
from sunhob.settings import cooker_from_text, load_cooker


def times(**changed):
    text = cooker_text({key.replace("__", "."): value for key, value in changed.items()})
    return leave_times(cooker_from_text(text, Path("invented.toml")))


def test_the_invented_cooker_always_has_a_way():
    found = leave_times(load_cooker())
    assert found.no_way == [] and found.out_of_reach == 0 and found.hours > 250
    assert 0 < found.pot_clear_s <= 20 and found.pot_clear_s < found.parked_s <= 90


def test_least_time_is_bounded_by_speed():
    """The pot is clear no sooner than the faster axis turns through the clear angle."""
    cooker = load_cooker()
    fastest = max(cooker.axis1.speed_deg_s, cooker.axis2.speed_deg_s)
    assert leave_times(cooker).pot_clear_s > cooker.dish.pot_clear_deg / fastest


def test_a_slow_axis_takes_longer():
    assert times(axis1__speed_deg_s=1.0).parked_s > times().parked_s


def test_a_southern_cooker_wants_another_cut():
    near_noon = times(site__latitude_deg=-33.0)
    far_from_it = times(
        site__latitude_deg=-33.0, axis1__low_deg=-200.0, axis1__high_deg=200.0, axis1__home_deg=-190.0
    )
    assert far_from_it.pot_clear_s < near_noon.pot_clear_s and far_from_it.pot_clear_s < 20


def test_hours_beyond_the_travel_are_counted():
    assert times(axis2__high_deg=60.0).out_of_reach > 0


def elevations_deg(lat_deg):
    """The sun's elevation at every 4 minutes of a year, by the textbook formula and Cooper's declination
    (Duffie & Beckman, Solar Engineering of Thermal Processes, equations 1.6.1a and 1.6.5)."""
    dec = np.radians(23.45 * np.sin(2 * np.pi * (284 + np.arange(1, 366)) / 365))[:, None]
    hour, lat = np.radians(np.arange(-180, 180, 1.0)), np.radians(lat_deg)
    return np.degrees(np.arcsin(np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(hour)))


@pytest.mark.parametrize("lat", [0.0, 24.6, 50.0])
def test_hours_in_which_one_axis_alone_cannot_leave(lat):
    """The azimuth alone reaches no farther than 180 deg less twice the sun's elevation, in the hours summed
    here in numpy; that it must keep behind and inside the travel only adds to them."""
    found = times(site__latitude_deg=lat, axis2__home_deg=max(lat - 2.0, -1.0))
    up = elevations_deg(lat)
    assert found.sun_hours == pytest.approx((up > 10.0).sum() / 15, rel=0.03)
    lift, turn = found.one_axis
    assert (lift.dead_axis, turn.dead_axis) == (1, 2)
    high = (up > 52.5).sum() / 15
    assert 0.97 * high <= turn.light_hours <= found.sun_hours
    if high:
        assert turn.lowest_deg <= 56.0 and turn.such_as is not None
    for alone in (lift, turn):
        assert 0 <= alone.pot_hours <= alone.light_hours
    assert turn.pot_hours >= 0.9 * (up > 80.0).sum() / 15


def test_travel_past_the_zenith_lets_axis_2_leave_alone():
    far = times(axis2__high_deg=165.0).one_axis[0]
    assert far.pot_hours < times().one_axis[0].pot_hours
