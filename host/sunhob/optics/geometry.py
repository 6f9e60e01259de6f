"""Dish, pot and guard plate as the ray trace sees them, and the frames it works in.

Units: metres, milliradians, degrees; shares and absorptances 0..1. Every frame has its origin at the focus.
Frames, three components each:
- dish frame (right, up, axis): `axis` is where the dish points, `right` and `up` are as seen looking out
  along it. Left-handed: nothing here uses a cross product between its axes.
- level frame (right, forward, up): `up` is the true vertical, `forward` the level direction the axis leans
  to. Right-handed. The pot stands upright here while the dish turns about it.

Where the sun is, seen from the dish: `lag_deg` is the angle between axis and sun, `direction_deg` says which
way off the axis the sun stands: 0 up, 90 right, 180 down, 270 left, looking out along the axis. A dish that
trails along the sun's path has the sun ahead of it on that path. North of the tropics: up and to the right
in the forenoon (0..90), right at noon (90), down and to the right in the afternoon (90..180); south of them
the same with left for right (360..270, 270, 270..180). `trailing_direction_deg` gives it for any aim.
"""

from __future__ import annotations

import math
import zlib
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from sunhob_board.declared.settings import OPTICS_KEYS

from sunhob.errors import UserError

Floats = NDArray[Any]
GUARDED_FOCAL_LENGTHS = 0.6  # radius of the guarded sphere about the focus, in focal lengths


class Optics(BaseModel):
    """A paraboloid, the upright cylinder at its focus, and a level guard plate about it.

    Lengths in m, errors as RMS each way in mrad, shares 0..1. Raises pydantic's ValidationError naming each
    impossible value; `optics_of` and `checked` tell the same as one line each.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    aperture_diameter_m: float = Field(gt=0.0)
    focal_length_m: float = Field(gt=0.0)
    centre_hole_m: float = Field(0.0, ge=0.0)
    reflectance: float = Field(1.0, gt=0.0, le=1.0)
    soiling: float = Field(0.0, ge=0.0, lt=1.0)
    arm_shade: float = Field(0.0, ge=0.0, lt=1.0)
    slope_error_mrad: float = Field(0.0, ge=0.0, le=100.0)
    specularity_mrad: float = Field(0.0, ge=0.0, le=100.0)
    pot_diameter_m: float = Field(gt=0.0)
    pot_height_m: float = Field(ge=0.0)
    pot_bottom_above_focus_m: float = 0.0
    bottom_absorptance: float = Field(1.0, gt=0.0, le=1.0)
    wall_absorptance: float = Field(1.0, gt=0.0, le=1.0)
    lid_absorptance: float = Field(1.0, gt=0.0, le=1.0)
    guard_diameter_m: float = Field(0.0, ge=0.0)
    guard_below_focus_m: float = 0.0

    @model_validator(mode="after")
    def _fits(self) -> Optics:
        wide, pot, focal = self.aperture_diameter_m, self.pot_diameter_m, self.focal_length_m
        if self.centre_hole_m >= wide:
            raise ValueError(f"centre_hole_m = {self.centre_hole_m} m leaves no mirror of {wide} m")
        if pot >= wide:
            raise ValueError(f"pot_diameter_m = {pot} m shades the whole dish of {wide} m")
        if self.pot_reach_m >= focal:
            raise ValueError(
                f"pot_height_m = {self.pot_height_m} m: the pot reaches {self.pot_reach_m:.3g} m from the "
                f"focus, where the dish of focal_length_m = {focal} m strikes it"
            )
        plate = self.guard_diameter_m
        if plate and not pot < plate < wide:
            raise ValueError(f"guard_diameter_m = {plate} m must lie between pot {pot} m and dish {wide} m")
        if plate and math.hypot(plate / 2.0, self.guard_below_focus_m) >= focal:
            raise ValueError(f"guard_diameter_m = {plate} m: the dish of focal length {focal} m strikes it")
        return self

    @property
    def aperture_m2(self) -> float:
        """Mirror area seen along the axis, its hole left out, in m2."""
        return math.pi / 4.0 * (self.aperture_diameter_m**2 - self.centre_hole_m**2)

    @property
    def rim_angle_deg(self) -> float:
        """Angle in degrees, seen from the focus, between the axis and the rim: tan(phi/2) = D / 4f."""
        return math.degrees(2.0 * math.atan(self.aperture_diameter_m / (4.0 * self.focal_length_m)))

    @property
    def returned(self) -> float:
        """Share of the light falling on the mirror that it gives back, soiled as it is."""
        return self.reflectance * (1.0 - self.soiling)

    @property
    def pot_top_above_focus_m(self) -> float:
        """Height of the lid above the focus, m."""
        return self.pot_bottom_above_focus_m + self.pot_height_m

    @property
    def pot_reach_m(self) -> float:
        """Distance of the pot's farthest point from the focus, m."""
        tall = max(abs(self.pot_bottom_above_focus_m), abs(self.pot_top_above_focus_m))
        return math.hypot(self.pot_diameter_m / 2.0, tall)

    @property
    def guarded_radius_m(self) -> float:
        """Radius in m of the guarded sphere about the focus, before a flux map has measured it."""
        return GUARDED_FOCAL_LENGTHS * self.focal_length_m


