"""A scenario: one TOML file that says where, when, which sky, and what the cook does.

Units are in the names: _deg, _m, _s, _m_s, percent, minutes. Times are UTC: an ISO time, or
`HH:MM` / `HH:MM:SS` on the day the run starts.
"""

import re
import tomllib
from datetime import UTC, date, datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator
from sunhob import settings
from sunhob.cooker_rules import broken_rules
from sunhob.errors import UserError

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


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


def _utc(value: Any) -> Any:
    """A TOML date-time or ISO text as an aware UTC datetime; one without an offset is taken as UTC."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    if isinstance(value, datetime):
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return value


def _start(value: Any) -> Any:
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


class Cloud(_Part):
    """One cloud over the sun: from `at`, for `minutes`, letting `through` of the beam pass (0 to 1)."""

    at: str
    minutes: Annotated[float, Field(gt=0, le=1440)]
    through: Annotated[float, Field(ge=0, le=1)] = 0.0


class Sky(_Part):
    """Clear sky, seeded random clouds, an hourly weather year or a measured one-minute day."""

    kind: Literal["clear", "clouds", "hourly", "minute"] = "clear"
    turbidity: Annotated[float, Field(ge=1, le=8)] | None = None
    cover: Annotated[float, Field(ge=0, le=1)] = 0.3
    source: str = ""
    cloud: tuple[Cloud, ...] = ()


class Air(_Part):
    """Wind at the dish: mean and gusts [m/s], air temperature [deg C]."""

    wind_m_s: Annotated[float, Field(ge=0, le=40)] = 0.0
    gust_m_s: Annotated[float, Field(ge=0, le=60)] = 0.0
    temp_c: Annotated[float, Field(ge=-40, le=60)] = 25.0


class Base(_Part):
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


class Pot(_Part):
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


class Action(_Part):
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


class FaultAt(_Part):
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


class Scenario(_Part):
    """A run on the bench. `settings` overrides single values of the cooker, section by section.

    board: kind of the board whose pins, step pulses and buses are stood in for.
    hand_every_min: compare with the same day by a hand that turns the dish so often; left out: do not.
    """

    name: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[a-z0-9_-]+$")]
    about: str = ""
    start: datetime
    hours: Annotated[float, Field(gt=0, le=24 * 60)]
    timezone: str = "UTC"
    board: Literal["pico", "esp32"] = "pico"
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    cooker: str = ""
    hand_every_min: Annotated[float, Field(ge=1, le=120)] | None = None
    settings: dict[str, dict[str, Any]] = {}
    sky: Sky = Sky()
    air: Air = Air()
    base: Base = Base()
    pot: Pot = Pot()
    action: tuple[Action, ...] = ()
    fault: tuple[FaultAt, ...] = ()

    _start = field_validator("start", mode="before")(_start)

    @field_validator("timezone")
    @classmethod
    def _zone(cls, value: str) -> str:
        if value not in available_timezones():
            raise ValueError("not a time zone of the tz database, such as Asia/Kolkata")
        return value

    @property
    def seconds(self) -> float:
        """Length of the run [s]."""
        return self.hours * 3600.0

    def local(self, when: datetime) -> datetime:
        """A UTC time in the scenario's civil time zone."""
        return when.astimezone(ZoneInfo(self.timezone))

    def offset_s(self, at: str) -> float:
        """Seconds from the start of the run to `at`; ValueError if it cannot be read."""
        return (_when(at, self.start) - self.start).total_seconds()


def _when(at: str, start: datetime) -> datetime:
    """`HH:MM[:SS]` on the start's day (the next day when earlier than the start), or an ISO time; UTC."""
    match = _CLOCK.match(at)
    if not match:
        return _utc(at)
    hour, minute, second = (int(g or 0) for g in match.groups())
    when = start.replace(hour=hour, minute=minute, second=second, microsecond=0)
    return when if when >= start else when + timedelta(days=1)


def shipped() -> list[str]:
    """Names of the scenarios that come with sunhob."""
    folder = resources.files("sunhob_sim") / "scenarios"
    return sorted(f.name[:-5] for f in folder.iterdir() if f.name.endswith(".toml"))


def load(name_or_path: str) -> Scenario:
    """A shipped scenario by name, or a file; UserError lists every mistake with its line."""
    path = Path(name_or_path)
    if path.suffix != ".toml" and name_or_path in shipped():
        text = (resources.files("sunhob_sim") / "scenarios" / f"{name_or_path}.toml").read_text("utf-8")
    elif path.is_file():
        try:
            text = path.read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise UserError(f"scenario {name_or_path}: cannot be read as UTF-8 text ({error})") from None
    else:
        raise UserError(
            f"scenario {name_or_path}: no such file or shipped scenario; "
            f"give a .toml file or one of: {', '.join(shipped())}"
        )
    return parse(text, name_or_path)


