"""Where the program keeps what it can make or fetch again (no units here)."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def cache_dir() -> Path:
    """The user's cache folder of this program; SUNHOB_CACHE sets another."""
    told = os.environ.get("SUNHOB_CACHE")
    if told:
        return Path(told)
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "sunhob"
