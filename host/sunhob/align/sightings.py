"""Sightings of the sun: read and judge a file of them. Units: degrees, UTC.

A sighting is a moment at which the shadow sight stood on its mark, and what the axes read then.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunhob.errors import UserError
from sunhob.sun_compare import parse_time
from sunhob.sun_truth import sun_enu

COLUMNS = ("at_utc", "axis1_deg", "axis2_deg")
CLOCK_COLUMNS = ("clock", "clock_off_s")  # may be left out; whence the board had its time, s off the host's
SITE_COLUMNS = ("latitude_deg", "longitude_deg")  # may be left out; where they were taken
_SITE_DEG = 0.05  # a cooker file may put its site so far beside, 5 km: that turns the fit by as much
LOWEST_DEG = 5.0  # the air bends lower light by more than the tables promise
_MOST = 1000


@dataclass(frozen=True)
class Sightings:
    """at: moments, aware; axes_deg: readings, shape (n, 2); sun: unit vectors to the sun, shape (n, 3).

    clock: for each, whence the board had its time ('set', 'chip', '' unknown) and s off the host's; or none.
    """

    at: list[datetime]
    axes_deg: NDArray[np.float64]
    sun: NDArray[np.float64]
    clock: list[tuple[str, float]] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.at)

    def only(self, keep: NDArray[np.bool_]) -> Sightings:
        """Those whose flag in `keep`, shape (n,), is set."""
        at = [t for t, k in zip(self.at, keep, strict=True) if k]
        clock = [c for c, k in zip(self.clock, keep, strict=True) if k] if self.clock else []
        return Sightings(at, self.axes_deg[keep], self.sun[keep], clock)


def sightings_of(at: list[datetime], axes_deg: Any, cooker: Any,
                 clock: list[tuple[str, float]] | None = None) -> Sightings:
    """Put the sun (pvlib's SPA, refraction of the site) beside moments and readings (n, 2)."""
    from sunhob.sun_compare import standard_pressure_pa

    site = cooker.site
    unix = np.array([t.timestamp() for t in at])
    sun = sun_enu(unix, site.latitude_deg, site.longitude_deg, site.altitude_m,
                  standard_pressure_pa(site.altitude_m), site.temp_c)
    return Sightings(at, np.asarray(axes_deg, dtype=np.float64).reshape(-1, 2), sun, clock or [])


def read_sightings(path: Path, cooker: Any) -> Sightings:
    """Sightings of a CSV file. UserError has a line for every mistake in it, one for those of one kind."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not UTF-8 text"
        raise UserError(f"{path}: cannot be read ({why}); give a CSV file of sightings") from None
    rows = csv.DictReader(io.StringIO(text))
    missing = [name for name in COLUMNS if name not in (rows.fieldnames or [])]
    if missing:
        raise UserError(f"{path}: no column {', '.join(missing)}; its first line must be {','.join(COLUMNS)}")
    at, axes, clock = [], [], []
    mistakes: dict[str, list[int]] = {}
    for number, row in enumerate(rows, start=2):
        try:
            at.append(parse_time(str(row["at_utc"]), "at_utc"))
            axes.append([_reading(row, name) for name in COLUMNS[1:]])
            clock.append(_clock(row))
            _same_site(row, cooker)
        except UserError as error:
            mistakes.setdefault(str(error), []).append(number)
    if mistakes:
        raise UserError("\n".join(f"{path}:{lines[0]}: {words}{_so_are(lines[1:])}"
                                  for words, lines in mistakes.items()))
    if not 1 <= len(at) <= _MOST:
        raise UserError(f"{path}: {len(at)} sightings; give 1 to {_MOST}")
    return judged(sightings_of(at, axes, cooker, clock), [f"{path}:{i + 2}" for i in range(len(at))])


def _so_are(lines: list[int]) -> str:
    """Further lines with the same mistake: one site wrong is wrong in each."""
    if not lines:
        return ""
    told = ", ".join(map(str, lines[:3])) + (f" and {len(lines) - 3} more" if len(lines) > 3 else "")
    return f" (so are lines {told})" if len(lines) > 1 else f" (so is line {told})"


def _reading(row: dict[str, Any], name: str) -> float:
    try:
        value = float(row[name])
    except (TypeError, ValueError):
        told = row[name] or "nothing"
        raise UserError(f"{name} = {told} is no number; give the reading in degrees") from None
    if not -720.0 <= value <= 720.0:
        raise UserError(f"{name} = {value} is outside -720 to 720 deg; give the reading in degrees")
    return value


def _clock(row: dict[str, Any]) -> tuple[str, float]:
    """State of the clock where the row tells it; unknown, and nothing off, where it does not."""
    source, off = row.get("clock") or "", row.get("clock_off_s") or "nan"
    try:
        return source, float(off)
    except ValueError:
        raise UserError(f"clock_off_s = {off} is no number; give seconds, or leave the column out") from None


def _same_site(row: dict[str, Any], cooker: Any) -> None:
    """UserError where the row tells that it was taken elsewhere: the sun stood otherwise there, and a fit
    would take that for a lean of the base, with no more left over than is usual."""
    for name in SITE_COLUMNS:
        if not row.get(name):
            continue
        try:
            taken = float(row[name])
        except ValueError:
            raise UserError(f"{name} = {row[name]} is no number; give degrees, or leave it out") from None
        here = float(getattr(cooker.site, name))
        if not abs((taken - here + 180.0) % 360.0 - 180.0) <= _SITE_DEG:
            raise UserError(f"{name} = {taken:g}: taken there, and the site of {cooker.label} has {here:g}; "
                            "give --cooker with the file of that dish, or take the column out if it is wrong")


def judged(found: Sightings, where: list[str]) -> Sightings:
    """The same, or UserError with a line for each taken with the sun too low."""
    height = np.degrees(np.arcsin(found.sun[:, 2]))
    low = [f"{w}: the sun stood at {h:.1f} deg then, below {LOWEST_DEG:g} deg; look at time and place, or "
           "leave it out"
           for w, h in zip(where, height, strict=True) if h < LOWEST_DEG]
    if low:
        raise UserError("\n".join(low))
    return found
