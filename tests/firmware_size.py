"""Prints the size of every firmware module compiled for the board, and the total against its budget.

Units: bytes of .mpy. Run as a program; exits 1 above the budget of 96 kB.
"""

import sys

from sunhob_sim.engine import firmware_dir, package_mpy

BUDGET = 96 * 1024


def sizes() -> dict[str, int]:
    """Module path -> bytes of its .mpy, as it is flashed."""
    return {name: len(body) for name, body in package_mpy(firmware_dir("sunhob_board")).items()}


def main() -> int:
    found = sizes()
    for name, size in found.items():
        print(f"{size:7d}  {name}")
    total = sum(found.values())
    print(f"{total:7d}  total of {len(found)} modules, {100 * total / BUDGET:.0f} % of {BUDGET}")
    return int(total > BUDGET)


if __name__ == "__main__":
    sys.exit(main())
