"""SPA and the board against published and independent values. Units: deg, m, Pa, degC, udeg where said."""

from __future__ import annotations

import csv
import warnings
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from sunhob.sun_compare import Case, board_sun, compare
from sunhob.sun_table import DAY0_UNIX, build_table, geocentric
from sunhob.sun_truth import enu_from_azel, separation_deg, sun_azel, sun_enu
from sunhob_board.sun.position import Sun
from sunhob_board.sun.table import SunTable

DATA = Path(__file__).parent / "data"
ARCSEC = 1.0 / 3600.0


def rows() -> list[dict[str, str]]:
    """solar_position.csv: SPA by pvlib and, apart from it, astropy; worked out once, offline."""
    with (DATA / "solar_position.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def case_of(row: dict[str, str]) -> Case:
    return Case(
        datetime.fromisoformat(row["utc"]).replace(tzinfo=UTC),
        float(row["lat_deg"]),
        float(row["lon_deg"]),
        float(row["elev_m"]),
        float(row["pressure_hPa"]) * 100.0,
        float(row["temp_C"]),
    )


# Reda & Andreas, NREL/TP-560-34302, rev. January 2008, Table A5.1: 2003-10-17 12:30:30, zone -7 h
PAPER = Case(datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC), 39.742476, -105.1786, 1830.14, 82000.0, 11.0)
PAPER_ZENITH_DEG, PAPER_AZIMUTH_DEG = 50.11162, 194.34024
PAPER_DECLINATION_DEG, PAPER_HOUR_ANGLE_DEG = -9.31434, 11.105900
PAPER_RADIUS_AU = 0.9965422974


def test_truth_gives_the_papers_example() -> None:
    azimuth, elevation = sun_azel(
        PAPER.at.timestamp(),
        PAPER.latitude_deg,
        PAPER.longitude_deg,
        PAPER.altitude_m,
        PAPER.pressure_pa,
        PAPER.temp_c,
    )
    assert 90.0 - elevation[0] == pytest.approx(PAPER_ZENITH_DEG, abs=1e-5)
    assert azimuth[0] == pytest.approx(PAPER_AZIMUTH_DEG, abs=1e-5)


def test_geocentric_gives_the_papers_example() -> None:
    declination, gha, radius = geocentric(np.array([PAPER.at.timestamp()]))
    assert declination[0] == pytest.approx(PAPER_DECLINATION_DEG, abs=1e-5)
    assert gha[0] + PAPER.longitude_deg == pytest.approx(PAPER_HOUR_ANGLE_DEG, abs=1e-5)
    assert radius[0] == pytest.approx(PAPER_RADIUS_AU, abs=1e-8)


def test_board_gives_the_papers_example() -> None:
    sun = board_sun(SunTable(build_table(date(2003, 1, 1), 1)), PAPER)
    found = [[sun.e, sun.n, sun.u]]
    paper = enu_from_azel(PAPER_AZIMUTH_DEG, 90.0 - PAPER_ZENITH_DEG)
    assert separation_deg(found, paper)[0] < 0.0001
    assert sun.elevation_deg == pytest.approx(90.0 - PAPER_ZENITH_DEG, abs=0.0001)


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_board_and_truth_against_the_table(row: dict[str, str]) -> None:
    answer = compare([case_of(row)])
    listed = enu_from_azel(float(row["spa_az_deg"]), float(row["spa_el_apparent_deg"]))
    for whose, allowed in (("spa", 0.00002), ("board", 0.0001)):
        found = answer["cases"][0][whose]
        there = enu_from_azel(found["azimuth_deg"], found["elevation_deg"])
        assert separation_deg(there, listed)[0] < allowed


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_truth_against_astropy_without_air(row: dict[str, str]) -> None:
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    case = case_of(row)
    with iers.conf.set_temp("auto_download", False), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # polar motion of later years is not known
        time = Time(case.at.replace(tzinfo=None), scale="utc")
        time.delta_ut1_utc = 0.0  # SPA here takes UTC for UT1
        site = EarthLocation.from_geodetic(case.longitude_deg, case.latitude_deg, case.altitude_m)
        seen = get_sun(time).transform_to(AltAz(obstime=time, location=site))
    truth = sun_enu(
        case.at.timestamp(), case.latitude_deg, case.longitude_deg, case.altitude_m, 0.0, case.temp_c
    )
    assert separation_deg(enu_from_azel(seen.az.deg, seen.alt.deg), truth)[0] < 1.0 * ARCSEC


def test_board_against_truth_over_sites_and_air() -> None:
    table = SunTable(build_table(date(2026, 1, 1), 20))
    rng = np.random.default_rng(7)
    for _ in range(40):
        lat, lon = (
            round(float(np.degrees(np.arcsin(rng.uniform(-1, 1)))), 6),
            round(float(rng.uniform(-180, 180)), 6),
        )
        alt, pressure, temp = rng.uniform(-400, 6000), rng.uniform(45000, 106000), rng.uniform(-40, 50)
        sun = Sun(table, round(lat * 1e6), round(lon * 1e6), alt, pressure, temp)
        days = rng.integers(table.first_day, table.last_day + 1, 200)
        ms = rng.integers(0, 86400000, 200)
        truth = sun_enu(DAY0_UNIX + 86400.0 * days + ms / 1000.0, lat, lon, alt, pressure, temp)
        found = np.empty_like(truth)
        for i in range(200):
            sun.update(int(days[i]), int(ms[i]))
            found[i] = sun.e, sun.n, sun.u
        assert separation_deg(found, truth)[truth[:, 2] >= 0].max(initial=0.0) < 0.0001


def test_directions_and_hour_angles_turn_into_each_other() -> None:
    sun = Sun(SunTable(build_table(date(2026, 1, 1), 1)), -33_900_000, 18_400_000, 50.0, 101000.0, 15.0)
    aim, back = [0.0, 0.0, 0.0], [0, 0]
    for dec in (-89_000_000, -23_000_000, 0, 66_000_000):
        for ha in (-179_999_999, -90_000_000, 0, 1, 120_000_000, 180_000_000):
            sun.enu_from_dec_ha(dec, ha, aim)
            sun.dec_ha_from_enu(*aim, back)
            assert abs(back[0] - dec) <= 1
            assert abs(back[1] - ha) <= 1


def test_behind_is_the_turn_of_the_earth() -> None:
    sun = Sun(SunTable(build_table(date(2026, 1, 1), 1)), 9_030_000, 38_740_000, 2355.0, 0.0, 18.0)
    sun.update(9600, 8 * 3600000)
    aim = sun.e, sun.n, sun.u
    for minutes in (1, 10, 60, 240):
        sun.update(9600, 8 * 3600000 + minutes * 60000)
        turned = minutes * 250_000  # to this the equation of time and the parallax add a little
        assert abs(sun.behind_udeg(*aim) - turned) < 3000 + 100 * minutes
        assert 0 < sun.separation_udeg(*aim) <= minutes * 250_000
