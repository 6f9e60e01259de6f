"""The parts of a scenario: sky, air, how the base stands, pot, deeds of the cook, faults; and its times.

Units are in the names: _deg, _m, _s, _m_s, percent, minutes.
"""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from .faults.library import BY_NAME
from .pot_losses import FINISHES, METALS_J_KG_K
from .storage import CONTENTS, MEDIA

_FIRST_YEAR, _LAST_YEAR = 2001, 2098
_CLOCK = re.compile(r"^(\d{1,2}):(\d{2})(?::(\d{2}))?$")

DEEDS = (
    "arm", "leave", "aside", "confirm", "knob", "clock", "north", "chain_open", "chain_close",
    "pot_lift", "pot_set", "cover", "uncover", "link_leave", "link_aside", "link_heat",
    "link_watts", "link_pot", "link_clear", "home", "bump", "stir", "lid_on", "lid_off", "add_water",
    "add_food", "serve", "box", "season",
)
_NEEDS_VALUE = {"knob": (0.0, 100.0, "percent"), "link_heat": (0.0, 100.0, "percent"),
                "link_watts": (0.0, 20000.0, "W"), "link_pot": (0.0, 120.0, "degC"),
                "season": (-60.0, 60.0, "degrees of the hand axis"),
                "bump": (-90.0, 90.0, "degrees"), "add_water": (0.01, 20.0, "kg"),
                "add_food": (0.01, 20.0, "kg"), "serve": (1.0, 100.0, "percent")}
_MAY_HAVE_VALUE = {"clock": (-86400.0, 86400.0, "seconds of error"),
                   "box": (0.1, 10.0, "W/K that the box loses")}


class Part(BaseModel):
    """A table of a scenario: nothing unknown in it, and never changed."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _utc(value: Any) -> Any:
    """A TOML date-time or ISO text as an aware UTC datetime; one without an offset is taken as UTC."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    if isinstance(value, datetime):
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return value


def start_utc(value: Any) -> Any:
    """The start of a run: a day and a time, in the years that the clock chip knows."""
    if isinstance(value, date) and not isinstance(value, datetime):
        raise ValueError(f"is a day without a time; write for example {value}T05:00:00Z")
    try:
        when = _utc(value)
        year = int(when.year)
    except (ValueError, OverflowError, AttributeError):
        raise ValueError("is no time; write for example 2026-03-12T05:00:00Z") from None
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise ValueError(f"must lie in the years {_FIRST_YEAR} to {_LAST_YEAR}")
    return when


def when_utc(at: str, start: datetime) -> datetime:
    """`HH:MM[:SS]` on the start's day (the next day when earlier than the start), or an ISO time; UTC."""
    match = _CLOCK.match(at)
    if not match:
        return _utc(at)
    hour, minute, second = (int(g or 0) for g in match.groups())
    when = start.replace(hour=hour, minute=minute, second=second, microsecond=0)
    return when if when >= start else when + timedelta(days=1)


class Cloud(Part):
    """One cloud over the sun: from `at`, for `minutes`, letting `through` of the beam pass (0 to 1)."""

    at: str
    minutes: Annotated[float, Field(gt=0, le=1440)]
    through: Annotated[float, Field(ge=0, le=1)] = 0.0


class Sky(Part):
    """Clear sky, seeded random clouds, an hourly weather year or a measured one-minute day."""

    kind: Literal["clear", "clouds", "hourly", "minute"] = "clear"
    turbidity: Annotated[float, Field(ge=1, le=8)] | None = None
    cover: Annotated[float, Field(ge=0, le=1)] = 0.3
    source: str = ""
    cloud: tuple[Cloud, ...] = ()


class Air(Part):
    """Wind at the dish: mean and gusts [m/s], air temperature [deg C]."""

    wind_m_s: Annotated[float, Field(ge=0, le=40)] = 0.0
    gust_m_s: Annotated[float, Field(ge=0, le=60)] = 0.0
    temp_c: Annotated[float, Field(ge=-40, le=60)] = 25.0


