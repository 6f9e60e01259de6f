"""Prints the size of the firmware as it is put onto each board, and each build's total against its budget.

Units: bytes of .mpy. A build is what a board holds for a cooker with certain drives: parts that it never
loads are left out. Run as a program; exits 1 where a build of any board is above the budget.
"""

import sys

from sunhob.board.image import KINDS
from sunhob.firmware_build import board_files
from sunhob.settings import Cooker, load_cooker

BUDGET = 96 * 1024
BUILDS = {"two steppers": ("stepper", "stepper"), "two motors or actuators": ("motor", "actuator"),
          "one of each": ("stepper", "motor"),
          "a stepper and a season set by hand": ("stepper", "hand"),
          "two steppers and all that can be fitted": ("stepper", "stepper"),
          "one of each and all that can be fitted": ("stepper", "motor"),
          "a season set by hand and all that can be fitted": ("motor", "hand")}
_FITTED = {"sensor": {"axis1_encoder": True, "axis2_tilt": True, "base_tilt": True, "wind_hz_per_m_s": 4.0,
                      "supply_ratio": 6.0, "spare_probes": 3},
           "cook": {"display": True}, "heat": {"trim": True}}


def cooker_of(build: str) -> Cooker:
    """The invented cooker with the drives of a build, and what else can hang on a board with them."""
    cooker = load_cooker()
    one, two = BUILDS[build]
    cooker.axis1 = cooker.axis1.model_copy(update={"drive": one})
    cooker.axis2 = cooker.axis2.model_copy(update={"drive": two})
    if build.endswith("fitted"):
        for section, values in _FITTED.items():
            setattr(cooker, section, getattr(cooker, section).model_copy(update=values))
        if (one, two) == ("stepper", "stepper"):  # a rotary knob takes both lines that pulses would have
            cooker.cook = cooker.cook.model_copy(update={"knob_rotary": True})
    return cooker


def builds(board: str) -> dict[str, int]:
    """Build -> bytes of what this kind of board holds."""
    return {build: sum(map(len, board_files(board, cooker_of(build)).values())) for build in BUILDS}


def main() -> int:
    files = {board: board_files(board) for board in KINDS}
    print(*(f"{board:>7}" for board in KINDS))
    for name in sorted({name for held in files.values() for name in held}):
        print(*(f"{len(held[name]) if name in held else '-':>7}" for held in files.values()), f" {name}")
    made = {board: builds(board) for board in KINDS}
    for build in BUILDS:
        share = ", ".join(f"{100 * found[build] / BUDGET:.0f}" for found in made.values())
        print(*(f"{found[build]:7d}" for found in made.values()),
              f" build with {build}: {share} % of {BUDGET}")
    return int(max(size for found in made.values() for size in found.values()) > BUDGET)


if __name__ == "__main__":
    sys.exit(main())
