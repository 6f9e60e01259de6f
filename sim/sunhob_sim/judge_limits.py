"""What the judges of a run share: the cooker's limits, where light is, runs of rows, and how a hazard is put.

Units: seconds from the start, degrees, W/m2.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sunhob.run_result import utc_text

from .dial_limit import dial_lags
from .pot_light import lag_directions
from .truth import Truth

LIGHT_W_M2 = 35.0  # 112 suns 25 deg off (design notes, section 2) make 4 kW/m2 of it; nearer is guarded
GRACE_S = 10.0
MARGIN_DEG = 0.5  # of the dial limit: deadband, play, wind
Hazard = dict[str, Any]
Spans = Iterable[tuple[float, float]]


@dataclass
class Limits:
    """What the cooker allows: lags in degrees, times in seconds. dial_deg: the greatest lag of the dial under
    any sun; dial_at: the same for (elevation of the axis, direction of the sun) in degrees, where known."""

    dial_deg: float
    loose_clear_deg: float
    cover_below_deg: float
    deadband_deg: float
    arm_s: float
    dial_at: Any = None

    @classmethod
    def of(cls, flat: dict[str, Any]) -> Limits:
        """The limits of flat settings, from the ray trace of the cooker's optics."""
        dial_at = dial_lags(flat)
        alone = flat["cook.attendance_min"] if flat["cook.return_after_cloud"] else 0.0
        arm_s = 60.0 * max(flat["cook.arm_timeout_min"], alone) + 180.0
        return cls(float(dial_at.values.max()), flat["dish.loose_clear_deg"],
                   flat["dish.cover_below_deg"], flat["tracking.deadband_deg"], arm_s, dial_at)

    def beyond_dial(self, truth: Truth) -> NDArray:
        """Rows in which the dish looks farther off the sun than the dial ever asks for there."""
        if self.dial_at is None:
            return truth.separation_deg > self.dial_deg + MARGIN_DEG
        _, elevation, direction = lag_directions(truth.aim, truth.sun)
        low, high = self.dial_at.grid[0][[0, -1]]
        at = np.stack([np.clip(elevation, low, high), direction], axis=-1)
        return np.asarray(truth.separation_deg > self.dial_at(at) + MARGIN_DEG)


def episodes(mask: NDArray) -> list[tuple[int, int]]:
    """First and last row of each run of True."""
    edge = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in edge.reshape(-1, 2)]


def hazard(truth: Truth, kind: str, row: int, detail: str) -> Hazard:
    start = datetime.fromtimestamp(truth.start_unix, UTC)
    at = utc_text(start + timedelta(seconds=float(truth.t_s[row])))
    return {"kind": kind, "at_utc": at, "detail": detail}


def light(truth: Truth) -> NDArray:
    bare = truth.held["covered"] < 0.5
    return (truth.sun_elevation_deg > 0.0) & (truth.dni_w_m2 > LIGHT_W_M2) & bare


def bare(truth: Truth, row: int) -> bool:
    return bool(truth.sun_elevation_deg[row] > 0.0 and truth.held["covered"][row] < 0.5)
