"""Where the dish rests: the least angle from a fixed aim to a day's sun, and the place chosen by it.

The closed form against a fine walk along the sun's circle in numpy. Units: degrees.
"""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import settings as profile
from hypothesis import strategies as st
from sunhob_board.core import settings as board_settings
from sunhob_board.core.park import EQUATORWARD, POLE, Park, least_udeg
from sunhob_board.mount.axis import Axis
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.mount import Mount

from .mount_fakes import FakeDrive, MeanSun
from .single_float import Board

SET_DEG = -0.9
AIR_DEG = 0.3  # taken off for the air's lift of a low sun
_ROUGH = Board().module("sunhob_board.core.park")


def unit(az, el):
    az, el = np.radians(az), np.radians(el)
    return np.array([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)])


def circle(lat, dec, hours):
    """The sun's directions at these hour angles, n x 3: its noon turned about the pole's axis."""
    axis = np.array([0.0, math.cos(math.radians(lat)), math.sin(math.radians(lat))])
    noon = unit(180.0, 90.0 - lat + dec)
    turn = -np.radians(hours)[:, None]
    return (noon * np.cos(turn) + np.cross(axis, noon) * np.sin(turn)
            + axis * (axis @ noon) * (1.0 - np.cos(turn)))


def walked(lat, dec, aim, since=-180.0):
    """Least angle by brute force, 180 if the sun is not up any more."""
    whole = circle(lat, dec, np.arange(-180.0, 180.0, 0.02))
    level = math.sin(math.radians(SET_DEG))
    hours = np.arange(-180.0 if whole[:, 2].min() > level else since, 180.0, 0.02)
    sun = circle(lat, dec, hours)
    sun = sun[sun[:, 2] > level]
    return 180.0 if not len(sun) else float(np.degrees(np.arccos(np.clip((sun @ aim).max(), -1, 1))))


SKY = (st.floats(-89, 89), st.floats(-23.44, 23.44), st.floats(-180, 180), st.floats(0, 360),
       st.floats(-30, 90))
LATITUDES = (-60.0, -38.0, -30.0, -12.0, 0.5, 12.0, 24.6, 35.0, 39.0, 45.0, 52.0, 66.0, 70.0)


def told(lat, dec, since, az, el, least):
    sun = MeanSun(lat, dec, 0.0)
    pair = [0, 0]
    sun.dec_ha_from_enu(*(float(x) for x in unit(az, el)), pair)
    one = [math.radians(x) for x in (lat, dec, pair[0] / 1e6, pair[1] / 1e6, since)]
    got = least(*one) / 1e6
    return got if got == 180.0 else got + AIR_DEG


@profile(deadline=None, max_examples=150)
@given(*SKY)
def test_the_least_angle_is_that_of_a_walk_along_the_suns_circle(lat, dec, since, az, el):
    noon, midnight = 90.0 - abs(lat - dec), abs(lat + dec) - 90.0
    assume(abs(noon - SET_DEG) > 0.1 and abs(midnight - SET_DEG) > 0.1)  # not a grazing sun
    want = walked(lat, dec, unit(az, el), since)
    got = told(lat, dec, since, az, el, least_udeg)
    assume((want == 180.0) == (got == 180.0) or abs(want - got) < 0.1)  # the last sample before it sets
    assert got == pytest.approx(want, abs=0.05)
    assert told(lat, dec, since, az, el, _ROUGH.least_udeg) == pytest.approx(got, abs=0.03)


def resting(lat, dec, ha=0.0, **changed):
    """Park of the invented cooker at a latitude, places found and one chosen for this declination."""
    s = board_settings.defaults()
    s.site_latitude_udeg, s.site_latitude_deg = round(lat * 1e6), lat
    if lat < 0:
        s.axis1_low_deg, s.axis1_high_deg = -170.0, 190.0
    for key, value in changed.items():
        setattr(s, key, value)
    geometry = Geometry(s)
    mount = Mount((Axis(FakeDrive(), 1, s), Axis(FakeDrive(), 2, s)), geometry)
    park = Park(s, MeanSun(lat, dec, ha), mount)
    assert park.place()
    park.choose(0, (round(dec * 1e6),))
    return park, mount


def aimed(park, mount):
    """Unit vector of the chosen readings."""
    out = [0.0, 0.0, 0.0]
    mount.geometry.enu_from_axes(park.axes[0], park.axes[1], out)
    return np.array(out)


@pytest.mark.parametrize("lat", LATITUDES)
def test_the_best_of_the_three_places_is_taken_through_the_year(lat):
    """From solstice to solstice: the pole if it is clear, else the best of the three by brute force."""
    side = math.copysign(1.0, lat)
    poleward = 0.0 if lat >= 0 else 180.0
    for dec in (-23.44, -10.0, 0.0, 14.5, 15.5, 18.0, 21.0, 23.44):
        dec *= side
        park, mount = resting(lat, dec)
        pole = walked(lat, dec, unit(poleward, abs(lat)))
        got = walked(lat, dec, aimed(park, mount))
        want = got if got == 180.0 else got - AIR_DEG
        assert park.least_at(park.which) / 1e6 == pytest.approx(want, abs=0.1)
        if pole > 75.35:
            assert park.which == POLE
        else:
            others = [walked(lat, dec, unit(az, -1.5)) for az in (poleward, 180.0 - poleward)]
            best = max(others)
            if best < 75.0 and best < pole + 5.0:  # nothing is clear: the morning sun is worth more
                best = pole
            assert got == pytest.approx(max(pole, best), abs=0.1)


