"""A scenario: one TOML file that says where, when, which sky, and what the cook does.

Units are in the names: _deg, _m, _s, _m_s, percent, minutes. Times are UTC: an ISO time, or
`HH:MM` / `HH:MM:SS` on the day the run starts.
"""

import re
import tomllib
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, ValidationError, field_validator
from sunhob import settings
from sunhob.cooker_rules import broken_rules
from sunhob.errors import UserError

from .faults.library import BY_NAME
from .scenario_parts import Action, Air, Base, FaultAt, Part, Pot, Sky, start_utc, when_utc


class Scenario(Part):
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
    settings: dict[str, dict[str, Any]] = Field(default_factory=dict)
    sky: Sky = Sky()
    air: Air = Air()
    base: Base = Base()
    pot: Pot = Pot()
    action: tuple[Action, ...] = ()
    fault: tuple[FaultAt, ...] = ()

    _start = field_validator("start", mode="before")(start_utc)

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
        return (when_utc(at, self.start) - self.start).total_seconds()


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