def checked(values: dict[str, Any]) -> Optics:
    """Optics of these fields (units in their names). UserError has one line for each impossible value."""
    try:
        return Optics(**values)
    except ValidationError as error:
        lines = []
        for item in error.errors(include_url=False):
            where = ".".join(str(part) for part in item["loc"])
            words = item["msg"].removeprefix("Value error, ")
            told = f"{where} = {item['input']!r}: {words[0].lower()}{words[1:]}" if where else words
            lines.append(f"optics: {told}; mend it")
        raise UserError("\n".join(lines)) from None


def optics_of(cooker: Any) -> Optics:
    """Optics of a cooker's settings. A wall or lid absorptance of 0 stands for that of the bottom."""
    dish, pot, guard = cooker.dish, cooker.pot, cooker.guard
    return checked(
        {
            "aperture_diameter_m": dish.aperture_diameter_m,
            "focal_length_m": dish.focal_length_m,
            "centre_hole_m": dish.centre_hole_m,
            "reflectance": dish.reflectance,
            "soiling": dish.soiling,
            "arm_shade": dish.arm_shade,
            "slope_error_mrad": dish.slope_error_mrad,
            "specularity_mrad": dish.specularity_mrad,
            "pot_diameter_m": pot.diameter_m,
            "pot_height_m": pot.height_m,
            "pot_bottom_above_focus_m": pot.bottom_above_focus_m,
            "bottom_absorptance": pot.absorptance,
            "wall_absorptance": pot.wall_absorptance or pot.absorptance,
            "lid_absorptance": pot.lid_absorptance or pot.absorptance,
            "guard_diameter_m": guard.diameter_m,
            "guard_below_focus_m": guard.below_focus_m,
        }
    )


def optics_fingerprint(cooker: Any) -> int:
    """CRC-32 (0 .. 2**32 - 1) of every setting in OPTICS_KEYS, as 'key=value;' with nine digits."""
    text = "".join(f"{key}={float(cooker.value(key)):.9g};" for key in OPTICS_KEYS)
    return zlib.crc32(text.encode("ascii"))


def sun_direction(lag_deg: float, direction_deg: float = 0.0) -> Floats:
    """Unit vector (3,) to the sun in the dish frame."""
    lag, way = math.radians(lag_deg), math.radians(direction_deg)
    return np.array([math.sin(lag) * math.sin(way), math.sin(lag) * math.cos(way), math.cos(lag)])


def turn_about_axis(direction_deg: float) -> Floats:
    """Matrix (3, 3) that takes dish-frame vectors traced with the sun at direction 0 to this direction."""
    way = math.radians(direction_deg)
    c, s = math.cos(way), math.sin(way)
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def level_from_dish(elevation_deg: float) -> Floats:
    """Matrix (3, 3) from the dish frame (right, up, axis) to the level frame (right, forward, up)."""
    height = math.radians(elevation_deg)
    c, s = math.cos(height), math.sin(height)
    return np.array([[1.0, 0.0, 0.0], [0.0, -s, c], [0.0, c, s]])


def level_offset(east_north_up_m: ArrayLike, axis_azimuth_deg: float) -> tuple[float, float, float]:
    """(right, forward, up) in m of an offset given as (east, north, up), for an axis at this azimuth.

    Azimuth in degrees clockwise from true north. Serves a pot set down beside the focus.
    """
    east, north, up = np.asarray(east_north_up_m, dtype=float)
    azimuth = math.radians(axis_azimuth_deg)
    c, s = math.cos(azimuth), math.sin(azimuth)
    return float(east * c - north * s), float(east * s + north * c), float(up)


def trailing_direction_deg(axis_enu: ArrayLike, sun_enu: ArrayLike) -> tuple[float, float]:
    """(lag_deg, direction_deg 0..360) of the sun for an axis, both east-north-up unit vectors (3,).

    With the axis at the zenith 'up' is taken as for an axis leaning north.
    """
    axis, sun = np.asarray(axis_enu, dtype=float), np.asarray(sun_enu, dtype=float)
    flat = math.hypot(axis[0], axis[1])
    forward = np.array([axis[0] / flat, axis[1] / flat, 0.0]) if flat > 1e-9 else np.array([0.0, 1.0, 0.0])
    right = np.array([forward[1], -forward[0], 0.0])
    up = np.array([0.0, 0.0, 1.0]) * flat - forward * axis[2]
    x, y, z = float(sun @ right), float(sun @ up), float(sun @ axis)
    direction = math.degrees(math.atan2(x, y)) % 360.0
    return math.degrees(math.atan2(math.hypot(x, y), z)), direction if direction < 360.0 else 0.0
