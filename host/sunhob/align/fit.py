"""Least squares over sightings: how the base stands and where the axes have their zeros. Units: degrees.

The turn of the base and the zero of axis 1 turn the same thing, so no sighting can tell them apart: the
zero of axis 1 stays as set. A clock that is wrong turns the whole sky about the pole, and no sighting can
tell that from a turn of the base either: the clock's state belongs to every fit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from sunhob.errors import Judged

from .model import pointing
from .sightings import Sightings

Floats = NDArray[np.float64]
ALWAYS = ("base_north_deg", "base_tilt_east_deg", "base_tilt_north_deg", "axis2_zero_deg")
EXTRAS = ("square_deg", "axis1_scale", "axis2_scale")
SIGHT_DEG = 0.1  # what a shadow sight is good for, each way: common practice, no source
LARGEST_ERROR_DEG = 0.5  # a value known no better than this is not supported by its sightings
SPARE = 1  # sightings asked for beyond the least that the unknowns need
_MOST_LEAN_DEG = 10.0  # more comes from sightings too close together, not from a mount
_OUTLIER_CHANCE = 0.01  # that one honest sighting among all is called false


@dataclass(frozen=True)
class Fit:
    """values and standard_error by name (degrees; scales as shares), residuals (n, 2) in degrees on the sky
    [across to the right, up], used: flags (n,), rms_deg over the used ones, freedom: what is left over;
    covariance of the fitted values in their order."""

    values: dict[str, float]
    standard_error: dict[str, float]
    fitted: tuple[str, ...]
    residual_deg: Floats
    used: NDArray[np.bool_]
    rms_deg: float
    freedom: int
    covariance: Floats

    def spread(self, chance: float = 0.95) -> float:
        """How many standard errors hold the truth with this chance (Student's t)."""
        return float(stats.t.ppf(0.5 + chance / 2.0, self.freedom))


def tangent(sun: Floats) -> tuple[Floats, Floats]:
    """Unit vectors to the right of and above each direction (n, 3)."""
    right = np.column_stack([sun[:, 1], -sun[:, 0], np.zeros(len(sun))])
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    return right, np.cross(right, sun)


def residuals(values: Mapping[str, float], seen: Sightings, polar: bool, latitude_deg: float) -> Floats:
    """Where the mount pointed, off the sun, (n, 2) degrees on the sky: to the right, up."""
    right, up = tangent(seen.sun)
    at = pointing(values, seen.axes_deg[:, 0], seen.axes_deg[:, 1], polar, latitude_deg)
    along = np.sum(at * seen.sun, axis=1)
    return np.degrees(np.column_stack([
        np.arctan2(np.sum(at * right, axis=1), along), np.arctan2(np.sum(at * up, axis=1), along)]))


def _solve(start: Mapping[str, float], names: tuple[str, ...], seen: Sightings, polar: bool,
           latitude_deg: float) -> tuple[dict[str, float], Floats]:
    """(values, Jacobian over names) of the least squares."""

    def off(x: Floats) -> Floats:
        return residuals({**start, **dict(zip(names, x, strict=True))}, seen, polar, latitude_deg).ravel()

    first = np.array([start[name] for name in names])
    scale = [0.01 if name.endswith("scale") else 1.0 for name in names]
    tight = dict.fromkeys(("xtol", "ftol", "gtol"), 1e-14)
    got: Any = optimize.least_squares(off, first, x_scale=scale, jac="3-point", **tight)
    return {**start, **{n: float(v) for n, v in zip(names, got.x, strict=True)}}, np.asarray(got.jac)


def _rough_north(start: Mapping[str, float], seen: Sightings, polar: bool,
                 latitude_deg: float) -> dict[str, float]:
    """The turn of the base that fits best of a ring of guesses: the settings may be half a turn off."""
    best, least = dict(start), np.inf
    for turn in np.arange(0.0, 360.0, 15.0):
        guess = {**start, "base_north_deg": (start["base_north_deg"] + turn + 180.0) % 360.0 - 180.0}
        at = pointing(guess, seen.axes_deg[:, 0], seen.axes_deg[:, 1], polar, latitude_deg)
        miss = float(np.median(np.linalg.norm(at - seen.sun, axis=1)))
        if miss < least - 1e-9:
            best, least = guess, miss
    return best


def roughly(seen: Sightings, start: Mapping[str, float], polar: bool,
            latitude_deg: float) -> dict[str, float]:
    """Values that do for finding the sun again: north alone from one or two sightings, ALWAYS from three."""
    rough = _rough_north(start, seen, polar, latitude_deg)
    names = ALWAYS if len(seen) >= needed(ALWAYS) else ALWAYS[:1]
    values = _solve(rough, names, seen, polar, latitude_deg)[0]
    lean = max(abs(values[name] - start[name]) for name in ALWAYS[1:])
    return values if lean <= _MOST_LEAN_DEG else _solve(rough, ALWAYS[:1], seen, polar, latitude_deg)[0]


def needed(names: tuple[str, ...]) -> int:
    """Sightings asked for by a fit of these names: two numbers come from each."""
    return -(-len(names) // 2) + SPARE


def fit(seen: Sightings, start: Mapping[str, float], polar: bool, latitude_deg: float,
        extras: tuple[str, ...] = ()) -> Fit:
    """Fit ALWAYS and `extras` (of EXTRAS). Judged where there are too few sightings, or one is at odds."""
    names = ALWAYS + extras
    least = needed(names)
    if len(seen) < least:
        raise Judged(f"{len(seen)} sightings cannot support {len(names)} unknowns; take at least {least}, "
                     "hours apart")
    rough = _rough_north(start, seen, polar, latitude_deg)
    used = np.ones(len(seen), dtype=bool)
    while True:
        values, jacobian = _solve(rough, names, seen.only(used), polar, latitude_deg)
        worst = _outlier(values, jacobian, seen, used, polar, latitude_deg, len(names))
        if worst is None or used.sum() - 1 < max(least, (2 * len(seen) + 2) // 3):
            break
        used[worst] = False
    if worst is not None:
        raise Judged(f"sighting {worst + 1} of {len(seen)} does not agree with the others, and too few "
                     "would be left without it; look at its time and reading, or take more")
    off = residuals(values, seen, polar, latitude_deg)
    freedom = 2 * int(used.sum()) - len(names)
    rms = float(np.sqrt(np.mean(np.sum(off[used] ** 2, axis=1))))
    spread = float(np.sqrt(np.sum(off[used] ** 2) / freedom))
    inverse = np.linalg.pinv(jacobian.T @ jacobian)
    error = {n: float(spread * np.sqrt(inverse[i, i])) for i, n in enumerate(names)}
    values["base_north_deg"] = (values["base_north_deg"] + 180.0) % 360.0 - 180.0
    covariance = np.asarray(spread**2 * inverse, dtype=np.float64)
    return Fit(values, error, names, off, used, rms, freedom, covariance)


def _outlier(values: Mapping[str, float], jacobian: Floats, seen: Sightings, used: NDArray[np.bool_],
             polar: bool, latitude_deg: float, unknowns: int) -> int | None:
    """Index of the sighting that the others disown (externally studentised, Bonferroni), or None."""
    off = residuals(values, seen.only(used), polar, latitude_deg)
    n = len(off)
    freedom = 2 * n - unknowns
    if freedom < 4:
        return None
    hat = jacobian @ np.linalg.pinv(jacobian)
    total = float(np.sum(off**2))
    worst, most = None, 0.0
    for i in range(n):
        rows = slice(2 * i, 2 * i + 2)
        free = np.eye(2) - hat[rows, rows]
        mine = float(off[i] @ np.linalg.pinv(free) @ off[i])  # what leaving it out takes off the squares
        f = (mine / 2.0) / (max(total - mine, 1e-18) / (freedom - 2))
        if f > most:
            worst, most = i, f
    limit = float(stats.f.isf(_OUTLIER_CHANCE / n, 2, freedom - 2))
    floor = np.hypot(*off[worst]) > 1e-4 if worst is not None else False
    return int(np.flatnonzero(used)[worst]) if worst is not None and most > limit and floor else None


def slopes(values: Mapping[str, float], names: tuple[str, ...], seen: Sightings, polar: bool,
           latitude_deg: float) -> Floats:
    """Jacobian (2 n, names) of residuals() by central differences: degrees on the sky per unit."""
    x = np.array([values[n] for n in names])
    columns = []
    for i, name in enumerate(names):
        h = 1e-5 if name.endswith("scale") else 1e-3
        pair = []
        for sign in (1.0, -1.0):
            moved = x.copy()
            moved[i] += sign * h
            trial = {**values, **dict(zip(names, moved, strict=True))}
            pair.append(residuals(trial, seen, polar, latitude_deg))
        columns.append((pair[0] - pair[1]).ravel() / (2.0 * h))
    return np.column_stack(columns)


def expected_error(values: Mapping[str, float], names: tuple[str, ...], seen: Sightings, polar: bool,
                   latitude_deg: float, sight_deg: float = SIGHT_DEG) -> dict[str, float]:
    """Standard error by name that sightings of this scatter [deg each way] leave, seen or only planned."""
    jacobian = slopes(values, names, seen, polar, latitude_deg)
    scale = np.linalg.norm(jacobian, axis=0)
    scale[scale == 0.0] = 1e-12
    _u, s, vt = np.linalg.svd(jacobian / scale, full_matrices=False)
    s = np.maximum(s, 1e-9)
    spread = np.sqrt(np.sum((vt.T / s) ** 2, axis=1)) / scale
    return {n: float(sight_deg * v) for n, v in zip(names, spread, strict=True)}
