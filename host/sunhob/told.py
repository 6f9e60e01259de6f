"""What a board tells, for people: the same order and words wherever it is shown. Units as in the keys."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
# A board's answer comes in no order: what is looked for first comes first, what is not named here after, by
# name.
_ORDER = (
    "mode", "words", "trouble", "why", "utc", "clock_known", "clock_was_set", "armed_s", "attendance_s",
    "moving",
    "heat_kind", "heat_asked", "heat_percent", "heat_least_percent", "heat_now_percent", "heat_now_w",
    "full_heat_now_w", "lag_deg", "contents_c", "underside_c", "air_c", "spare_c", "beam_w_m2", "open_w_m2",
    "sun_sensor_w_m2", "sun_elevation_deg", "axis1_deg", "axis2_deg", "encoder1_deg", "encoder2_deg",
    "lean_east_deg", "lean_north_deg", "gust_m_s", "supply_v", "board_c",
    "place_known", "play_up", "north_deg", "north_age_h", "park", "rest_deg",
    "board", "micropython", "firmware", "version", "folder", "proven",
)
_LAST = "tripped"
_PLACE = {name: at for at, name in enumerate(_ORDER)}


def utc_text(day: int, ms: int) -> str:
    """ISO time, UTC, of the board's day since 2000-01-01 and ms of the day."""
    at = _EPOCH + timedelta(days=day, milliseconds=ms)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def told_lines(got: dict[str, Any]) -> list[str]:
    """One line for each thing told, the board's two halves of the time as one."""
    known = {key: value for key, value in got.items() if key not in ("day", "ms")}
    if got.get("clock_known"):
        known["utc"] = utc_text(got["day"], got["ms"])
    order = sorted(known, key=lambda key: (key == _LAST, _PLACE.get(key, len(_PLACE)), key))
    return [f"{key:<18} {_plain(known[key])}" for key in order]


def _plain(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_plain(one) for one in value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.3f}"
    return "-" if value in (None, "") else str(value)
