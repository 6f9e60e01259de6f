"""Speeds and times: the pass beside the zenith, a day's moves. Units: degrees, deg/s, seconds, hours."""

from __future__ import annotations

import math
from typing import Any

_SUN_DEG_S = 15.041 / 3600.0


def move_s(way_deg: float, speed_deg_s: float, accel_deg_s2: float) -> float:
    """Time of a move with a trapezoid of speed, s."""
    way = abs(way_deg)
    if way >= speed_deg_s**2 / accel_deg_s2:
        return way / speed_deg_s + speed_deg_s / accel_deg_s2
    return 2.0 * math.sqrt(way / accel_deg_s2)


def zenith_chase_deg(miss_deg: float, speed_deg_s: float) -> float:
    """Worst separation in degrees on a pass `miss_deg` beside the zenith, axis 1 chasing at this speed.

    The sun goes straight past at 15.041 deg/h; axis 1 never runs ahead of it, so it only chases.
    """
    held, worst = math.degrees(math.atan2(-_SUN_DEG_S * 3600.0, miss_deg)), 0.0
    for second in range(-3600, 3601):
        along = _SUN_DEG_S * second
        wanted = math.degrees(math.atan2(along, miss_deg))
        held += max(-speed_deg_s, min(speed_deg_s, wanted - held))
        zenith = math.radians(math.hypot(along, miss_deg))
        half = math.sin(zenith) * abs(math.sin(math.radians(wanted - held) / 2.0))
        worst = max(worst, math.degrees(2.0 * math.asin(half)))
    return worst


def least_miss_deg(latitude_deg: float) -> float:
    """How near the zenith the sun passes on the nearest of a year's noons, deg.

    Inside the tropics 0.05 deg is taken: declination moves by up to 0.4 deg from noon to noon.
    """
    return max(0.05, abs(latitude_deg) - 23.44)


def day_motion(cooker: Any) -> dict[str, float]:
    """Seconds a day that motors turn while following for 8 h, and while leaving and coming back."""
    band = cooker.tracking.deadband_deg
    moves = 8.0 * 15.041 / band
    driven = [(getattr(cooker, name), share) for name, share in (("axis1", 1.5), ("axis2", 1.0))]
    driven = [(one, share) for one, share in driven if one.drive != "hand"]
    step = max(move_s(band * share, one.speed_deg_s, one.accel_deg_s2) for one, share in driven)
    swing = sum(move_s(100.0, one.speed_deg_s, one.accel_deg_s2) for one, _ in driven)
    trips = 2.0 * cooker.supply.leaves_a_day
    return {"moves": moves, "following_s": 2.0 * moves * step, "trips_s": trips * swing}
