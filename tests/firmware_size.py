"""Prints the size of every firmware module compiled for the board, and each build's total against its budget.

Units: bytes of .mpy. A build is what a board with certain drives loads: the rest need not be put onto it.
Run as a program. The goal is 96 kB; exits 1 where the largest of the builds is above what a board with 241 kB
of heap holds beside its data (a module takes about 1.6 times its .mpy when loaded).
"""

import sys

from sunhob.firmware_build import unused_modules
from sunhob_sim.engine import firmware_dir, package_mpy

BUDGET = 96 * 1024
LIMIT = 116 * 1024
BUILDS = {"two steppers": ("stepper",), "two motors or actuators": ("motor",),
          "one of each": ("stepper", "motor")}


def sizes() -> dict[str, int]:
    """Module path -> bytes of its .mpy, as it is flashed."""
    return {name: len(body) for name, body in package_mpy(firmware_dir("sunhob_board")).items()}


def builds() -> dict[str, int]:
    """Build -> bytes of what it loads."""
    found, out = sizes(), {}
    for build, kinds in BUILDS.items():
        unused = {f"sunhob_board/{name}.mpy" for name in unused_modules(kinds)}
        assert unused <= set(found)
        out[build] = sum(size for name, size in found.items() if name not in unused)
    return out


def main() -> int:
    found, made = sizes(), builds()
    for name, size in found.items():
        print(f"{size:7d}  {name}")
    print(f"{sum(found.values()):7d}  all {len(found)} modules")
    for build, size in made.items():
        print(f"{size:7d}  build with {build}, {100 * size / BUDGET:.0f} % of {BUDGET}")
    return int(max(made.values()) > LIMIT)


if __name__ == "__main__":
    sys.exit(main())
