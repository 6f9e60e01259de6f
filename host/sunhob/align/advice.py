"""Whether sightings can support a fit, and which one more would help most. Units: degrees, UTC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from .fit import LARGEST_ERROR_DEG, SIGHT_DEG, Fit, expected_error, slopes
from .model import readings
from .sightings import LOWEST_DEG, Sightings, sightings_of

_FULL_WAY_DEG = 90.0  # a scale is judged by what it does over this much turn


@dataclass(frozen=True)
class Advice:
    """weak: the name least supported and its expected error in degrees; at: the moment of the sighting that
    would help most on that day, with the sun's elevation then and the error it would leave; None if none."""

    weak: str
    error_deg: float
    at: datetime | None
    elevation_deg: float
    would_leave_deg: float

    @property
    def good(self) -> bool:
        """Whether the sightings support the fit."""
        return self.error_deg <= LARGEST_ERROR_DEG

    @property
    def words(self) -> str:
        """One sentence: what is weak and what to add."""
        head = f"these sightings leave {self.weak} known to {self.error_deg:.2g} deg only"
        if not self.error_deg < 90.0:
            head = f"these sightings tell nothing of {self.weak}"
        if self.at is None or self.would_leave_deg > 0.9 * self.error_deg:
            return f"{head}; add one on another day, with the sun elsewhere in the sky"
        enough = self.would_leave_deg <= LARGEST_ERROR_DEG
        more = "" if enough else ", so more are needed: best on another day"
        return (f"{head}; add one about {self.at:%H:%M} UTC, with the sun at {self.elevation_deg:.0f} deg: "
                f"that would leave {self.would_leave_deg:.2g} deg{more}")


def _worst(errors: Mapping[str, float]) -> tuple[str, float]:
    scaled = {n: e * _FULL_WAY_DEG if n.endswith("scale") else e for n, e in errors.items()}
    name = max(scaled, key=lambda n: scaled[n])
    return name, scaled[name]


def advise(seen: Sightings, values: Mapping[str, float], names: tuple[str, ...], cooker: Any,
           sight_deg: float = SIGHT_DEG, after: datetime | None = None) -> Advice:
    """Judge the geometry of sightings, and try one more at every half hour of the last one's day, or of what
    is left of it `after` a moment."""
    polar, latitude = cooker.mount.kind == "polar", cooker.site.latitude_deg
    weak, error = _worst(expected_error(values, names, seen, polar, latitude, sight_deg))
    noon = seen.at[-1]
    moments = [noon + timedelta(minutes=30 * k) for k in range(-24, 25)]
    moments = [t for t in moments if after is None or t > after]
    if not moments:
        return Advice(weak, error, None, 0.0, error)
    tries = sightings_of(moments, np.zeros((len(moments), 2)), cooker)
    height = np.degrees(np.arcsin(tries.sun[:, 2]))
    axes = readings(values, tries.sun, polar, latitude)
    best = Advice(weak, error, None, 0.0, error)
    for k in np.flatnonzero(height > max(LOWEST_DEG, 15.0)):
        more = Sightings([*seen.at, moments[k]], np.vstack([seen.axes_deg, axes[k]]),
                         np.vstack([seen.sun, tries.sun[k]]))
        left = _worst(expected_error(values, names, more, polar, latitude, sight_deg))[1]
        if left < best.would_leave_deg:
            best = Advice(weak, error, moments[k], float(height[k]), left)
    return best


def pointing_error_deg(found: Fit, cooker: Any, at_utc: str) -> float:
    """How far the fit may point beside the sun of a moment, one standard error each way [deg]: the spread of
    what it predicts there, from the covariance of its values."""
    polar, latitude = cooker.mount.kind == "polar", cooker.site.latitude_deg
    at = datetime.fromisoformat(at_utc)
    bare = sightings_of([at], np.zeros((1, 2)), cooker)
    axes = readings(found.values, bare.sun, polar, latitude)
    seen = Sightings([at], axes, bare.sun)
    jacobian = slopes(found.values, found.fitted, seen, polar, latitude)
    return float(np.sqrt(np.trace(jacobian @ found.covariance @ jacobian.T) / 2.0))
