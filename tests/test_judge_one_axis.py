"""An axis that is dead: what the other one can do, by closed forms of an upright mount and of the sun's day.

Units: degrees, minutes. At latitude 0 on an equinox the sun climbs 15 deg an hour through the zenith; an
upright mount whose axis 2 stands at height h keeps no farther from its path than 90 - h (axis 1 turned north
or south), and one whose axis 1 stands on the morning sun's azimuth as far as the lower end of axis 2: what
looks higher or west is met later.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pvlib
import pytest
from sunhob_sim.judge_one_axis import AGAIN_S, OneAxis, clear_after_min, farthest_deg
from sunhob_sim.plant_settings import flat_settings, true_mount
from sunhob_sim.truth import from_dec_ha, separation_deg

HOURS = 2.0


def day(height_deg, **changes):
    """A dish left on an equinox morning's sun of this height, at the equator, for two hours."""
    flat = flat_settings({"site.latitude_deg": 0.0, **changes})
    t_s = np.arange(0.0, 3600.0 * HOURS, 10.0)
    sun = from_dec_ha(0.0, height_deg - 90.0 + t_s / 240.0, 0.0)
    one, two = true_mount(flat).axes_for(sun[0], (90.0, 0.0))
    axes = np.tile([one, two], (len(t_s), 1))
    aim = true_mount(flat).enu(axes[:, 0], axes[:, 1])
    return SimpleNamespace(t_s=t_s, sun=sun, axes_deg=axes, aim=aim, flat=flat,
                           held={"covered": np.zeros(len(t_s))}, dni_w_m2=np.full(len(t_s), 800.0),
                           sun_elevation_deg=np.full(len(t_s), height_deg),
                           separation_deg=separation_deg(aim, sun), site=SimpleNamespace(latitude_deg=0.0))


@pytest.mark.parametrize(("lat", "when"), [
    (24.6, "2026-03-12T06:00"), (-33.0, "2026-12-21T07:10"), (51.0, "2026-06-21T09:30"),
])
def test_when_the_light_ends_is_when_pvlibs_sun_has_gone(lat, when):
    """A dish left on the sun of a real day: minutes by SPA, the aim fixed to the ground."""
    lon = 73.7
    times = pd.date_range(when, periods=1440, freq="min", tz="UTC")
    spa = pvlib.solarposition.get_solarposition(times, lat, lon, method="nrel_numpy")
    az, el = (np.radians(spa[name].to_numpy()) for name in ("azimuth", "elevation"))
    sun = np.stack([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)], axis=-1)
    away = np.degrees(np.arccos(np.clip(sun @ sun[0], -1.0, 1.0)))
    truth = SimpleNamespace(sun=sun[:1], aim=sun[:1], site=SimpleNamespace(latitude_deg=lat))
    for clear in (20.0, 75.0):
        gone = (away >= clear) | (np.degrees(el) < -0.9)
        assert clear_after_min(truth, 0, clear) == pytest.approx(int(np.argmax(gone)), abs=2)


def test_times_told_late_are_none():
    truth = day(70.0)
    last = len(truth.t_s) - 1
    late = OneAxis([(2, 0.0, np.inf)], [(200.0, 77, 297)])
    assert not late.told_right(truth, (20.0, 75.0), 0, last)
    assert OneAxis([(2, 0.0, np.inf)], [(100.0, 78, 298)]).told_right(truth, (20.0, 75.0), 0, last)


def test_under_the_cover_there_is_time_to_tell():
    truth = day(70.0)
    late = OneAxis([(2, 0.0, np.inf)], [(200.0, 77, 297)])
    truth.held["covered"][truth.t_s < 60.0] = 1.0
    assert late.told_right(truth, (20.0, 75.0), 0, len(truth.t_s) - 1)


def test_under_a_cloud_there_is_time_to_tell():
    truth = day(70.0)
    late = OneAxis([(2, 0.0, np.inf)], [(200.0, 77, 297)])
    truth.dni_w_m2[truth.t_s < 60.0] = 26.0
    assert late.told_right(truth, (20.0, 75.0), 0, len(truth.t_s) - 1)


def test_where_the_sun_passes_by_the_angle_tells_whether_a_time_was_right():
    """A dish that looks 74 deg from the sun's daily circle: the sun gains a degree in hours."""
    truth = day(70.0)
    lat = np.radians(truth.site.latitude_deg)
    pole = np.array([0.0, np.cos(lat), np.sin(lat)])
    side = pole - (pole @ truth.sun[0]) * truth.sun[0]
    truth.aim = np.broadcast_to(np.cos(np.radians(74.0)) * truth.sun[0]
                                + np.sin(np.radians(74.0)) * side / np.linalg.norm(side), truth.aim.shape)
    last = len(truth.t_s) - 1
    true_min = clear_after_min(truth, 0, 75.0)
    assert true_min > 40
    told = OneAxis([(2, 0.0, np.inf)], [(5.0, 0, true_min - 30)])
    assert told.told_right(truth, (20.0, 75.0), 0, last)


@pytest.mark.parametrize("height_deg", [30.0, 50.0, 70.0])
def test_what_one_axis_can_give(height_deg):
    truth = day(height_deg)
    assert farthest_deg(truth, 2, 0) == pytest.approx(90.0 - height_deg, abs=0.6)
    low = truth.flat["axis2.low_deg"]
    assert farthest_deg(truth, 1, 0) == pytest.approx(height_deg - low, abs=0.6)
    assert farthest_deg(day(height_deg, **{"axis1.drive": "hand"}), 2, 0) == pytest.approx(0.0, abs=1e-3)


def test_it_cannot_leave_only_where_no_travel_of_the_other_axis_ends_it():
    last = len(day(70.0).t_s) - 1
    assert OneAxis([(2, 0.0, np.inf)]).cannot_leave(day(70.0), 75.0, 0, last).all()  # 20 deg
    assert OneAxis([(2, 0.0, np.inf)]).cannot_leave(day(12.0), 75.0, 0, last) is None  # 78 deg, to the north
    assert OneAxis([]).cannot_leave(day(70.0), 75.0, 0, last) is None


def test_a_way_that_clears_the_angle_by_next_to_nothing_is_not_held_against_the_board():
    truth, one = day(70.0), OneAxis([(2, 0.0, np.inf)])
    most = farthest_deg(truth, 2, 0)
    assert one.cannot_leave(truth, most - 0.4, 0, 20).all()
    assert one.cannot_leave(truth, most - 0.6, 0, 20) is None


def test_an_axis_that_answers_again_is_to_be_tried():
    truth = day(70.0)
    dead = OneAxis([(2, 0.0, 60.0)]).cannot_leave(truth, 75.0, 0, len(truth.t_s) - 1)
    assert truth.t_s[1:][dead].max() == 60.0 + AGAIN_S


def test_the_times_told_are_held_against_the_sun():
    truth = day(70.0)
    last = len(truth.t_s) - 1
    assert [clear_after_min(truth, 0, deg) for deg in (20.0, 75.0)] == pytest.approx([80, 300], abs=1)
    right = OneAxis([(2, 0.0, np.inf)], [(5.0, 80, 300)])
    wrong = OneAxis([(2, 0.0, np.inf)], [(5.0, 80, 200)])
    assert right.told_right(truth, (20.0, 75.0), 0, last)
    assert not wrong.told_right(truth, (20.0, 75.0), 0, last)
    assert not OneAxis([(2, 0.0, np.inf)]).told_right(truth, (20.0, 75.0), 0, last)