class Base(Part):
    """How the dish truly stands, unknown to the board: errors of the base and of the clock.

    table_days: how long the board's sun table serves, the day the run starts included.
    """

    north_deg: Annotated[float, Field(ge=-180, le=180)] = 0.0
    tilt_east_deg: Annotated[float, Field(ge=-10, le=10)] = 0.0
    tilt_north_deg: Annotated[float, Field(ge=-10, le=10)] = 0.0
    axis2_zero_deg: Annotated[float, Field(ge=-10, le=10)] = 0.0
    clock_error_s: Annotated[float, Field(ge=-86400, le=86400)] = 0.0
    clock_set: bool = True
    table_days: Annotated[int, Field(ge=1, le=7000)] = 700


class Pot(Part):
    """The pot as it truly is: food (foods.py, storage.py), water, metal [kg], lid, how black, how far off.

    finish left out: as the cooker's settings say; start_c left out: as warm as the air.
    """

    food: Literal[tuple(CONTENTS)] = "water"  # type: ignore[valid-type]
    food_kg: Annotated[float, Field(ge=0, le=50)] = 0.0
    water_kg: Annotated[float, Field(ge=0, le=50)] = 6.0
    start_c: Annotated[float, Field(ge=-10, le=95)] | None = None
    finish: Literal[tuple(FINISHES)] | None = None  # type: ignore[valid-type]
    metal: Literal[tuple(METALS_J_KG_K)] = "aluminium"  # type: ignore[valid-type]
    metal_kg: Annotated[float, Field(ge=0.1, le=30)] = 1.5
    lid: bool = True
    humidity: Annotated[float, Field(ge=0, le=1)] = 0.4
    offset_mm: Annotated[float, Field(ge=0, le=100)] = 0.0
    offset_bearing_deg: Annotated[float, Field(ge=0, le=360)] = 0.0
    probe_lag_s: Annotated[float, Field(ge=0.1, le=600)] = 8.0
    probe_noise_c: Annotated[float, Field(ge=0, le=5)] = 0.15

    @model_validator(mode="after")
    def _filled(self) -> "Pot":
        if self.food == "water" and self.food_kg:
            raise ValueError(f"food_kg = {self.food_kg:g} with food = water; give water_kg or name a food")
        if self.food != "water" and not self.food_kg:
            raise ValueError(f"food_kg is missing; give the kg of {self.food}")
        if self.food in MEDIA and self.water_kg:
            raise ValueError(f"water_kg = {self.water_kg:g} with {self.food}, which stays dry; give 0")
        return self


class Action(Part):
    """One deed of the cook: at `at` do `do`, with `value` where it needs one, holding for `hold_s`."""

    at: str
    do: Literal[DEEDS]  # type: ignore[valid-type]
    value: float | None = None
    hold_s: Annotated[float, Field(ge=0.1, le=60)] = 0.5

    @model_validator(mode="after")
    def _value(self) -> "Action":
        limit = _NEEDS_VALUE.get(self.do) or _MAY_HAVE_VALUE.get(self.do)
        if limit is None:
            if self.value is not None:
                raise ValueError(f"{self.do} takes no value")
        elif self.value is None:
            if self.do in _NEEDS_VALUE:
                raise ValueError(f"{self.do} needs value = {limit[0]:g} to {limit[1]:g} {limit[2]}")
        elif not limit[0] <= self.value <= limit[1]:
            raise ValueError(f"value {self.value:g} of {self.do} is not "
                             f"{limit[0]:g} to {limit[1]:g} {limit[2]}")
        return self


class FaultAt(Part):
    """One fault: `name` from the fault library, at `at`, for `minutes` (left out: to the end)."""

    name: Literal[tuple(BY_NAME)]  # type: ignore[valid-type]
    at: str
    minutes: Annotated[float, Field(gt=0, le=14400)] | None = None
    severity: float | None = None

    @model_validator(mode="after")
    def _severe(self) -> "FaultAt":
        kind = BY_NAME[self.name]
        if self.severity is not None and not kind.low <= self.severity <= kind.high:
            raise ValueError(f"severity {self.severity:g} of {self.name} is not "
                             f"{kind.low:g} to {kind.high:g} {kind.unit}")
        return self
