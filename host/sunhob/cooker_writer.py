"""Write a cooker file in which every value carries its unit, its range and what it is for.

Units are in the names of the values, as declared in sunhob_board.declared.settings.
"""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any

from .errors import UserError
from .settings import MUST_BE_GIVEN, ROWS, SECTIONS, allowed

_HEAD = """\
# A solar cooker with a motorised dish, for sunhob. Judge this file with: sunhob check {name}
# The values below are of an invented cooker in an invented courtyard: put your own in their place.
# Units are at the end of each name. A value left out takes the default named beside it; the place, the
# dish and the pot's width have none and must be given.
"""
_ABOUT = {
    "site": "Where the cooker stands.",
    "dish": "The mirror, and how far it must turn away. Wear dark glasses; never stand in the beam.",
    "pot": "The pot at the focus.",
    "guard": "A level plate about the pot that catches light spilled beside it.",
    "mount": "How the two axes stand. The daily sun sighting finds the turn of the base.",
    "axis1": "Altaz: degrees clockwise from the base's north. Polar: hour axis, 180 with the sun at noon.",
    "axis2": "Altaz: degrees up from the base's level. Polar: degrees from the equator, 90 at the pole.",
    "tracking": "Following the sun by step and wait.",
    "heat": "The heat dial.",
    "probe": "Temperature probes at the pot. Without any it cooks by heat alone.",
    "cook": "What it expects of the cook.",
    "interlock": "When it leaves the sun by itself. These are no certified safety.",
    "sensor": "The light sensors.",
    "build": "What `sunhob size` needs to judge the drives; the board never sees it.",
    "supply": "Battery and panel, for `sunhob size`.",
    "park": "Where it rests: at the elevated pole, in summer at the horizon towards the equator.",
}


def toml_value(value: Any) -> str:
    """One value as TOML writes it (no unit)."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(value)


def cooker_text(values: dict[str, Any] | None = None, name: str = "cooker.toml") -> str:
    """The text of a cooker file: declared defaults, or `values` by key ('dish.focal_length_m') if given."""
    given = values or {}
    parts = [_HEAD.format(name=name)]
    for section in SECTIONS:
        parts.append(f"\n# {_ABOUT[section]}\n[{section}]\n")
        parts += [_entry(key, given.get(key, ROWS[key][2])) for key in ROWS if key.startswith(section + ".")]
    return "".join(parts)


def _entry(key: str, value: Any) -> str:
    row = ROWS[key]
    default = "it must be given" if key in MUST_BE_GIVEN else f"default {toml_value(row[2])}"
    return f"# {row[6]} Range: {allowed(key)}; {default}.\n{key.split('.')[1]} = {toml_value(value)}\n"


def write_new(path: Path, text: str, force: bool = False) -> None:
    """Write text to a file whole or not at all; refuses to overwrite one without `force`."""
    if path.is_dir():
        raise UserError(f"{path}: is a directory; give the name of a file in it")
    if path.exists() and not path.is_file():
        raise UserError(f"{path}: is there and is no plain file; choose another name")
    if path.exists() and not force:
        raise UserError(f"{path}: is there already; choose another name, or --force to overwrite it")
    if not path.parent.is_dir():
        raise UserError(f"{path}: there is no directory {path.parent}; make it first")
    try:
        _write_whole(path, text)
    except OSError as error:
        raise UserError(f"{path}: cannot be written: {error.strerror}; choose another place") from error


def _write_whole(path: Path, text: str) -> None:
    handle, scratch = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(scratch, 0o666 & ~mask)
        os.replace(scratch, path)
    except BaseException:
        os.unlink(scratch)
        raise
