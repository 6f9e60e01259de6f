"""Put single values into a cooker file; comments and all else stay as they are. Units as declared."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .cooker_lines import Lines
from .cooker_writer import toml_value, write_new
from .errors import UserError
from .settings import cooker_from_text


def edit_cooker(path: Path, values: Mapping[str, Any]) -> None:
    """Write values by key ('mount.north_deg') into the file, whole or not at all, once the result is good."""
    text = path.read_text(encoding="utf-8-sig").replace("\r\n", "\n")
    for key, value in values.items():
        text = _put(text, key, toml_value(value), path)
    cooker_from_text(text, path)
    write_new(path, text, force=True)


def _put(text: str, key: str, value: str, path: Path) -> str:
    section, name = key.split(".")
    rows = text.split("\n")
    lines = Lines(text)
    at, head = lines.find(key), lines.find(section)
    if at is not None and at != head:
        found = re.match(r"^(\s*[^=]*=\s*)([^#]*?)(\s*(?:#.*)?)$", rows[at - 1])
        if found is None:
            raise UserError(f"{path}:{at}: {key} cannot be changed here; write it as {name} = {value}")
        rows[at - 1] = found.group(1) + value + found.group(3)
    elif head is not None:
        rows.insert(head, f"{name} = {value}")
    else:
        rows += [f"[{section}]", f"{name} = {value}", ""]
    return "\n".join(rows)
