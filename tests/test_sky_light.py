"""Sun and light of the bench. Units: seconds, W/m2, degrees."""

import csv
import timeit
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from sunhob_sim.sky import RandomClouds, Series, Site, Sky, enu, spa_angles, transmittance

ROWS = list(csv.DictReader((Path(__file__).parent / "data" / "clearsky_dni.csv").read_text().splitlines()))
DELHI = Site(28.6139, 77.2090, 216.0)  # a city, no real cooker
NOON = datetime(2025, 5, 15, 6, 30, tzinfo=UTC).timestamp()


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["site"] + r["utc"])
def test_clear_sky_is_ineichen(row):
    # clearsky_dni.csv: Ineichen with the bundled turbidity, computed once apart from this code
    at = datetime.fromisoformat(row["utc"]).replace(tzinfo=UTC).timestamp()
    sky = Sky(Site(float(row["lat_deg"]), float(row["lon_deg"]), float(row["alt_m"])), at, 60)
    assert sky.beam_w_m2(0.0) == pytest.approx(float(row["ineichen_dni_W_m2"]), rel=0.02, abs=2.0)
    assert sky.open_w_m2(0.0) == pytest.approx(float(row["ineichen_ghi_W_m2"]), rel=0.02, abs=2.0)
    assert 90.0 - sky.elevation_deg(0.0) == pytest.approx(float(row["apparent_zenith_deg"]), abs=0.01)


def test_interpolated_sun_is_spa_within_a_microradian():
    sky = Sky(DELHI, NOON - 3600, 7200)
    t = np.arange(-7100.0, 7200, 17.3)
    want = enu(*spa_angles(DELHI, sky.start_unix + t))
    assert np.max(np.linalg.norm(sky.sun_array(t) - want, axis=1)) < 1e-6
    one = np.array([sky.sun_at(x) for x in t])
    assert np.max(np.abs(one - want)) < 1e-6


def test_a_listed_cloud_ramps_in_and_out():
    t = np.arange(0, 300.0)
    through = transmittance([(100.0, 60.0, 0.2)], t)
    assert through[99] == 1.0
    assert through[130] == pytest.approx(0.2)
    assert 0.2 < through[105] < 1.0
    assert through[165] == 1.0


def test_cloud_takes_the_beam_but_leaves_open_sky():
    sky = Sky(DELHI, NOON, 600, [(100.0, 300.0, 0.0)])
    assert sky.beam_w_m2(250.0) == pytest.approx(0.0, abs=1e-9)
    assert 100 < sky.open_w_m2(250.0) < 0.7 * sky.open_w_m2(0.0)


def test_random_clouds_are_seeded_and_cover_what_was_asked():
    t = np.arange(0, 40 * 86400.0, 5.0)
    clouds = RandomClouds(0.4, 7).over(40 * 86400.0)
    assert clouds == RandomClouds(0.4, 7).over(40 * 86400.0)
    assert clouds != RandomClouds(0.4, 8).over(40 * 86400.0)
    assert np.mean(transmittance(clouds, t) < 0.999) == pytest.approx(0.4, abs=0.04)


def test_measured_series_is_followed():
    series = Series(NOON + np.array([0.0, 60.0]), np.array([800.0, 200.0]), np.array([900.0, 300.0]))
    sky = Sky(DELHI, NOON, 60, series)
    assert sky.beam_w_m2(30.0) == pytest.approx(500.0, abs=0.1)
    assert sky.open_w_m2(60.0) == pytest.approx(300.0, abs=0.1)


def test_scalar_light_is_quick():
    sky = Sky(DELHI, NOON, 600)
    assert min(timeit.repeat(lambda: sky.beam_w_m2(123.4), number=2000, repeat=5)) / 2000 < 3e-6
