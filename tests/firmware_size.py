"""Prints the size of the firmware as it is put onto a board, and each build's total against its budget.

Units: bytes of .mpy. A build is what a board holds for a cooker with certain drives: parts that it never
loads are left out. Run as a program; exits 1 where a build is above the budget.
"""

import sys

from sunhob.firmware_build import board_files
from sunhob.settings import Cooker, load_cooker

BUDGET = 96 * 1024
BOARD = "pico"
BUILDS = {"two steppers": ("stepper", "stepper"), "two motors or actuators": ("motor", "actuator"),
          "one of each": ("stepper", "motor"),
          "a stepper and a season set by hand": ("stepper", "hand")}


def cooker_of(build: str) -> Cooker:
    """The invented cooker with the drives of a build."""
    cooker = load_cooker()
    one, two = BUILDS[build]
    cooker.axis1 = cooker.axis1.model_copy(update={"drive": one})
    cooker.axis2 = cooker.axis2.model_copy(update={"drive": two})
    return cooker


def builds() -> dict[str, int]:
    """Build -> bytes of what it holds; last all there is."""
    out = {build: sum(map(len, board_files(BOARD, cooker_of(build)).values())) for build in BUILDS}
    return {**out, "everything": sum(map(len, board_files(BOARD).values()))}


def main() -> int:
    for name, body in sorted(board_files(BOARD).items()):
        print(f"{len(body):7d}  {name}")
    made = builds()
    for build, size in made.items():
        print(f"{size:7d}  build with {build}, {100 * size / BUDGET:.0f} % of {BUDGET}")
    return int(max(made[build] for build in BUILDS) > BUDGET)


if __name__ == "__main__":
    sys.exit(main())
