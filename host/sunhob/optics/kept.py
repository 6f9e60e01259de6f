"""Arrays kept on disk between runs, whole or not at all (no units here).

A file is written beside its place and moved there, and a file that can't be read in full counts as none: a
run cut short, a full disk or two runs at once cost a new trace, never a wrong table.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import numpy as np


def load(path: Path, names: tuple[str, ...]) -> dict[str, Any] | None:
    """The arrays of these names, or None when the file is not there, cut short, damaged or lacks one."""
    try:
        with np.load(path, allow_pickle=False) as kept:
            return {name: kept[name] for name in names}
    except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
        return None


def save(path: Path, arrays: dict[str, Any]) -> bool:
    """Keep the arrays; False where the place can't be written (then nothing is kept, which does no harm)."""
    scratch = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, scratch = tempfile.mkstemp(prefix=path.name, suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            np.savez_compressed(file, **arrays)
        os.replace(scratch, path)
    except OSError:
        if scratch is not None:
            with contextlib.suppress(OSError):
                os.unlink(scratch)
        return False
    return True
