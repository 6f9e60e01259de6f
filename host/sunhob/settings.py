"""Read and judge a cooker file (TOML), and turn it into the bytes the board holds.

Units are in the names of the values, as declared in sunhob_board.declared.settings: degrees, metres,
W/m2, seconds. Limits are declared there and nowhere else; the model here is built from that table.
"""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, create_model
from sunhob_board.core import settings as board
from sunhob_board.declared import settings as declared

from .cooker_lines import Lines
from .cooker_rules import broken_rules
from .errors import UserError
from .sizing.rows import BUILD_ROWS

ROWS: dict[str, tuple[Any, ...]] = {row[0]: row for row in declared.SETTINGS + BUILD_ROWS}
SECTIONS: tuple[str, ...] = tuple(dict.fromkeys(key.split(".")[0] for key in ROWS))
MUST_BE_GIVEN = (
    "site.latitude_deg",
    "site.longitude_deg",
    "dish.aperture_diameter_m",
    "dish.focal_length_m",
    "pot.diameter_m",
)
_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True)
_LARGEST_FILE = 200_000  # bytes


def _field(row: tuple[Any, ...]) -> tuple[Any, Any]:
    key, kind, default, low, high, _unit, sentence, _on_board = row
    value = ... if key in MUST_BE_GIVEN else default
    if kind == "bool":
        return bool, Field(value, description=sentence)
    if kind == "choice":
        return Literal[low], Field(value, description=sentence)
    if kind == "text":
        return Annotated[str, Field(min_length=low, max_length=high)], Field(value, description=sentence)
    if kind == "int":
        return Annotated[int, Field(ge=low, le=high)], Field(value, description=sentence)
    limits = Field(ge=low, le=high, allow_inf_nan=False)
    return Annotated[float, limits], Field(value, description=sentence)


def _section_model(section: str) -> type[BaseModel]:
    fields = {key.split(".")[1]: _field(row) for key, row in ROWS.items() if key.startswith(section + ".")}
    return create_model(section.capitalize() + "Section", __config__=_STRICT, **fields)  # type: ignore[call-overload]


MODELS: dict[str, type[BaseModel]] = {section: _section_model(section) for section in SECTIONS}


class Cooker:
    """A cooker whose every value passed: sections as attributes, `cooker.site.latitude_deg` in degrees.

    `path` is the file it came from, None for the built-in invented cooker; `left_out` names the values
    the file did not give, which stand at their defaults.
    """

    site: Any
    dish: Any
    pot: Any
    guard: Any
    mount: Any
    axis1: Any
    axis2: Any
    tracking: Any
    heat: Any
    probe: Any
    cook: Any
    interlock: Any
    sensor: Any
    build: Any
    supply: Any

    def __init__(self, sections: dict[str, BaseModel], path: Path | None, left_out: list[str]) -> None:
        for name, section in sections.items():
            setattr(self, name, section)
        self.path = path
        self.left_out = left_out

    @property
    def invented(self) -> bool:
        """Whether this is the built-in invented cooker, not one read from a file."""
        return self.path is None

    @property
    def label(self) -> str:
        """Where the values come from, for the head of a report."""
        return "the built-in invented cooker" if self.path is None else str(self.path)

    def value(self, key: str) -> Any:
        """The value of a declared key such as 'dish.focal_length_m', in the unit its name ends with."""
        section, name = key.split(".")
        return getattr(getattr(self, section), name)

    def as_dict(self) -> dict[str, dict[str, Any]]:
        """All values by section, ready for JSON, units at the end of each name."""
        return {section: getattr(self, section).model_dump() for section in SECTIONS}


def load_cooker(path: str | Path | None = None) -> Cooker:
    """The cooker of a file, or the invented one for None. UserError names every mistake at once."""
    if path is None:
        given: dict[str, dict[str, Any]] = {section: {} for section in SECTIONS}
        for key in MUST_BE_GIVEN:
            section, name = key.split(".")
            given[section][name] = ROWS[key][2]
        return Cooker({s: MODELS[s].model_validate(given[s]) for s in SECTIONS}, None, list(ROWS))
    path = Path(path)
    return cooker_from_text(_read(path), path)


