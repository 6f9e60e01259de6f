"""Traced figures of the invented dish, kept in figures.json: tracing takes minutes, writing a page must not.

Units are at the end of each key: m, deg, percent, kW/m2 in a beam of 1000 W/m2.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sunhob.errors import UserError
from sunhob.optics.geometry import optics_fingerprint, optics_of
from sunhob.optics.intercept import cached_intercept
from sunhob.optics.loose import loose_light, loose_parts
from sunhob.sizing.judge import steep_share_per_deg

NAME = "figures.json"
_RAYS = 1 << 15
_PLACES = 3


def load(folder: Path, cooker: Any) -> dict[str, Any]:
    """The figures kept; UserError where there are none for these optics."""
    try:
        kept: dict[str, Any] = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        kept = {}
    if kept.get("fingerprint") != optics_fingerprint(cooker):
        raise UserError(f"{folder / NAME}: holds no figures for this dish; make them: make notes")
    return kept


def trace(cooker: Any, progress: Callable[[int, int], None]) -> dict[str, Any]:
    """Trace them afresh."""
    optics = optics_of(cooker)
    found = cached_intercept(optics, progress)
    done, parts = 0, loose_parts()

    def tell(more: int) -> None:
        nonlocal done
        done += more
        progress(min(done, parts), parts)

    light = loose_light(optics, found, _RAYS, 1, tell)
    off = light.standoff
    return _rounded(
        {
            "fingerprint": optics_fingerprint(cooker),
            "pot_clear_deg": light.clear.pot_clear_deg,
            "loose_clear_deg": light.clear.loose_clear_deg,
            "guarded_m": light.clear.guarded_m,
            "guarded_full_m": light.clear.guarded_full_m,
            "skin_m": off.skin,
            "skin_no_discomfort_m": off.skin_no_discomfort,
            "eye_m": off.eye,
            "cell_m": light.cell_m,
            "by_lag": [
                {
                    "lag_deg": row["lag_deg"],
                    "most_kw_m2": row["beyond_guarded_suns"],
                    "reach_m": row["farthest_4_kw_m2_m"],
                }
                for row in light.peaks
            ],
            "plates": [{"least_percent": one.percent, "diameter_m": one.diameter_m} for one in light.plates],
            "steepest_per_deg": steep_share_per_deg(found),
        }
    )


def _rounded(value: Any) -> Any:
    """The last bits of a float must not change a file."""
    if isinstance(value, dict):
        return {key: _rounded(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_rounded(one) for one in value]
    return round(value, _PLACES) if isinstance(value, float) else value
