"""Aims that today's sun never meets, against a fine walk along its circle in numpy. Units: degrees."""

import math

import numpy as np
from hypothesis import assume, given
from hypothesis import settings as profile
from hypothesis import strategies as st
from sunhob_board.mount.admission import Admission

from .mount_fakes import MeanSun
from .single_float import Board

LOOSE = 75.0


def unit(az, el):
    az, el = np.radians(az), np.radians(el)
    return np.array([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)])


def circle(lat, dec, hours):
    """The sun's directions at these hour angles, n x 3: rotation of a vector about the pole's axis."""
    axis = np.array([0.0, math.cos(math.radians(lat)), math.sin(math.radians(lat))])
    noon = unit(180.0 if lat > dec else 0.0, 90.0 - abs(lat - dec))
    turn = -np.radians(hours)[:, None]  # the sun turns from east to west, clockwise about the north pole
    return (noon * np.cos(turn) + np.cross(axis, noon) * np.sin(turn)
            + axis * (axis @ noon) * (1.0 - np.cos(turn)))


def rest_of_day(lat, dec, ha):
    """Hour angles from now until the sun has set (a whole turn where it does not)."""
    level = math.sin(math.radians(-0.9))
    whole = circle(lat, dec, np.linspace(-180, 180, 721))[:, 2]
    if whole.min() > level:
        return np.arange(ha, ha + 360.0, 0.05)
    hours = np.arange(ha, 180.0, 0.05)
    return hours[circle(lat, dec, hours)[:, 2] > level]


def least_apart(lat, dec, ha, aim):
    """Least angle from now on to an aim, or to each column of several."""
    hours = rest_of_day(lat, dec, ha)
    if hours.size == 0:
        return np.full(aim.shape[1:], 180.0)
    return np.degrees(np.arccos((circle(lat, dec, hours) @ aim).max(axis=0)))


def answer(lat, dec, ha, aim, kind=Admission, near=0.06):
    """(admitted, behind [deg]) by the firmware."""
    sun = MeanSun(lat, dec, ha)
    pole = (0.0, math.copysign(math.cos(sun.lat), sun.lat), abs(math.sin(sun.lat)))
    rule = kind(round(near * 1e6), round(LOOSE * 1e6))
    rule.begin(sun, pole)
    behind = sun.behind_udeg(*aim)
    return rule.margin(*(float(x) for x in aim), 0.0) >= 0, behind / 1e6


SKY = (st.floats(-66, 66), st.floats(-23.44, 23.44), st.floats(-179, 179),
       st.floats(0, 360), st.floats(-2, 90))


def check(lat, dec, ha, az, el, kind):
    lat += 0.0  # minus nought is no southern place
    aim = unit(az, el)
    pole = math.copysign(1.0, lat) * np.array([0.0, math.cos(math.radians(lat)), math.sin(math.radians(lat))])
    assume(aim @ pole < math.cos(math.radians(3.05)))
    least = least_apart(lat, dec, ha, aim)
    assume(abs(least - LOOSE) > 0.1)
    admitted, behind = answer(lat, dec, ha, aim, kind)
    across = math.sqrt(max(0.0, 1.0 - float(aim @ pole) ** 2))  # near either pole a lead is small on the sky
    assume(abs(math.sin(math.radians(behind))) * across > math.radians(0.1))
    assert admitted == (behind > 0 or least > LOOSE), (least, behind)


@profile(deadline=None, max_examples=400)
@given(*SKY)
def test_an_aim_ahead_is_admitted_only_if_never_met_today(lat, dec, ha, az, el):
    check(lat, dec, ha, az, el, Admission)


@profile(deadline=None, max_examples=100)
@given(*SKY)
def test_so_it_is_in_single_floats(lat, dec, ha, az, el):
    check(lat, dec, ha, az, el, _ROUGH.Admission)


_ROUGH = Board().module("sunhob_board.mount.admission")


@profile(deadline=None, max_examples=150)
@given(st.floats(-66, 66), st.floats(-23.44, 23.44), st.floats(-80, 80), st.floats(0.001, 0.999),
       st.floats(-89, 89))
def test_an_aim_behind_is_never_met_nearer_than_now(lat, dec, ha, share, aim_dec):
    """The law all rests on, for the sun's circle itself and not for the code."""
    hours = rest_of_day(lat, dec, ha)
    if hours.size < 2 or hours[-1] - ha >= 180.0:
        return
    aim = circle(lat, aim_dec, np.array([ha - share * (180.0 - hours[-1] + ha)]))[0]
    along = circle(lat, dec, hours) @ aim
    assert along.max() - along[0] < 1e-9


def test_the_southern_horizon_at_a_summer_noon_and_the_eastern_one_in_the_morning():
    assert answer(24.6, 23.4, -30.0, unit(180.0, 0.0))[0]  # 88.7 deg at noon, no nearer later
    assert answer(24.6, 23.4, -30.0, unit(180.0, 0.0))[1] < 0
    assert not answer(24.6, 23.4, -30.0, unit(230.0, 20.0))[0]  # the evening sun comes within 75 deg
    assert answer(24.6, 0.0, 95.0, unit(270.0, 0.0))[0]  # the sun has set


def test_beside_the_pole_a_lead_counts_as_it_is_on_the_sky():
    """4 deg from the pole half a degree of hour angle is 0.03 deg; at the equator it is half a degree."""
    east = math.radians(4.0)
    beside = np.array([-math.sin(east) * math.sin(math.radians(30.5)),
                       math.cos(math.radians(45)) * math.cos(east)
                       - math.sin(math.radians(45)) * math.sin(east) * math.cos(math.radians(30.5)),
                       math.sin(math.radians(45)) * math.cos(east)
                       + math.cos(math.radians(45)) * math.sin(east) * math.cos(math.radians(30.5))])
    admitted, behind = answer(45.0, 20.0, 30.0, beside)
    assert -0.55 < behind < -0.45 and admitted