def cooker_from_text(text: str, path: Path) -> Cooker:
    """The cooker described by TOML text; `path` only names it in mistakes. Units as declared."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise UserError(f"{path}: not TOML: {error}; mend that line first") from error
    lines = Lines(text)
    mistakes: list[tuple[int, str]] = []

    def tell(key: str, words: str) -> None:
        line = lines.find(key)
        where = f"{path}:{line}" if line else f"{path}"
        mistakes.append((line or 1_000_000, f"{where}: {key} {words}"))

    sections, bad = _sections(data, tell)
    values = {f"{s}.{k}": v for s, m in sections.items() for k, v in m.model_dump().items()}
    for key, words in broken_rules({k: v for k, v in values.items() if k not in bad}):
        tell(key, words)
    if mistakes:
        raise UserError("\n".join(words for _line, words in sorted(mistakes)))
    left_out = [key for key in ROWS if key.split(".")[1] not in data.get(key.split(".")[0], {})]
    return Cooker(sections, path, left_out)


def _read(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except FileNotFoundError as error:
        raise UserError(f"{path}: there is no such file; make one with: sunhob new {path}") from error
    except OSError as error:
        raise UserError(f"{path}: cannot be read: {error.strerror}; give the path of a file") from error
    if len(raw) > _LARGEST_FILE:
        raise UserError(f"{path}: {len(raw)} bytes, at most {_LARGEST_FILE}; this is not a cooker file")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise UserError(f"{path}: byte {error.start} is not UTF-8; save the file as UTF-8 text") from error


def _sections(data: dict[str, Any], tell: Any) -> tuple[dict[str, BaseModel], set[str]]:
    """Each section validated by itself, mistakes told, bad values replaced by their defaults."""
    for name in data:
        if name not in SECTIONS:
            tell(name, f"is not a section; {_nearest(name, SECTIONS)}")
    sections: dict[str, BaseModel] = {}
    bad: set[str] = set()
    for section in SECTIONS:
        given = data.get(section, {})
        if not isinstance(given, dict):
            tell(section, f"= {given!r} must be a section; write [{section}] on a line of its own")
            given = {}
        sections[section] = _section(section, given, tell, bad)
    return sections, bad


def _section(section: str, given: dict[str, Any], tell: Any, bad: set[str]) -> BaseModel:
    kept = dict(given)
    try:
        return MODELS[section].model_validate(kept)
    except ValidationError as error:
        for item in error.errors(include_url=False):
            name = str(item["loc"][0])
            key = f"{section}.{name}"
            bad.add(key)
            kept.pop(name, None)
            tell(key, _words(key, item, given.get(name)))
            if key in ROWS:
                kept[name] = ROWS[key][2]
    return MODELS[section].model_validate(kept)


def _words(key: str, item: Any, value: Any) -> str:
    if key not in ROWS:
        names = [k.split(".")[1] for k in ROWS if k.startswith(key.split(".")[0] + ".")]
        return f"is not a setting; {_nearest(key.split('.')[1], names)}"
    if item["type"] == "missing":
        return f"is missing; it has no default, so give {allowed(key)}"
    shown = repr(value) if len(repr(value)) <= 40 else repr(value)[:37] + "..."
    if item["type"] in ("greater_than_equal", "less_than_equal"):
        row = ROWS[key]
        low = item["type"] == "greater_than_equal"
        return f"= {shown} is {'below' if low else 'above'} {row[3] if low else row[4]}; give {allowed(key)}"
    return f"= {shown} will not do; give {allowed(key)}"


def allowed(key: str) -> str:
    """Words for what a key may hold, with its unit: '0.1 to 3.0 m'."""
    _key, kind, _default, low, high, unit, _sentence, _on_board = ROWS[key]
    if kind == "bool":
        return "true or false"
    if kind == "choice":
        return " or ".join(f'"{word}"' for word in low)
    if kind == "text":
        return f"text in quotes, {low} to {high} letters"
    whole = "a whole number, " if kind == "int" else ""
    return f"{whole}{low} to {high} {unit if unit not in ('', '1') else ''}".rstrip()


def _nearest(word: str, known: Any) -> str:
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"


def board_bytes(cooker: Cooker) -> bytes:
    """The settings file for the board: values in board units, both fingerprints and CRC-32."""
    from .optics.geometry import optics_fingerprint

    values = []
    for row in declared.board_rows():
        value = cooker.value(row[0])
        values.append(round(value * 1_000_000) if row[1] == "angle" else value)
    data = board.pack(values, optics_fingerprint(cooker))
    board.load(data)
    return data


def board_settings(cooker: Cooker) -> board.Settings:
    """The settings as the board will see them, through the bytes; units as on the board."""
    return board.load(board_bytes(cooker))
