"""What a board is to hold: compiled code, settings, tables; by name and bytes. Units: bytes.

The code is the bundle of firmware_build.py, without the parts that the cooker has no use for.
"""

from __future__ import annotations

import binascii
import contextlib
import hashlib
import json
import os
import struct
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib import metadata
from pathlib import Path

from sunhob_board.sun import table

from .. import display_words, sun_table
from ..cache import cache_dir
from ..code_list import NAME, code_list
from ..errors import UserError
from ..firmware_build import PACKAGE, board_files
from ..heat_table import build_heat_table
from ..settings import Cooker, board_bytes

LIST = "files.json"
_SUN_YEARS = 20


@dataclass(frozen=True)
class Kind:
    """A kind of board: the last word of its machine name, words."""

    name: str
    chip: str
    words: str


KINDS = {
    kind.name: kind
    for kind in (
        Kind("pico", "RP2040", "Raspberry Pi Pico"),
        Kind("pico2", "RP2350", "Raspberry Pi Pico 2"),
        Kind("esp32", "ESP32", "ESP32 module"),
    )
}


def kind_of(machine: str) -> Kind:
    """The kind of a board by its machine name, as 'Raspberry Pi Pico with RP2040'."""
    chip = machine.split()[-1] if machine.split() else ""
    for kind in KINDS.values():
        if kind.chip == chip:
            return kind
    known = ", ".join(kind.chip for kind in KINDS.values())
    raise UserError(f"board: its chip is {chip or 'not told'} ({machine}); use a board with one of {known}")


def crc(data: bytes) -> int:
    """CRC-32 of some bytes, 0 to 2**32 - 1."""
    return binascii.crc32(data) & 0xFFFFFFFF


def code_files(
    kind: Kind, cooker: Cooker | None = None, progress: Callable[[int, int], None] = lambda done, total: None
) -> dict[str, bytes]:
    """'sunhob_board/core/app.mpy' -> bytes: what a kind of board holds for a cooker; None: for any cooker."""
    return board_files(kind.name, cooker, progress)


def slot(body: bytes, sequence: int = 1) -> bytes:
    """A body as store/slots.py keeps it: CRC-32, sequence, length, body."""
    tail = struct.pack("<HH", sequence, len(body)) + body
    return struct.pack("<I", crc(tail)) + tail


def _sun_table(year: int) -> bytes:
    """The sun table from the first of January of a year on. Kept: what makes it takes a second to load."""
    made_of = (year, _SUN_YEARS, metadata.version("pvlib"), metadata.version("numpy"),
               Path(sun_table.__file__).read_bytes(), Path(table.__file__).read_bytes())
    file = cache_dir() / "sun" / (hashlib.sha256(repr(made_of).encode()).hexdigest() + ".tab")
    try:
        body = file.read_bytes()
        table.SunTable(body)
        return body
    except (OSError, table.TableError):  # none there, or one that was harmed
        pass
    body = sun_table.build_table(date(year, 1, 1), _SUN_YEARS)
    part = file.with_suffix(f".{os.getpid()}")
    with contextlib.suppress(OSError):  # without a place to keep it, it is made each time
        file.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(body)
        part.replace(file)
    return body


def data_files(cooker: Cooker, day: date | None = None) -> dict[str, bytes]:
    """Settings, sun table and heat table of a cooker. The sun table begins with the year of `day` (today),
    so that it is the same all year."""
    year = (day or datetime.now(UTC).date()).year
    words = {display_words.NAME: display_words.words_file()} if cooker.cook.display else {}
    return {
        **words,
        "settings.a": slot(board_bytes(cooker)),
        "sun.tab": _sun_table(year),
        "heat.tab": build_heat_table(cooker),
    }


def all_files(
    kind: Kind, cooker: Cooker, progress: Callable[[int, int], None] = lambda done, total: None
) -> dict[str, bytes]:
    """Everything a board of this kind holds for a cooker, the program's list of check sums included."""
    code = code_files(kind, cooker, progress)
    return {**code, NAME: code_list(code), **data_files(cooker)}


def listing(files: dict[str, bytes], kind: Kind) -> bytes:
    """The list that is written last into a folder: what it holds, by size and CRC, and for which board."""
    rows = {name: [len(body), crc(body)] for name, body in sorted(files.items())}
    return json.dumps({"board": kind.name, "files": rows}, separators=(",", ":")).encode()


def loader_text() -> bytes:
    """The board's /main.py."""
    return (PACKAGE / "loader.py").read_bytes()


def mark(files: dict[str, bytes], kind: Kind) -> int:
    """What a board's loader tells of a folder with these files, the loader being this one."""
    return binascii.crc32(loader_text(), crc(listing(files, kind))) & 0xFFFFFFFF