def test_the_equatorward_horizon_is_clear_where_the_noon_sun_is_within_15_deg_of_the_zenith():
    """90 - |lat - dec| + 1.5 is 75 at 16.5 deg off the zenith; from 40 deg of latitude none is."""
    for lat, dec, clear in ((24.6, 20.0, True), (38.0, 22.0, True), (38.0, 21.5, False), (0.5, 23.4, True),
                            (40.2, 23.44, False), (-24.6, -20.0, True)):
        park, _ = resting(lat, dec)
        assert (park.least_at(park.which) >= 75e6) == clear, lat
        assert not clear or park.which == EQUATORWARD


def test_a_polar_mount_keeps_to_the_pole_where_its_travel_ends_before_the_horizon():
    polar = {"mount_kind": "polar", "axis1_low_deg": 60.0, "axis1_high_deg": 300.0, "axis2_low_deg": -30.0}
    park, mount = resting(35.0, 20.0, **polar)
    assert park.which == POLE and park.axes == [180_000_000, 90_000_000]
    mount.set_position(*park.axes)
    park.look(True)
    assert park.rest_udeg / 1e6 == pytest.approx(70.0 - AIR_DEG, abs=0.01)
    assert park.bright and not park.moves_on()


def test_a_leaning_base_still_finds_its_horizon():
    park, mount = resting(24.6, 20.0, mount_tilt_north_deg=-6.0, mount_tilt_east_deg=3.0)
    aim = aimed(park, mount)
    assert park.which == EQUATORWARD and aim[2] < math.sin(math.radians(10.0))
    assert math.degrees(math.atan2(aim[0], -aim[1])) == pytest.approx(0.0, abs=0.1)


def test_two_days_are_asked_for_and_the_worse_one_counts():
    park, _ = resting(24.6, 14.4)
    assert park.which == POLE
    park.choose(1, (14_400_000, 14_800_000))
    assert park.which == EQUATORWARD


@pytest.mark.parametrize(("lon_deg", "utc_h"), [(0.0, 20), (90.0, 14), (-90.0, 26), (180.0, 8), (-180.0, 32)])
def test_the_day_turns_at_20_h_solar_time(lon_deg, utc_h):
    park, _ = resting(24.6, 0.0, site_longitude_udeg=round(lon_deg * 1e6))
    before, after = (park.solar_day(100 + (utc_h * 3600_000 + by) // 86_400_000,
                                    (utc_h * 3600_000 + by) % 86_400_000) for by in (-1000, 1000))
    assert after == before + 1


def at_pole(lat, dec, ha, **changed):
    park, mount = resting(lat, dec, ha, **changed)
    mount.set_position(*park.pole)
    park.look(True)
    return park


def test_it_moves_on_only_when_a_way_can_be_open_and_it_gains():
    assert not at_pole(24.6, 20.0, -70.0).moves_on()  # low eastern ways pass within 75 deg of the sun
    assert at_pole(24.6, 20.0, -40.0).moves_on()
    assert at_pole(24.6, 20.0, 120.0).moves_on()  # it has set
    assert not at_pole(24.6, 20.0, -150.0).moves_on()  # it will rise
    assert not at_pole(24.6, 14.0, 0.0).moves_on()
    assert not at_pole(70.0, 20.0, 0.0).moves_on()
    park, mount = resting(24.6, 20.0, 0.0)
    mount.set_position(*park.axes)
    park.look(True)
    assert not park.bright and not park.moves_on()
    park.choose(2, (14_000_000,))  # late in summer: the pole again, but here it is clear as well
    assert park.which == POLE and not park.moves_on()


def test_by_night_it_waits_at_the_pole_where_the_cook_chose_so():
    park = at_pole(24.6, 20.0, 120.0, park_pole_by_night=True)
    assert park.goal() == POLE and not park.moves_on()
    park, mount = resting(24.6, 20.0, 120.0, park_pole_by_night=True)
    mount.set_position(*park.axes)
    park.look(True)
    assert park.moves_on() and park.goal() == POLE
    assert at_pole(24.6, 20.0, -40.0, park_pole_by_night=True).moves_on()


def test_from_the_horizon_the_way_to_the_morning_sun_opens_late():
    for ha, closed in ((-70.0, True), (-40.0, False), (30.0, False)):
        park, mount = resting(24.6, 20.0, ha)
        mount.set_position(*park.axes)
        park.look(True)
        assert park.not_yet == closed
    park = at_pole(24.6, 20.0, -70.0)
    assert not park.not_yet and park.bright


def test_an_unknown_place_is_judged_as_the_pole():
    park, _ = resting(24.6, 20.0)
    park.look(False)
    assert park.standing == POLE and park.bright
