"""What cooker an episode has: mount and drives, board, further sensors. Units: degrees, as settings.

Drawn from a stream of its own, so that place, day, sky, cook and fault of a seed are the same with any kit.
What a fault needs is fitted; a mount on which it has nothing to spoil is not taken.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime, timedelta
from fnmatch import fnmatchcase
from typing import Any

import numpy as np
from sunhob.sun_truth import sun_azel

from ..faults.kind import Fault
from ..faults.library import BY_NAME
from ..sky import enu
from ..truth import dec_ha_deg

Sections = dict[str, dict[str, Any]]

ESP32_SHARE = 0.1
SENSORS_SHARE = 0.2  # of the episodes have every further sensor
SENSORS: dict[str, Any] = {"axis1_encoder": True, "axis2_tilt": True, "base_tilt": True,
                           "wind_hz_per_m_s": 4.0, "supply_ratio": 6.0}
SEASON_OFF_DEG = 0.3  # the hand screw is set to within this of the sun
SEASON_LEAVES_S = 75.0  # a hand is at the screw for the first minute
_TURNED = {"low_deg": -170.0, "high_deg": 190.0, "home_deg": 182.0, "approach": -1}  # of southern sites
_POLAR: Sections = {
    "mount": {"kind": "polar"},
    "axis1": {"low_deg": 60.0, "high_deg": 300.0, "home_deg": 178.0},
    "axis2": {"low_deg": -30.0, "high_deg": 92.0, "home_deg": 88.0},
}
_ROD = {"drive": "actuator", "speed_deg_s": 3.0, "accel_deg_s2": 3.0, "backlash_deg": 0.1, "foot_m": 1.0,
        "head_m": 0.36}
_SEASON_ROD = _ROD | {"low_deg": -28.0, "high_deg": 93.0, "home_deg": 88.0, "triangle_deg": 62.0}
_GEARED = {"drive": "motor", "pulses_per_turn": 7200.0, "speed_deg_s": 4.0, "accel_deg_s2": 4.0}


@dataclass(frozen=True)
class Mount:
    """share: of all episodes; sections: settings; not_for: patterns of faults that spoil nothing on it."""

    name: str
    share: float
    sections: Sections
    not_for: tuple[str, ...] = ()


STEPPERS = Mount("steppers", 0.0, {}, ("pulses?_*",))
MOUNTS = (
    Mount("two_actuators", 0.06, {
        "mount": {"kind": "polar"}, "tracking": {"deadband_deg": 0.16},
        "axis1": _ROD | {"low_deg": 126.0, "high_deg": 234.0, "home_deg": 178.0, "pulses_per_mm": 1.0,
                         "triangle_deg": -98.0},
        "axis2": _SEASON_ROD | {"approach": 0, "pulses_per_mm": 1.0},
    }, ("dish_tilt_*",)),
    Mount("motor_and_actuator", 0.05, {
        "mount": {"kind": "polar"}, "tracking": {"deadband_deg": 0.12},
        "axis1": _GEARED | {"low_deg": 60.0, "high_deg": 300.0, "home_deg": 178.0},
        "axis2": _SEASON_ROD | {"approach": 0, "pulses_per_mm": 4.0},
    }, ("dish_tilt_*",)),
    Mount("two_motors", 0.05, {"tracking": {"deadband_deg": 0.12}, "axis1": dict(_GEARED),
                               "axis2": _GEARED | {"speed_deg_s": 3.0}}),
    Mount("season_by_hand", 0.06, {
        "mount": {"kind": "polar"},
        "axis1": {"speed_deg_s": 4.0, "accel_deg_s2": 4.0, "backlash_deg": 0.1},
        "axis2": {"drive": "hand", "low_deg": -28.0, "high_deg": 28.0, "home_deg": 0.0,
                  "backlash_deg": 0.05, "approach": 0},
    }, ("dish_tilt_*", "axis2_*", "home2_*", "pulses?_*")),
)


@dataclass(frozen=True)
class Kit:
    """One episode's cooker; leaves_s: when the cook has it look for home; season_deg: what a hand sets axis 2
    to, None where a drive does."""

    board: str
    mount: Mount
    sections: Sections
    leaves_s: float = 6.0
    season_deg: float | None = None


def _mount(chance: random.Random, faults: list[Fault]) -> Mount:
    roll, found = chance.random(), STEPPERS
    for one in MOUNTS:
        if 0.0 <= roll < one.share:
            found = one
        roll -= one.share
    if any(fault.drives for fault in faults) and found not in MOUNTS[:3]:
        found = chance.choice(MOUNTS[:3])
    barred = any(fnmatchcase(fault.name, no) for fault in faults for no in found.not_for)
    if not barred:
        return found
    return MOUNTS[2] if any(fault.drives for fault in faults) else STEPPERS


def _by_place(mount: Mount, polar: bool, lat: float) -> Sections:
    """The mount's settings for a latitude; polar: a mount of steppers is a polar one."""
    found = {name: dict(rows) for name, rows in (_POLAR if polar else mount.sections).items()}
    axis1, axis2 = found.setdefault("axis1", {}), found.setdefault("axis2", {})
    if mount.name == "season_by_hand":
        ends = (55.0, 300.0, 62.0, 1) if lat >= 0.0 else (60.0, 305.0, 298.0, -1)
        axis1.update(zip(("low_deg", "high_deg", "home_deg", "approach"), ends, strict=True))
    elif "mount" not in found:
        if lat < 0.0:
            axis1.update(_TURNED)
        axis2["home_deg"] = round(abs(lat) - 2.0, 3)
    return {name: rows for name, rows in found.items() if rows}


def _season_deg(chance: random.Random, lat: float, lon: float, start: datetime) -> float:
    """What a hand sets the screw to for the sun of that day, on a scale read to a tenth of a degree."""
    noonish = np.array([(start + timedelta(minutes=30)).timestamp()])
    dec, _ = dec_ha_deg(enu(*sun_azel(noonish, lat, lon)), lat)
    off = chance.uniform(-SEASON_OFF_DEG, SEASON_OFF_DEG)
    return round((float(dec[0]) if lat >= 0.0 else -float(dec[0])) + off, 1)


def kit_of(seed: int, faults: tuple[str, ...], place: tuple[float, float, datetime], polar: bool) -> Kit:
    """The kit of an episode; place: latitude, longitude and start; polar: its mount of steppers would be."""
    chance = random.Random(f"kit of {seed}:{'+'.join(faults)}")
    rows = [BY_NAME[name] for name in faults]
    board = "esp32" if chance.random() < ESP32_SHARE else "pico"
    board = next((row.board for row in rows if row.board), board)
    every = chance.random() < SENSORS_SHARE
    mount = _mount(chance, rows)
    lat, lon, start = place
    polar = polar and mount is STEPPERS and not any(
        fnmatchcase(name, "dish_tilt_*") for name in faults)
    sections = _by_place(mount, polar, lat)
    sensors = dict(SENSORS) if every else {}
    sensors.update({key.split(".")[1]: value for row in rows for key, value in row.fits.items()})
    if sections.get("mount"):  # an accelerometer on the dish tells nothing of a polar mount
        sensors.pop("axis2_tilt", None)
    if sensors:
        sections["sensor"] = sensors
    if mount.name != "season_by_hand":
        return Kit(board, mount, sections)
    return Kit(board, mount, sections, SEASON_LEAVES_S, _season_deg(chance, lat, lon, start))
