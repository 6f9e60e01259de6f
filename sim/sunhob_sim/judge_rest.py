"""Whether loose light about a resting dish could have been spared, by the bench's own sun and mount.

Units: seconds from the start, degrees. A stay in loose light counts apart from the hazards ('cover_told')
only while all of this holds: the dish rests; the board says so (interlock `park_bright`: cover the dish); it
stands at a resting place, or no nearer to the sun than the pole does (one that stopped on its way has not
left, whatever is said); and either no resting place the mount reaches (pole, either horizon) is clear of the
sun all day (one clear from this hour on alone would want a move there each day and back each night, by a dish
that people trust to be parked), or it is morning and every way to the clear one passes too near the sun. Such
a way must cross the sun's own hour circle, for on one side of it lie the aims behind the sun, on the other
the horizon where the dish would rest. With the season set by hand the places are all that the hour axis alone
reaches behind the sun. Once it is parked and a way is open the board has `PATIENCE_S` to find it: it waits
for quiet at the panel. Aside, where hands may be in, locked, and after the stop chain was opened until a
person has cleared it, it must not move by itself at all.
Untold, or longer, it is a hazard like any other.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from .plant_settings import park_axes, true_mount
from .truth import Truth, dec_ha_deg, elevation_deg, from_dec_ha, separation_deg

PATIENCE_S = 600.0  # 5 quiet minutes at the panel, 5 of the grid here
UNSURE_DEG = 1.0  # of what the board can know of its base
_EVERY_S = 300.0
_HOURS_DEG = 0.5
_HIGHEST_DEG = 20.0
REST_DEG = 3.0  # of a resting place: play, and what the board can know of its base and of its zeros
SURELY_DEG = 0.5  # so much more than loose-clear a place, or a way, must offer to be held against the board


def excused(truth: Truth, loose_clear_deg: float, told_s: Iterable[tuple[float, float]],
            free_s: Iterable[tuple[float, float]] | None = None) -> NDArray:
    """Rows in which the dish rests, was said to want its cover, and nothing better could be had; free_s:
    the times in which it may move on by itself (None: always)."""
    told = np.zeros(len(truth.t_s), dtype=bool)
    for first_s, last_s in told_s:
        told |= (truth.t_s >= first_s) & (truth.t_s <= last_s)
    told &= truth.held["moving"] < 0.5
    if told.any():
        told &= _rests(truth) & ~_spared(truth, loose_clear_deg, free_s)
    return told


def _rests(truth: Truth) -> NDArray:
    """Rows in which the dish is at one of its resting places, or as far from the sun as the first of them:
    the pole, or the end of the hour axis."""
    if truth.flat["axis2.drive"] == "hand":
        one = np.full(len(truth.t_s), park_axes(truth.flat)[0])
        places = true_mount(truth.flat).enu(one, truth.axes_deg[:, 1])[None]
    else:
        places = _places(truth)[:, None, :]
    here = separation_deg(places, truth.aim[None]).min(axis=0) <= REST_DEG
    return np.asarray(here | (truth.separation_deg >= separation_deg(places[0], truth.sun) - REST_DEG))


def untold(truth: Truth, loose_clear_deg: float, cover_below_deg: float,
           told_s: Iterable[tuple[float, float]], parked_s: Iterable[tuple[float, float]]) -> NDArray:
    """Rows in which the dish, parked, stood between the angle that clears the surroundings of the pot and the
    one that leaves no loose light at all, and nobody was told to cover it."""
    t = truth.t_s
    out = np.zeros(len(t), dtype=bool)
    for first_s, last_s in parked_s:
        out |= (t >= first_s) & (t <= last_s)
    for first_s, last_s in told_s:
        out &= (t < first_s) | (t > last_s)
    away = truth.separation_deg
    return np.asarray(out & (away >= loose_clear_deg) & (away < cover_below_deg - UNSURE_DEG)
                      & (truth.held["moving"] < 0.5))


def _spared(truth: Truth, loose_clear_deg: float, free_s: Iterable[tuple[float, float]] | None) -> NDArray:
    """Rows in which a clear place had been within reach of a parked dish for longer than its patience."""
    spans = [(0.0, np.inf)] if free_s is None else list(free_s)
    rows = np.flatnonzero(np.diff(truth.t_s // _EVERY_S, prepend=-1.0) > 0)
    by_hand = truth.flat["axis2.drive"] == "hand"
    places = np.empty((0, 3)) if by_hand else _places(truth)
    level = _lowest_deg(truth)
    free_s = np.zeros(len(rows))
    for i, row in enumerate(rows):
        dec, ha = (float(x) for x in dec_ha_deg(truth.sun[row], truth.site.latitude_deg))
        if by_hand:
            places = _behind(truth, ha, float(truth.aim_dec_deg[row]))
        since = ha if by_hand else -180.0
        parked_s = max((a for a, b in spans if a <= truth.t_s[row] <= b), default=np.inf)
        open_now = len(places) > 0 and np.isfinite(parked_s)
        open_now = open_now and _clear(truth, places, dec, since, loose_clear_deg)
        if open_now and ha < 0.0 and not by_hand:
            open_now = _way(truth, dec, ha, level) >= loose_clear_deg
        if open_now and i:
            free_s[i] = free_s[i - 1] + truth.t_s[row] - max(parked_s, truth.t_s[rows[i - 1]])
    at = np.searchsorted(rows, np.arange(len(truth.t_s)), side="right") - 1
    return np.asarray(free_s[at] > PATIENCE_S)


def _lowest_deg(truth: Truth) -> float:
    if truth.flat["mount.kind"] == "polar":
        return 0.0
    return float(truth.flat["axis2.low_deg"] + truth.flat["axis2.zero_deg"])


def _places(truth: Truth) -> NDArray:
    """Directions of pole and horizons that the travel holds, n x 3."""
    lat = truth.site.latitude_deg
    mount = true_mount(truth.flat)
    up = max(0.0, _lowest_deg(truth))
    found = [from_dec_ha(90.0 if lat >= 0 else -90.0, 0.0, lat)]
    for azimuth in (0.0, 180.0):
        c, s = np.cos(np.radians(up)), np.sin(np.radians(up))
        aim = np.array([0.0, np.cos(np.radians(azimuth)) * c, s])
        one, two = mount.axes_for(aim, (0.0, 0.0))
        low, high = truth.flat["axis1.low_deg"], truth.flat["axis1.high_deg"]
        turns = one + 360.0 * np.arange(-3, 4)
        inside = truth.flat["axis2.low_deg"] <= two <= truth.flat["axis2.high_deg"]
        if up <= _HIGHEST_DEG and inside and np.any((turns >= low) & (turns <= high)):
            found.append(aim)
    return np.array(found)


def _behind(truth: Truth, sun_ha_deg: float, aim_dec_deg: float) -> NDArray:
    """Directions behind the sun that the hour axis alone reaches, the season as set by hand, n x 3."""
    flat = truth.flat
    one = np.arange(flat["axis1.low_deg"] + 0.5, flat["axis1.high_deg"], 2.0) + flat["axis1.zero_deg"]
    ha = one - 180.0 if truth.site.latitude_deg >= 0 else 180.0 - one
    behind = sun_ha_deg - ha
    return from_dec_ha(aim_dec_deg, ha[(behind >= 0.0) & (behind <= 180.0)], truth.site.latitude_deg)


def _clear(truth: Truth, places: NDArray, dec: float, ha: float, loose_clear_deg: float) -> bool:
    """Whether one of the places stays that far from the sun from this hour angle until it sets, or all day
    where it does not."""
    lat = truth.site.latitude_deg
    sun = from_dec_ha(dec, np.arange(-180.0, 180.0, _HOURS_DEG), lat)
    up = elevation_deg(sun) > 0.0
    if not up.all():
        sun = from_dec_ha(dec, np.arange(ha, 180.0, _HOURS_DEG), lat)
        sun = sun[elevation_deg(sun) > 0.0]
    if not len(sun):
        return True
    best_deg = separation_deg(places[:, None, :], sun[None]).min(axis=1).max()
    return bool(best_deg >= loose_clear_deg + SURELY_DEG)


def _way(truth: Truth, dec: float, ha: float, level_deg: float) -> float:
    """Greatest angle from the sun on its own hour circle, towards the equator, above the end of travel."""
    side = 1.0 if truth.site.latitude_deg >= 0 else -1.0
    away = np.arange(0.0, 90.0 + side * dec, 0.25)
    aims = from_dec_ha(dec - side * away, np.full_like(away, ha), truth.site.latitude_deg)
    return float(away[elevation_deg(aims) >= level_deg].max(initial=0.0))
