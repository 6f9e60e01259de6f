"""When to take sightings, and where the axes should stand for them. Units: deg, UTC, minutes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from sunhob.errors import UserError

from .fit import expected_error
from .model import readings
from .sightings import Sightings, sightings_of

LEAST_SUN_DEG = 12.0  # lower light is bent by the air of the hour, and throws a long weak shadow
_STEP_MIN = 5
_AHEAD_H = 36


def height_deg(at: list[datetime], cooker: Any) -> np.ndarray:
    """Elevation of the sun, shape (n,)."""
    sun = sightings_of(at, np.zeros((len(at), 2)), cooker).sun
    return np.degrees(np.arcsin(sun[:, 2]))


def course(now: datetime, count: int, cooker: Any, hours: float | None = None,
           spare_min: float = 0.0) -> list[datetime]:
    """`count` moments evenly over what is left of this sun (the next one by night), at most `hours` of it;
    the last `spare_min` minutes of it are kept free."""
    grid = [now + timedelta(minutes=_STEP_MIN * k) for k in range(_AHEAD_H * 60 // _STEP_MIN)]
    up = height_deg(grid, cooker) >= LEAST_SUN_DEG
    if not up.any():
        raise UserError(f"the sun does not come above {LEAST_SUN_DEG:g} deg within {_AHEAD_H} h at this "
                        "site; align at another time of the year")
    first = int(np.argmax(up))
    last = first + int(np.argmin(up[first:])) - 1 if not up[first:].all() else len(grid) - 1
    if hours is not None:
        last = min(last, first + int(hours * 60 / _STEP_MIN))
    # the last one is taken a little before the end, for the sight takes its minutes
    span = max(0.0, (last - first) * _STEP_MIN - 10.0 - spare_min)
    return [grid[first] + timedelta(minutes=span * k / max(1, count - 1)) for k in range(count)]


def promise(moments: list[datetime], start: Mapping[str, float], names: tuple[str, ...],
            cooker: Any) -> dict[str, float]:
    """Standard error by name that sightings at these moments should leave [deg]."""
    polar, latitude = cooker.mount.kind == "polar", cooker.site.latitude_deg
    bare = sightings_of(moments, np.zeros((len(moments), 2)), cooker)
    axes = readings(start, bare.sun, polar, latitude)
    return expected_error(start, names, Sightings(moments, axes, bare.sun), polar, latitude)


def where(at: datetime, values: Mapping[str, float], cooker: Any,
          near_deg: float) -> tuple[tuple[float, float], float, float]:
    """((axis 1, axis 2) readings for the sun of a moment, its azimuth, its elevation), deg.

    Axis 1 is on that turn inside its travel which is nearest to `near_deg`.
    """
    polar, latitude = cooker.mount.kind == "polar", cooker.site.latitude_deg
    sun = sightings_of([at], np.zeros((1, 2)), cooker).sun
    one, two = (float(v) for v in readings(values, sun, polar, latitude)[0])
    turns = [one + 360.0 * k for k in range(-2, 4)]
    inside = [t for t in turns if cooker.axis1.low_deg <= t <= cooker.axis1.high_deg] or turns
    one = min(inside, key=lambda t: abs(t - near_deg))
    azimuth = float(np.degrees(np.arctan2(sun[0, 0], sun[0, 1]))) % 360.0
    return (one, two), azimuth, float(np.degrees(np.arcsin(sun[0, 2])))


