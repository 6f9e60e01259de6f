"""Resting places through the year, against declinations of Spencer (1971) and closed forms. Degrees."""

import json
import math
from itertools import groupby
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from pvlib.solarposition import declination_spencer71
from sunhob import cli, cli_settings
from sunhob import park_year as year
from sunhob.cooker_writer import cooker_text
from sunhob.settings import cooker_from_text, load_cooker

DEC_DEG = np.degrees(declination_spencer71(np.arange(1, 366)))  # within 0.04 deg, as the paper says
SOUTH = {"axis1.low_deg": -170.0, "axis1.high_deg": 190.0, "axis1.home_deg": 182.0}


def cooker(lat, **changed):
    values = {"site.latitude_deg": lat, "axis2.home_deg": abs(lat), **changed}
    return cooker_from_text(cooker_text(values), Path("invented.toml"))


def test_the_invented_cooker_rests_at_the_southern_horizon_from_may_to_august():
    found = year.park_year(load_cooker())
    places = [place for place, _ in groupby(one.place for one in found.seasons)]
    assert places == ["pole", "equatorward horizon", "pole"] and found.no_way == ()
    # none is asked for at the pole with the sun south of the equator, nor 90 deg from the horizon (1.5 down)
    bare = (DEC_DEG <= 0.0) | (DEC_DEG >= 24.6 - 1.5)
    assert found.cover_days == pytest.approx((~bare).sum(), abs=6)
    summer = [one for one in found.seasons if one.place == "equatorward horizon"]
    days = (summer[-1].last - summer[0].first).days + 1
    assert days == pytest.approx((DEC_DEG > 15.0).sum(), abs=4)
    # at its ends the noon sun is lowest: 90 - (latitude - declination) above a horizon 1.5 deg down
    assert min(one.least_deg for one in summer) == pytest.approx(90.0 - 24.6 + 14.7 + 1.5, abs=0.3)
    # there a way crosses the sun's hour circle at the level: cos H = tan(75 - dec) tan(latitude)
    cos_hour = math.tan(math.radians(75.0 - 14.7)) * math.tan(math.radians(24.6))
    want_h = 12.0 - math.degrees(math.acos(cos_hour)) / 15.0
    assert max(one.opens_h for one in summer) == pytest.approx(want_h, abs=0.4)


@pytest.mark.parametrize(("lat", "extra"), [(45.0, {}), (70.0, {}), (-52.0, SOUTH)])
def test_far_from_the_tropics_the_cover_is_wanted_all_summer(lat, extra):
    found = year.park_year(cooker(lat, **extra))
    assert {one.place for one in found.seasons} == {"pole"}
    assert found.cover_days == pytest.approx((DEC_DEG * np.sign(lat) > 0.0).sum(), abs=5)
    least = min(one.least_deg for one in found.seasons)
    assert least == pytest.approx(90.0 - 23.44, abs=0.4)  # the air lifts a low sun


def test_a_travel_that_ends_before_the_south_wants_the_cover():
    short = {"axis1.low_deg": -100.0, "axis1.high_deg": 100.0, "axis1.home_deg": -2.0}
    found = year.park_year(cooker(24.6, **short))
    assert {one.place for one in found.seasons} == {"pole"} and found.cover_days > 100


def test_a_polar_mount_rests_at_the_pole():
    polar = {"mount.kind": "polar", "axis1.low_deg": 60.0, "axis1.high_deg": 300.0, "axis1.home_deg": 178.0,
             "axis2.low_deg": -30.0, "axis2.high_deg": 92.0, "axis2.home_deg": 88.0}
    found = year.park_year(cooker(35.0, **polar))
    assert {one.place for one in found.seasons} == {"pole"} and found.cover_days > 100


def test_the_words_name_days_place_and_when_the_sun_is_reached():
    told = [one["told"] for one in year.park_year_summary(year.park_year(load_cooker()))["seasons"]]
    assert any("equatorward horizon" in one and "only after 09:1" in one for one in told)
    assert "cover it whenever" in told[1] and "cover it" not in told[0]


@pytest.mark.parametrize(("lat", "approach", "kind", "told"), [
    (-25.0, 1, "polar", True), (-25.0, -1, "polar", False), (25.0, 1, "polar", False),
    (25.0, -1, "polar", True), (-25.0, 0, "polar", False), (-25.0, 1, "altaz", False),
])
def test_check_tells_of_play_taken_up_against_the_sun(lat, approach, kind, told):
    given = cooker(lat, **{"mount.kind": kind, "axis1.approach": approach, **(
        {"axis1.low_deg": 60.0, "axis1.high_deg": 300.0, "axis1.home_deg": 178.0, "axis2.low_deg": -28.0,
         "axis2.high_deg": 93.0, "axis2.home_deg": 88.0} if kind == "polar" else SOUTH)})
    leave = SimpleNamespace(out_of_reach=0, pot_clear_s=0.0, parked_s=0.0)
    notes = [note for note in cli_settings._notes(given, leave) if "axis1.approach" in note]
    assert len(notes) == told and all(f"; {-approach} takes up" in note for note in notes)


def test_check_refuses_a_place_without_a_way(monkeypatch, capsys):
    monkeypatch.setattr(year, "_way", lambda *given: False)
    assert cli.run(["check", "--json"]) == 1
    result = json.loads(capsys.readouterr().out)
    assert any("no way from the pole to the equatorward horizon" in one for one in result["falls_short"])
    assert any("never reaches the sun" in one["told"] for one in result["park"]["seasons"])
