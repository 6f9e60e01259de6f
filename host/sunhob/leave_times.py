"""How long this mount takes to leave the sun at the worst hour of the year, by the firmware's own planner,
and in how many hours a year one axis alone cannot leave it.

Units: degrees for declination and hour angle (west positive), seconds for times, hours a year. The year is
sampled from December to June, each day standing for its like in the other half as well.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from sunhob_board.mount.admission import Admission
from sunhob_board.mount.axis import axis_of
from sunhob_board.mount.mount import Mount
from sunhob_board.mount.planner import LEAVE, Planner
from sunhob_board.sun.position import Sun

from .settings import Cooker, board_settings
from .still_mount import StillDrive, fixed_sun, geometry_of, park_of

_SOLSTICE = date(2025, 12, 21)
_HALF_YEAR_DAYS = 182
_DAYS = 12
_HOUR_STEP_DEG = 6
HOUR_ANGLES_DEG = (*range(-108, -5, _HOUR_STEP_DEG), -2, 2, *range(6, 109, _HOUR_STEP_DEG))
_NEAR_NOON = {-6: 5.0, -2: 4.0, 2: 4.0, 6: 5.0}  # deg of hour angle a sample stands for, where not the step
_LONGEST_PLAN = 2000  # steps
_STRIDE_UDEG = 2_000_000
_AHEAD_UDEG = 100_000  # on the sky


@dataclass(frozen=True)
class SunHour:
    """A day and the sun's declination and hour angle on it [deg]."""

    day: date
    dec_deg: float
    ha_deg: float

    @property
    def solar_time(self) -> str:
        """Time by the sun, 12:00 when it is highest."""
        minutes = round(720 + 4 * self.ha_deg)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"


_NONE = SunHour(_SOLSTICE, 0.0, 0.0)


@dataclass
class OneAxis:
    """What is left with one axis dead: hours a year in which the other cannot take the light off the pot, and
    in which it cannot make it harmless; the lowest sun [deg] and an hour at which it cannot."""

    dead_axis: int
    pot_hours: float = 0.0
    light_hours: float = 0.0
    lowest_deg: float = 90.0
    such_as: SunHour | None = None


@dataclass
class LeaveTimes:
    """Worst seconds until the pot is clear and until parked, each with when; samples tried, out of reach and
    with no way; hours a year the sun is high enough to cook; what one axis alone can do."""

    pot_clear_s: float = 0.0
    pot_clear_at: SunHour = _NONE
    parked_s: float = 0.0
    parked_at: SunHour = _NONE
    hours: int = 0
    out_of_reach: int = 0
    sun_hours: float = 0.0
    no_way: list[SunHour] = field(default_factory=list)
    one_axis: tuple[OneAxis, ...] = field(default_factory=lambda: (OneAxis(1), OneAxis(2)))


def sample_days() -> list[tuple[date, float]]:
    """Days from solstice to solstice and the sun's declination [deg] on each (Spencer 1971, by pvlib)."""
    from pvlib.solarposition import declination_spencer71  # slow to load

    days = [_SOLSTICE + timedelta(round(k * _HALF_YEAR_DAYS / (_DAYS - 1))) for k in range(_DAYS)]
    return [(day, math.degrees(declination_spencer71(day.timetuple().tm_yday))) for day in days]


def leave_times(cooker: Cooker, advance: Callable[[], None] = lambda: None) -> LeaveTimes:
    """Plan a leave at sampled hours of the year, both axes and each alone; `advance` is called for each of
    sample_days()."""
    s: Any = board_settings(cooker)
    found = LeaveTimes()
    if s.axis2_drive == "hand":
        found.one_axis = (OneAxis(2),)  # never driven: what axis 1 alone can do is all there is
    for k, (day, dec_deg) in enumerate(sample_days()):
        days = 365.0 / (_DAYS - 1) * (0.5 if k in (0, _DAYS - 1) else 1.0)
        for ha_deg in HOUR_ANGLES_DEG:
            here = SunHour(day, dec_deg, float(ha_deg))
            sun = fixed_sun(s, dec_deg, ha_deg)
            if sun.elevation_deg < s.interlock_sun_low_deg:
                continue
            _one_hour(found, s, sun, here, days * _NEAR_NOON.get(ha_deg, _HOUR_STEP_DEG) / 15.0)
        advance()
    return found