def parse(text: str, source: str = "scenario") -> Scenario:
    """A scenario from TOML text; UserError lists every mistake with field, value, limit and line."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UserError(f"{source}: not TOML: {error}") from None
    try:
        scenario = Scenario.model_validate(data)
    except ValidationError as error:
        found = [(one["loc"], one.get("input"), _limit(one)) for one in error.errors()]
        raise UserError(_listing(source, text, found)) from None
    found = _bad_times(scenario) + _settings(scenario)[1]
    found = found or _unfitted(scenario)
    if found:
        raise UserError(_listing(source, text, found))
    return scenario


def _bad_times(scenario: Scenario) -> list[tuple[tuple, Any, str]]:
    found: list[tuple[tuple, Any, str]] = []
    rows: list[tuple[tuple, str]] = [(("action", i, "at"), a.at) for i, a in enumerate(scenario.action)]
    rows += [(("fault", i, "at"), f.at) for i, f in enumerate(scenario.fault)]
    rows += [(("sky", "cloud", i, "at"), c.at) for i, c in enumerate(scenario.sky.cloud)]
    for loc, at in rows:
        try:
            inside = 0 <= scenario.offset_s(at) <= scenario.seconds
        except (ValueError, TypeError, AttributeError):
            found.append((loc, at, "must be HH:MM, HH:MM:SS or an ISO time, UTC"))
            continue
        if not inside:
            end = scenario.start + timedelta(seconds=scenario.seconds)
            found.append((loc, at, f"must lie within the run, {scenario.start:%Y-%m-%d %H:%M} "
                                   f"to {end:%Y-%m-%d %H:%M} UTC"))
    return found


def _unfitted(scenario: Scenario) -> list[tuple[tuple, Any, str]]:
    """Faults of what the scenario's cooker has not."""
    flat = {f"{s}.{k}": v for s, part in _settings(scenario)[0].as_dict().items() for k, v in part.items()}
    lacks = [(("fault", i, "name"), f.name, BY_NAME[f.name].lacks(flat, scenario.board))
             for i, f in enumerate(scenario.fault)]
    return [(loc, name, f"there is nothing to spoil; give {lack}") for loc, name, lack in lacks if lack]


def cooker_of(scenario: Scenario) -> settings.Cooker:
    """The scenario's cooker file, or the built-in invented cooker, with the scenario's own values put in."""
    cooker, found = _settings(scenario)
    if found:
        raise UserError(_listing(scenario.name, "", found))
    return cooker


def _settings(scenario: Scenario) -> tuple[settings.Cooker, list[tuple[tuple, Any, str]]]:
    base = settings.load_cooker(scenario.cooker or None)
    found: list[tuple[tuple, Any, str]] = []
    values = base.as_dict()
    for section, given in scenario.settings.items():
        for name, value in given.items():
            if f"{section}.{name}" in settings.ROWS:
                values[section][name] = value
            else:
                found.append((("settings", section, name), value, "is not a setting; mend the name"))
    sections = {}
    for section, model in settings.MODELS.items():
        try:
            sections[section] = model.model_validate(values[section])
        except ValidationError as error:
            for one in error.errors():
                name = str(one["loc"][0])
                limit = f"give {settings.allowed(f'{section}.{name}')}"
                found.append((("settings", section, name), one["input"], limit))
    if not found:
        flat = {f"{s}.{k}": v for s, part in values.items() for k, v in part.items()}
        found = [(("settings", *key.split(".")), flat.get(key), words) for key, words in broken_rules(flat)]
    return (base if found else settings.Cooker(sections, base.path, base.left_out)), found


def _limit(one: Any) -> str:
    if one["type"] == "extra_forbidden":
        return "is not a field of a scenario; remove it or mend the name"
    if one["type"] == "missing":
        return "is missing; add it"
    text = str(one["msg"]).removeprefix("Value error, ")
    return text[0].lower() + text[1:]


def _listing(source: str, text: str, found: list[tuple[tuple, Any, str]]) -> str:
    lines = [f"{source}: {len(found)} mistake{'s' if len(found) > 1 else ''}"]
    for loc, value, limit in found:
        field = ".".join(f"{part + 1}" if isinstance(part, int) else str(part) for part in loc)
        shown = "" if isinstance(value, dict | tuple | list) else f" = {value!s}"
        lines.append(f"  line {line_of(text, loc)}: {field}{shown}: {limit}")
    return "\n".join(lines)


def line_of(text: str, loc: tuple) -> int:
    """Line (from 1) of a field in TOML text; that of its table when the field itself is absent."""
    names = [part for part in loc if isinstance(part, str)]
    counts = [part for part in loc if isinstance(part, int)]
    table, best = "", 1
    seen: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"^\s*(\[\[?)\s*([\w.\-]+)\s*\]\]?", line)
        if head:
            table = head[2]
            if head[1] == "[[":
                seen[table] = seen.get(table, -1) + 1
        # a field belongs here when the table is the field's own and, in a list, the counted one
        own = next((k for k in range(len(names), -1, -1) if table == ".".join(names[:k])), None)
        if own is None or (counts and table in seen and seen[table] != counts[0]):
            continue
        if head and own:
            best = number
        if not head and len(names) > own and re.match(rf"^\s*\"?{re.escape(names[own])}\"?\s*[=.]", line):
            return number
    return best
