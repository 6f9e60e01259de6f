"""Builder of the board's sun table from pvlib's SPA. Units: days since 2000-01-01 UTC, udeg in the rows."""

from __future__ import annotations

import struct
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sunhob_board.sun.table import FORMAT, HEADER, MAGIC, SunTable, table_crc

from sunhob.errors import UserError

STEP_DAYS = 4
MOST_YEARS = 22
MOST_BYTES = 16384  # what the board sets aside
DELTA_T_S = 67.0  # TT less UT as pvlib's SPA takes it; 2 s more would move the sun by 0.11"
DAY0 = date(2000, 1, 1)
DAY0_UNIX = 946684800
Floats = NDArray[np.float64]


def day2000(day: date) -> int:
    """Days from 2000-01-01 to `day`."""
    return (day - DAY0).days


def date_of(day: int) -> date:
    """Calendar day (UTC) of a count of days since 2000-01-01."""
    return DAY0 + timedelta(days=day)


def geocentric(unix_s: ArrayLike, delta_t_s: float = DELTA_T_S) -> tuple[Floats, Floats, Floats]:
    """Apparent declination (deg), Greenwich hour angle (deg, 0..360), distance (au) of the sun, from SPA.

    NREL/TP-560-34302 (rev. 2008), equations 4 to 34, in the order given there.
    """
    from pvlib import spa  # here: it brings pandas, and who only reads a table needs neither

    jd: Any = spa.julian_day(np.asarray(unix_s, dtype=np.float64))
    jc = spa.julian_century(jd)
    jce = spa.julian_ephemeris_century(spa.julian_ephemeris_day(jd, delta_t_s))
    jme = spa.julian_ephemeris_millennium(jce)
    distance = spa.heliocentric_radius_vector(jme)
    theta = spa.geocentric_longitude(spa.heliocentric_longitude(jme))
    beta = spa.geocentric_latitude(spa.heliocentric_latitude(jme))
    moon_sun = (
        spa.mean_elongation(jce),
        spa.mean_anomaly_sun(jce),
        spa.mean_anomaly_moon(jce),
        spa.moon_argument_latitude(jce),
        spa.moon_ascending_longitude(jce),
    )
    nutation = np.zeros((2, np.size(unix_s)))
    spa.longitude_obliquity_nutation(jce, *moon_sun, nutation)
    obliquity = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(jme), nutation[1])
    longitude = spa.apparent_sun_longitude(theta, nutation[0], spa.aberration_correction(distance))
    sidereal = spa.apparent_sidereal_time(spa.mean_sidereal_time(jd, jc), nutation[0], obliquity)
    ascension = spa.geocentric_sun_right_ascension(longitude, obliquity, beta)
    declination = spa.geocentric_sun_declination(longitude, obliquity, beta)
    return declination, (sidereal - ascension) % 360.0, distance


def build_table(first_day: date, years: float) -> bytes:
    """The table file, valid from `first_day` (UTC) for `years` years of 365.25 days."""
    if not 0 < years <= MOST_YEARS:
        raise UserError(f"--years {years:g}: must be above 0, at most {MOST_YEARS} (16 kB); give 20")
    if not 1972 <= first_day.year <= 2150:
        raise UserError(f"--first-day {first_day}: must lie in 1972..2150; give for example 2026-01-01")
    intervals = int(np.ceil(years * 365.25 / STEP_DAYS))
    rows = intervals + 3
    row0 = day2000(first_day) - STEP_DAYS
    unix_s = DAY0_UNIX + 86400.0 * (row0 + STEP_DAYS * np.arange(rows, dtype=np.float64))
    declination, gha, _ = geocentric(unix_s)
    pairs = np.column_stack([np.round(declination * 1e6), np.round(gha * 1e6)]).astype("<i4")
    body = pairs.tobytes()
    bare = struct.pack(HEADER, MAGIC, FORMAT, STEP_DAYS, row0, rows, 0) + body
    data = struct.pack(HEADER, MAGIC, FORMAT, STEP_DAYS, row0, rows, table_crc(bare)) + body
    SunTable(data)  # what the board would refuse is never handed out
    return data
