"""A folder that MicroPython's package manager can install from. Units: bytes.

Schema as in MicroPython's documentation, "Package management": package.json holds `urls` as [path on the
board, path beside the list], `deps`, `version`. The board's side is the installer's: a folder /a with a whole
controller, its list last, so that a package broken off counts as none; /main.py starts it.
"""

from __future__ import annotations

import json
from pathlib import Path

from ..errors import UserError
from .image import LIST, Kind, listing, loader_text

NAME = "package.json"
MAIN = "main.py"
FOLDER = "a"


def check_folder(out: Path) -> None:
    """UserError where the folder holds something else than a package."""
    if out.exists() and (not out.is_dir() or (any(out.iterdir()) and not (out / NAME).exists())):
        raise UserError(f"{out}: is not an empty folder nor a package; give another")


def write_package(out: Path, kind: Kind, files: dict[str, bytes], version: str) -> str:
    """Write the folder; returns the command that puts it onto a board without a controller, PORT
    standing for its port."""
    check_folder(out)
    whole = {**files, LIST: listing(files, kind)}
    for name, body in {**whole, MAIN: loader_text()}.items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(body)
    urls = [[name, name] for name in whole]
    (out / NAME).write_text(json.dumps({"urls": urls, "deps": [], "version": version}, indent=1) + "\n",
                            encoding="utf-8")
    return (f"mpremote connect PORT mkdir :data + mip install --target=/{FOLDER} {out / NAME} + "
            f"cp {out / MAIN} :main.py + reset")
