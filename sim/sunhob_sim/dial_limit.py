"""The lag at which the dial's least heat is reached, by the ray trace and not by the board's table.

Units: degrees, shares 0..1.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.interpolate import RegularGridInterpolator
from sunhob.optics.geometry import Optics, optics_of
from sunhob.optics.intercept import cached_intercept


def optics_of_flat(flat: Mapping[str, Any]) -> Optics:
    """Optics of settings by dotted key."""
    parts: dict[str, dict[str, Any]] = {"dish": {}, "pot": {}, "guard": {}}
    for key, value in flat.items():
        section, name = key.split(".")
        if section in parts:
            parts[section][name] = value
    return optics_of(SimpleNamespace(**{name: SimpleNamespace(**part) for name, part in parts.items()}))


def dial_lags(flat: Mapping[str, Any]) -> RegularGridInterpolator:
    """Greatest lag of the dial [deg] for (elevation of the axis, direction of the sun) in degrees."""
    trace = cached_intercept(optics_of_flat(flat))
    curve = np.minimum.accumulate(trace.absorbed / trace.absorbed[:1], axis=0)
    least = flat["heat.least_percent"] / 100.0
    lags = np.empty(curve.shape[1:])
    for place in np.ndindex(lags.shape):
        lags[place] = np.interp(-least, -curve[(slice(None), *place)], trace.lag_deg)
    grid = (trace.elevation_deg, np.append(trace.direction_deg, 360.0))
    return RegularGridInterpolator(grid, np.concatenate([lags, lags[:, :1]], axis=1))