def _one_hour(found: LeaveTimes, s: Any, sun: Sun, here: SunHour, hours: float) -> None:
    """Count one sampled hour, which stands for so many of the year."""
    found.hours += 1
    found.sun_hours += hours
    mount = _on_the_sun(s, sun)
    if mount is None:
        found.out_of_reach += 1
        return
    planner = _plan(s, sun, mount)
    if planner.legs is None:
        found.no_way.append(here)
    else:
        clear_s, parked_s = planner.pot_clear_ms / 1000.0, planner.time_ms / 1000.0
        if clear_s > found.pot_clear_s:
            found.pot_clear_s, found.pot_clear_at = clear_s, here
        if parked_s > found.parked_s:
            found.parked_s, found.parked_at = parked_s, here
    for alone in found.one_axis:
        pot, light = _reach(s, sun, mount, 2 - alone.dead_axis)
        alone.pot_hours += 0.0 if pot else hours
        if not light:
            alone.light_hours += hours
            if sun.elevation_deg < alone.lowest_deg:
                alone.lowest_deg, alone.such_as = sun.elevation_deg, here


def _on_the_sun(s: Any, sun: Sun) -> Mount | None:
    """The mount aimed at the sun, on the turn of axis 1 on which it has followed it since the morning."""
    geometry = geometry_of(s)
    if s.mount_kind == "altaz":
        evening_deg = 270.0 if s.site_latitude_udeg >= 0 else -90.0
        geometry.near[0] = round(((90.0 if sun.ha_udeg < 0 else evening_deg) - s.mount_north_deg) * 1e6)
    else:
        geometry.near[0] = round((s.axis1_low_deg + s.axis1_high_deg) * 5e5)
    mount = Mount((axis_of(StillDrive(), 1, s), axis_of(StillDrive(), 2, s)), geometry)
    if s.axis2_drive == "hand":  # set for the day
        reading = sun.dec_udeg * math.copysign(1.0, s.site_latitude_deg) - s.axis2_zero_deg * 1e6
        geometry.near[1] = round(reading)
    at = [0, 0]
    if not geometry.axes_from_enu(sun.e, sun.n, sun.u, at):
        return None
    mount.set_position(at[0], at[1])
    geometry.near[0], geometry.near[1] = at
    return mount


def _plan(s: Any, sun: Sun, mount: Mount) -> Planner:
    """The finished plan to where the board would rest on such a day; to the pole where there is no other."""
    at = list(mount.geometry.near)
    mount.geometry.near[:] = [axis.home_udeg for axis in mount.axes]
    park = park_of(s, sun, mount)
    planner = Planner(mount, sun, s)
    placed = park.place()
    mount.geometry.near[:] = at
    if not placed:
        planner.begin(0, 1_000_000_000, LEAVE)  # beyond any travel: there is no park
        return planner
    park.choose(0, (sun.dec_udeg, sun.dec_udeg))
    goals = [park.axes, park.pole] if park.is_open() else [park.pole]
    for goal in goals:
        planner.begin(goal[0], goal[1], LEAVE, park.pole)
        for _ in range(_LONGEST_PLAN):
            if planner.step():
                break
        if planner.legs is not None:
            break
    return planner


def _reach(s: Any, sun: Sun, mount: Mount, axis: int) -> tuple[bool, bool]:
    """Whether axis 0 or 1 alone gets the pot out of the light, and the light harmless, behind the sun all
    the way and to an aim that is admitted."""
    sky = Admission(_AHEAD_UDEG, round(s.dish_loose_clear_deg * 1e6))
    sky.begin(sun, mount.geometry.pole)
    geometry, best, enu = mount.geometry, 0.0, [0.0, 0.0, 0.0]
    for step in (-_STRIDE_UDEG, _STRIDE_UDEG):
        at = list(geometry.near)
        at[axis] += step
        while geometry.admits(*at) and best < s.dish_loose_clear_deg:
            geometry.enu_from_axes(*at, enu)
            if sky.margin(enu[0], enu[1], enu[2], 0.0) < 0.0:
                break
            best = max(best, sun.separation_udeg(*enu) / 1e6)
            at[axis] += step
    return best >= s.dish_pot_clear_deg, best >= s.dish_loose_clear_deg
