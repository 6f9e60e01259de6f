"""What the light does when the mount is dead: when it walks off the pot, ends, and comes back.

Units: minutes, unix seconds (UTC), degrees; heat as a fraction of full heat (0..1). Sun: pvlib's SPA.
The dish stands still, aimed where the sun was when it stood `lag_deg` further back along its path.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunhob.sun_truth import Floats, enu_from_azel, separation_deg, sun_azel

STEP_S = 10.0
DAY_S = 86400.0
MORE_S = 6.0 * 3600.0  # the sun's return is looked for so much longer than a day
Heat = Callable[[Floats, Floats, Floats], Floats]  # (lag_deg, elevation_deg, direction_deg) -> fraction


@dataclass(frozen=True)
class Site:
    """Place of the dish: degrees north and east, metres above the sea, Pa, degC."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    pressure_pa: float = 101325.0
    temp_c: float = 15.0

    def sun(self, times_unix: Floats) -> tuple[Floats, Floats]:
        """Unit vectors (n, 3) east, north, up of the apparent sun, and its elevations in deg."""
        azimuth, elevation = sun_azel(times_unix, self.latitude_deg, self.longitude_deg, self.altitude_m,
                                      self.pressure_pa, self.temp_c)
        return enu_from_azel(azimuth, elevation), elevation


@dataclass(frozen=True)
class WalkOff:
    """Minutes from the stop; None where it does not happen before sunset (or next day).

    `below_5_percent`, `below_1_percent`: the pot's heat for good, that day. `loose_ends`: the sun
    `loose_clear_deg` away, or set. `back_nearest`: when, next day, the sun comes nearest to the aim, at
    `back_nearest_deg`; `back_loose`: when loose light begins again next day; `back_on_pot`: when the pot gets
    more than 1 % again.
    """

    lag_deg: float
    sun_elevation_deg: float
    aim_elevation_deg: float
    below_5_percent: float
    below_1_percent: float
    loose_ends: float
    ends_by_sunset: bool
    back_loose: float | None
    back_on_pot: float | None
    back_nearest: float
    back_nearest_deg: float


def sun_as_seen(axis: Floats, sun: Floats) -> tuple[Floats, Floats]:
    """Lag (deg) and direction (deg: 0 up, 90 to the right looking out) of suns (n, 3) from an axis (3,)."""
    lag = separation_deg(np.broadcast_to(axis, sun.shape), sun)
    right = np.cross(axis, (0.0, 0.0, 1.0))
    length = np.linalg.norm(right)
    right = right / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])
    up = np.cross(right, axis)
    return lag, np.degrees(np.arctan2(sun @ right, sun @ up)) % 360.0


def trailing_aim(site: Site, at_unix: float, lag_deg: float) -> Floats:
    """Unit vector (3,) of the place on the sun's path `lag_deg` behind the sun of `at_unix`."""
    now = site.sun(np.array([at_unix]))[0][0]
    early, late = at_unix - lag_deg * 600.0, at_unix  # the sun moves at least 6 deg an hour on any path
    for _ in range(40):
        middle = (early + late) / 2.0
        here = site.sun(np.array([middle]))[0][0]
        if separation_deg(here, now) > lag_deg:
            early = middle
        else:
            late = middle
    return np.asarray(site.sun(np.array([(early + late) / 2.0]))[0][0])


def walk_off(site: Site, at_unix: float, lag_deg: float, heat: Heat, loose_clear_deg: float) -> WalkOff:
    """What becomes of the light when every drive dies at `at_unix` (sun up), `lag_deg` behind the sun."""
    aim = trailing_aim(site, at_unix, lag_deg)
    aim_up = float(np.degrees(np.arcsin(aim[2])))
    times = at_unix + np.arange(0.0, DAY_S + MORE_S, STEP_S)
    suns, up = site.sun(times)
    lag, direction = sun_as_seen(aim, suns)
    share = heat(lag, np.full_like(lag, aim_up), direction) * (up > 0.0)
    loose = (lag < loose_clear_deg) & (up > 0.0)
    set_at = _first(up <= 0.0)  # None where the sun does not set: then half a day is the day
    today = np.arange(times.size) < (round(DAY_S / 2.0 / STEP_S) if set_at is None else set_at)
    next_day = ~today & (up > 0.0)
    nearest = int(np.argmin(np.where(next_day, lag, 999.0)))
    ends = _after_last(loose & today)
    return WalkOff(
        lag_deg=lag_deg,
        sun_elevation_deg=float(up[0]),
        aim_elevation_deg=aim_up,
        below_5_percent=_after_last((share >= 0.05) & today) * STEP_S / 60.0,
        below_1_percent=_after_last((share >= 0.01) & today) * STEP_S / 60.0,
        loose_ends=ends * STEP_S / 60.0,
        ends_by_sunset=set_at is not None and ends == set_at,
        back_loose=_minutes(_first(loose & next_day)),
        back_on_pot=_minutes(_first((share >= 0.01) & next_day)),
        back_nearest=nearest * STEP_S / 60.0,
        back_nearest_deg=float(lag[nearest]),
    )


def _after_last(mask: NDArray[np.bool_]) -> int:
    """Steps until the mask is false for good; 0 where it never holds."""
    rows = np.flatnonzero(mask)
    return int(rows[-1]) + 1 if rows.size else 0


def _first(mask: NDArray[np.bool_]) -> int | None:
    rows = np.flatnonzero(mask)
    return int(rows[0]) if rows.size else None


def _minutes(row: int | None) -> float | None:
    return None if row is None else row * STEP_S / 60.0
