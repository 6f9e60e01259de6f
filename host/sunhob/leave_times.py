"""How long this mount takes to leave the sun at the worst hour of the year, by the firmware's own planner.

Units: degrees for declination and hour angle (west positive), seconds for times.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sunhob_board.mount.axis import Axis
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.mount import Mount
from sunhob_board.mount.planner import LEAVE, Planner
from sunhob_board.sun.position import Sun

from .settings import Cooker, board_settings

DECLINATIONS_DEG = (-23.44, -16.0, -8.0, 0.0, 8.0, 16.0, 23.44)
HOUR_ANGLES_DEG = tuple(range(-105, 106, 7))
_LONGEST_PLAN = 2000  # steps


class _Fixed:
    """A sun table that holds one place of the sun, in micro-degrees."""

    def __init__(self, dec_deg: float, ha_deg: float) -> None:
        self.dec_udeg = round(dec_deg * 1e6)
        self.gha_udeg = round(ha_deg * 1e6)

    def at(self, day: int, ms: int) -> None:
        """The same at any day and ms."""


class _Still:
    """A drive that never turns: plans need none."""

    def free(self) -> int:
        """Free places for segments of steps."""
        return 8

    def push(self, forward: int, steps: int, period_us: int) -> None:
        """Take a segment, period in us."""

    def clear(self) -> None:
        """Forget all segments."""


@dataclass(frozen=True)
class LeaveTimes:
    """Worst seconds until the pot is clear and until parked, each with the sun's (declination, hour angle)
    in deg; hours tried, out of reach, and with no way."""

    pot_clear_s: float
    pot_clear_at_deg: tuple[float, float]
    parked_s: float
    parked_at_deg: tuple[float, float]
    hours: int
    out_of_reach: int
    no_way: tuple[tuple[float, float], ...]


def leave_times(cooker: Cooker) -> LeaveTimes:
    """Plan a leave from the sun at each hour of a year it cooks in, and keep the worst times in s."""
    s: Any = board_settings(cooker)
    clear = parked = (0.0, (0.0, 0.0))
    hours = out_of_reach = 0
    no_way = []
    for dec_deg in DECLINATIONS_DEG:
        for ha_deg in HOUR_ANGLES_DEG:
            here = (dec_deg, float(ha_deg))
            sun = _sun(s, dec_deg, ha_deg)
            if sun.elevation_deg < s.interlock_sun_low_deg:
                continue
            hours += 1
            planner = _plan(s, sun)
            if planner is None:
                out_of_reach += 1
            elif planner.legs is None:
                no_way.append(here)
            else:
                clear = max(clear, (planner.pot_clear_ms / 1000.0, here))
                parked = max(parked, (planner.time_ms / 1000.0, here))
    return LeaveTimes(*clear, *parked, hours, out_of_reach, tuple(no_way))


def _sun(s: Any, dec_deg: float, ha_deg: float) -> Sun:
    table = _Fixed(dec_deg, ha_deg)
    sun = Sun(table, s.site_latitude_udeg, 0, s.site_altitude_m, s.site_pressure_pa, s.site_temp_c)
    sun.update(0, 0)
    return sun


def _plan(s: Any, sun: Sun) -> Planner | None:
    """The finished plan from the sun to park; None where the mount cannot reach the sun."""
    geometry = Geometry(s)
    geometry.near[0] = round((s.axis1_low_deg + s.axis1_high_deg) * 5e5)
    mount = Mount((Axis(_Still(), 1, s), Axis(_Still(), 2, s)), geometry)
    at = [0, 0]
    if not geometry.axes_from_enu(sun.e, sun.n, sun.u, at):
        return None
    mount.set_position(at[0], at[1])
    geometry.near[0], geometry.near[1] = at
    planner = Planner(mount, sun, s)
    park = _park(s, geometry)
    planner.begin(park[0], park[1], LEAVE)
    for _ in range(_LONGEST_PLAN):
        if planner.step():
            break
    return planner


def _park(s: Any, geometry: Geometry) -> list[int]:
    """Readings at park, in micro-degrees, as the board takes them."""
    if s.mount_kind == "polar":
        return [round((s.axis1_low_deg + s.axis1_high_deg) * 5e5), 90_000_000]
    latitude = math.radians(s.site_latitude_deg)
    out = [0, 0]
    geometry.axes_from_enu(0.0, math.copysign(math.cos(latitude), latitude), abs(math.sin(latitude)), out)
    return out
