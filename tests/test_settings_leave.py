"""Worst times of leaving the sun, by the firmware's planner (degrees, seconds)."""

from pathlib import Path

from sunhob.cooker_writer import cooker_text
from sunhob.leave_times import leave_times
from sunhob.settings import cooker_from_text, load_cooker


def times(**changed):
    text = cooker_text({key.replace("__", "."): value for key, value in changed.items()})
    return leave_times(cooker_from_text(text, Path("invented.toml")))


def test_the_invented_cooker_always_has_a_way():
    found = leave_times(load_cooker())
    assert found.no_way == () and found.out_of_reach == 0 and found.hours > 140
    assert 0 < found.pot_clear_s < found.parked_s < 90


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
