"""Where the dish rests through the year, by the firmware's own choice; how near the sun comes, by SPA.

Units: degrees; hour angles west positive; days of one invented year's calendar, the sun's of `YEAR`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sunhob_board.core.park import EQUATORWARD, PLACES, POLE, Park
from sunhob_board.mount.planner import COME, LEAVE, Planner

from .season_calendar import Change, season_calendar
from .settings import Cooker, board_settings
from .still_mount import fixed_sun, park_of, stand, still_mount
from .sun_truth import separation_deg, sun_enu

YEAR = 2026
_DAYS = 365
_SAMPLES = 144  # a day
_WEAK_BELOW_DEG = 2.0  # a lower sun's beam is weak: common practice, no source
_HOUR_STEP_DEG = 3
_NEVER_H = 24.0
_TRIED_DEG = (-30, 0, 30, 60, 90, 150)  # hour angles, to the night, at which a way to the place is looked for


@dataclass(frozen=True)
class Season:
    """Days from `first` to `last` with one resting place: least angle from the sun [deg], whether the cover
    is wanted, and from which solar time [h] the sun is reached from there (None: at any, 24: never). lit_h:
    until which solar time a bare dish at rest there has loose light about it; None: at no time."""

    first: date
    last: date
    place: str
    least_deg: float
    cover: bool
    opens_h: float | None
    lit_h: float | None = None


@dataclass(frozen=True)
class ParkYear:
    """The seasons from 1 January; days on which the cover is wanted; places chosen to which no way leads.
    by_hand: when to set the season, where a hand does."""

    seasons: tuple[Season, ...]
    cover_days: int
    no_way: tuple[str, ...]
    by_hand: tuple[Change, ...] = ()


def park_year(cooker: Cooker) -> ParkYear:
    """The board's choice for each day of the year, and what SPA makes of it."""
    s: Any = board_settings(cooker)
    sun = _sun_of_year(cooker)
    pole = np.array([0.0, np.cos(np.radians(s.site_latitude_deg)), np.sin(np.radians(s.site_latitude_deg))])
    dec_deg = np.degrees(np.arcsin((sun @ pole).mean(axis=1)))
    park = park_of(s, fixed_sun(s, 0.0, 0.0), still_mount(s))
    if s.axis2_drive == "hand":
        return _by_hand(cooker, park, sun, dec_deg)
    if not park.place():
        return ParkYear((), _DAYS, (PLACES[POLE],))
    days = [_day(park, sun[k], dec_deg[k], dec_deg[(k + 1) % _DAYS]) for k in range(_DAYS)]
    edges = [k for k in range(_DAYS) if k == 0 or days[k][::2] != days[k - 1][::2]] + [_DAYS]
    seasons, no_way = [], set()
    for first, end in pairwise(edges):
        which, cover = days[first][0], days[first][2]
        opens_h = None
        if which == EQUATORWARD:
            hours = [_opens_h(s, float(dec_deg[k])) for k in {first, (first + end) // 2, end - 1}]
            opens_h = max((h for h in hours if h is not None), default=None)
            if not any(_way(s, float(dec_deg[first]), ha, LEAVE) for ha in _TRIED_DEG):
                no_way.add(PLACES[which])
        least = min(day[1] for day in days[first:end])
        seasons.append(Season(_date(first), _date(end - 1), PLACES[which], least, cover, opens_h))
    return ParkYear(tuple(seasons), sum(day[2] for day in days), tuple(sorted(no_way)))


def _by_hand(cooker: Cooker, park: Park, sun: NDArray, dec_deg: NDArray) -> ParkYear:
    """With the season set by hand: one place all year, and the calendar of the settings."""
    reading = dec_deg * np.copysign(1.0, cooker.site.latitude_deg) - cooker.axis2.zero_deg
    loose, cover, least, lit_h = park.s.dish_loose_clear_deg, 0, 180.0, None
    for k in range(_DAYS):
        park.mount.axes[1].set_position(round(float(reading[k]) * 1e6))
        park.place()
        _, nearest, wanted = _day(park, sun[k], dec_deg[k], dec_deg[(k + 1) % _DAYS])
        cover += wanted
        least = min(least, nearest)
        hour = _lit_until_h(park, sun[k], loose)
        lit_h = hour if hour is not None and (lit_h is None or hour > lit_h) else lit_h
    season = Season(_date(0), _date(_DAYS - 1), park.words[POLE], least, cover > 0, None, lit_h)
    changes = season_calendar(_date(0), [float(x) for x in reading], cooker.tracking.season_band_deg)
    return ParkYear((season,), cover, (), tuple(changes))


def _lit_until_h(park: Park, sun: NDArray, loose_deg: float) -> float | None:
    """Solar time [h] until which a bare dish at its resting place has loose light about it."""
    aim = [0.0, 0.0, 0.0]
    park.mount.geometry.enu_from_axes(park.axes[0], park.axes[1], aim)
    lit = (sun[:, 2] > 0.0) & (separation_deg(sun, np.broadcast_to(aim, sun.shape)) < loose_deg)
    return float(np.flatnonzero(lit).max() + 1) * 24.0 / _SAMPLES if lit.any() else None


def _date(k: int) -> date:
    return date(YEAR, 1, 1) + timedelta(k)


def _sun_of_year(cooker: Cooker) -> NDArray:
    """The apparent sun, days x samples x 3, each day from midnight by the sun."""
    site = cooker.site
    start = datetime(YEAR, 1, 1, tzinfo=UTC).timestamp() - site.longitude_deg * 240.0
    t = start + 86400.0 / _SAMPLES * np.arange(_DAYS * _SAMPLES)
    got = sun_enu(t, site.latitude_deg, site.longitude_deg, site.altitude_m, temp_c=site.temp_c)
    return got.reshape(_DAYS, _SAMPLES, 3)


def _day(park: Park, sun: NDArray, today_deg: float, tomorrow_deg: float) -> tuple[int, float, bool]:
    """(place, least angle [deg], cover wanted) on one day."""
    park.choose(0, (round(today_deg * 1e6), round(tomorrow_deg * 1e6)))
    aim = [0.0, 0.0, 0.0]
    park.mount.geometry.enu_from_axes(park.axes[0], park.axes[1], aim)
    up = sun[sun[:, 2] > np.sin(np.radians(_WEAK_BELOW_DEG))]
    least = float(separation_deg(up, np.broadcast_to(aim, up.shape)).min()) if len(up) else 180.0
    return park.which, least, least < park.s.dish_cover_below_deg


def _way(s: Any, dec_deg: float, ha_deg: float, purpose: str) -> bool:
    """Whether the planner finds a way from the pole to the place chosen, or from there to the sun."""
    sun = fixed_sun(s, dec_deg, ha_deg)
    mount = still_mount(s)
    park = Park(s, sun, mount)
    park.place()
    park.choose(0, (round(dec_deg * 1e6),))
    start, goal = (park.pole, park.axes) if purpose == LEAVE else (park.axes, [0, 0])
    stand(mount, (start[0], start[1]))
    if purpose == COME and not mount.geometry.axes_from_enu(sun.e, sun.n, sun.u, goal):
        return False
    planner = Planner(mount, sun, s)
    planner.begin(goal[0], goal[1], purpose)
    while not planner.step():
        pass
    return planner.legs is not None


def _opens_h(s: Any, dec_deg: float) -> float | None:
    """Solar time [h] from which the sun is reached from the horizon, as in Season."""
    tried = 0
    for ha_deg in range(-120, 106, _HOUR_STEP_DEG):
        if fixed_sun(s, dec_deg, ha_deg).elevation_deg < s.interlock_sun_low_deg:
            continue
        tried += 1
        if _way(s, dec_deg, ha_deg, COME):
            return 12.0 + ha_deg / 15.0 if tried > 1 else None
    return _NEVER_H


def park_year_summary(rest: ParkYear) -> dict[str, Any]:
    """For JSON and people: days as month-day, angles in deg, solar times in h, `told` in words."""
    return {
        "cover_days": rest.cover_days,
        "season_by_hand": [{"on": f"{one.on:%m-%d}", "set_deg": one.set_deg, "days": one.days}
                           for one in rest.by_hand],
        "seasons": [
            {"from": f"{one.first:%m-%d}", "to": f"{one.last:%m-%d}", "place": one.place, "cover": one.cover,
             "least_deg": round(one.least_deg, 2), "sun_reached_from_solar_h": one.opens_h,
             "loose_light_until_solar_h": one.lit_h,
             "told": _told(one)}
            for one in rest.seasons
        ],
    }


def _told(one: Season) -> str:
    words = (f"{one.first.day} {one.first:%B} to {one.last.day} {one.last:%B}: rests at the {one.place}, "
             f"{one.least_deg:.1f} deg from the sun at the least")
    if one.cover:
        words += "; cover it whenever it is parked by day"
    if one.lit_h is not None:
        words += f"; left bare, it has loose light about it until as late as {_clock(one.lit_h)} by the sun"
    if one.opens_h is not None and one.opens_h >= _NEVER_H:
        words += "; from there it never reaches the sun"
    elif one.opens_h is not None:
        words += f"; from there it comes to the sun only after {_clock(one.opens_h)}"
        words += " by the sun (see park.pole_by_night)"
    return words + "."


def _clock(hours: float) -> str:
    minutes = round(hours * 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
