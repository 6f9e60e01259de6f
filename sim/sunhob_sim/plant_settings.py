"""From the settings of a cooker to its true machine: axes with their drives, mount, where it parks.

Units: degrees, metres, seconds in the names. What they do not know (a base off north) comes beside.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sunhob_board.declared.settings import SETTINGS

from .plant_axis import AxisData, HandAxis, PlantAxis
from .plant_geometry import TrueMount
from .plant_motor import MotorAxis, MotorData


def flat_settings(settings: Any = None) -> dict[str, Any]:
    """Settings by dotted key ('axis1.low_deg'); from None (defaults), a mapping or a pydantic model."""
    out = {row[0]: row[2] for row in SETTINGS}
    if settings is None:
        return out
    given = settings.model_dump() if hasattr(settings, "model_dump") else dict(settings)
    for key, value in given.items():
        if isinstance(value, Mapping):
            out.update({f"{key}.{name}": inner for name, inner in value.items()})
        else:
            out[key] = value
    return out


def axis_data(flat: Mapping[str, Any], name: str) -> AxisData:
    """The axis 'axis1' or 'axis2' of flat settings."""
    get = {key.split(".", 1)[1]: value for key, value in flat.items() if key.startswith(name + ".")}
    return AxisData(
        get["low_deg"], get["high_deg"], get["home_deg"], get["steps_per_turn"], get["speed_deg_s"],
        get["accel_deg_s2"], get["backlash_deg"], get["approach"] == 0, bool(get["reversed"]),
    )


def plant_axis(flat: Mapping[str, Any], name: str, start_deg: float, seed: int = 1) -> PlantAxis:
    """The axis 'axis1' or 'axis2' of flat settings with its drive, at `start_deg` degrees."""
    data, kind = axis_data(flat, name), flat[name + ".drive"]
    if kind == "stepper":
        return PlantAxis(data, start_deg)
    if kind == "hand":
        return HandAxis(data, start_deg)
    per = flat[f"{name}.pulses_per_turn" if kind == "motor" else f"{name}.pulses_per_mm"]
    motor = MotorData(kind, per, flat[name + ".channels"], flat[name + ".foot_m"], flat[name + ".head_m"],
                      flat[name + ".triangle_deg"])
    return MotorAxis(data, motor, start_deg, seed)


def true_mount(flat: Mapping[str, Any], north_deg: float = 0.0, tilt_east_deg: float = 0.0,
               tilt_north_deg: float = 0.0, axis2_zero_deg: float = 0.0) -> TrueMount:
    """The mount of the settings, off by these degrees in ways the settings do not know."""
    return TrueMount(
        flat["mount.kind"], flat["site.latitude_deg"], flat["mount.north_deg"] + north_deg,
        flat["mount.tilt_east_deg"] + tilt_east_deg, flat["mount.tilt_north_deg"] + tilt_north_deg,
        flat["mount.square_deg"], (flat["axis1.zero_deg"], flat["axis2.zero_deg"] + axis2_zero_deg),
    )


def park_axes(flat: Mapping[str, Any]) -> tuple[float, float]:
    """Axis angles in degrees, inside the travel, that point at the elevated pole; with the season set by hand
    the eastern end of axis 1, or midnight where it goes so far, and axis 2 at the equator."""
    lat = flat["site.latitude_deg"]
    if flat["axis2.drive"] == "hand":
        zero = flat["axis1.zero_deg"]
        if lat >= 0:
            return max(flat["axis1.low_deg"] + 0.5, -zero), -flat["axis2.zero_deg"]
        return min(flat["axis1.high_deg"] - 0.5, 360.0 - zero), -flat["axis2.zero_deg"]
    if flat["mount.kind"] == "polar":
        return 180.0 - flat["axis1.zero_deg"], min(90.0, flat["axis2.high_deg"]) - flat["axis2.zero_deg"]
    one = (0.0 if lat >= 0 else 180.0) - flat["mount.north_deg"] - flat["axis1.zero_deg"]
    low, high = flat["axis1.low_deg"], flat["axis1.high_deg"]
    one = low + (one - low) % 360.0
    return min(one, high), abs(lat) - flat["axis2.zero_deg"]
