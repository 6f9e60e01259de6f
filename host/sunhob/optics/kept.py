"""Arrays kept on disk between runs, whole or not at all (no units here).

A file holds the CRC-32 of the rest, then an npz archive. It is written beside its place and moved there, and
one that is cut short or damaged counts as none: a run broken off, a full disk or two runs at once cost a new
trace, never a wrong table.
"""

from __future__ import annotations

import contextlib
import io
import os
import tempfile
import zlib
from pathlib import Path
from typing import Any

import numpy as np


def load(path: Path, names: tuple[str, ...]) -> dict[str, Any] | None:
    """The arrays of these names, or None when the file is not there, cut short, damaged or lacks one."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    if len(data) < 4 or int.from_bytes(data[:4], "little") != zlib.crc32(data[4:]):
        return None
    with np.load(io.BytesIO(data[4:]), allow_pickle=False) as kept:
        return {name: kept[name] for name in names} if set(names) <= set(kept.files) else None


def save(path: Path, arrays: dict[str, Any]) -> bool:
    """Keep the arrays; False where the place can't be written (then nothing is kept, which does no harm)."""
    packed = io.BytesIO()
    np.savez_compressed(packed, **arrays)
    body = packed.getvalue()
    scratch = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, scratch = tempfile.mkstemp(prefix=path.name, suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(zlib.crc32(body).to_bytes(4, "little") + body)
        os.replace(scratch, path)
    except OSError:
        if scratch is not None:
            with contextlib.suppress(OSError):
                os.unlink(scratch)
        return False
    return True
