"""Plants bugs in safety code one at a time and checks that the tests catch each.

Run as `make mutants`. No units. Each row: file, text in it, what it becomes, tests that must then fail.
Exit status 1 if any planted bug survives.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from rich.console import Console
from rich.progress import track

ROOT = Path(__file__).resolve().parents[1]
CORE = "firmware/sunhob_board/core/"
HEAT = "firmware/sunhob_board/heat/"
OPTICS = "host/sunhob/optics/"
CHECK = "firmware/sunhob_board/selfcheck/"
CHECKED = "tests/test_selfcheck.py"
CONTROLLER = "tests/test_controller.py"
PARTS = "tests/test_core_parts.py"
DAILY = "tests/test_daily_use.py"
PARK = "tests/test_park.py"
PARKED = "tests/test_controller_park.py"
LED = "tests/test_encoder_lead.py"
LEAD = "firmware/sunhob_board/safety/encoder_lead.py"
ROWS = "tests/test_interlock_rows.py"
HOLDING = "tests/test_heat_holding.py"
PLANNER = "firmware/sunhob_board/mount/planner.py"
PLANNED = "tests/test_mount_planner.py"

MUTANTS = (
    (CORE + "tracking.py", "(centre - self.half, out)", "(-centre - self.half, out)", CONTROLLER),
    (CORE + "controller.py", "self.warn_ms = seconds * 1000", "self.warn_ms = 0", CONTROLLER),
    (CORE + "at_the_dish.py", "        self.mount.halt(dt_ms)\n", "", CONTROLLER),
    (CORE + "unasked.py", "if self.armed_ms > 0:\n            self._begin(",
     "if True:\n            self._begin(", CONTROLLER),
    (CORE + "controller.py", "self.cond.attendance_out = self.attend_ms <= 0",
     "self.cond.attendance_out = False", CONTROLLER),
    (CORE + "start.py", "self.conditions.restarted = c.on_sun", "self.conditions.restarted = False",
     CONTROLLER),
    (CORE + "app.py", "                self._seen |= 2\n        else", "                pass\n        else",
     CONTROLLER),
    ("firmware/sunhob_board/mount/admission.py", "if now >= 0.0:", "if True:",
     "tests/test_mount_admission.py"),
    ("firmware/sunhob_board/mount/planner.py", "return margin >= 0.0", "return True",
     "tests/test_mount_planner.py"),
    (CORE + "find_home.py", "_BOTH_WAYS = ((1, 2), (2, 1))", "_BOTH_WAYS = ((2, 1),)",
     "tests/test_controller_home.py"),
    (CORE + "place.py", "!= _sum(raw)", "!= _sum(raw) and False", PARTS),
    (CORE + "service.py", "if c.attend_ms <= 0:", "if False:", "tests/test_link_rights.py"),
    (CORE + "service.py", "c.disarm_afar()", "pass", "tests/test_link_rights.py"),
    ("firmware/sunhob_board/link/frame.py", "line[-_TAIL:] == _end(body)",
     "line[-_TAIL:-1] == _end(body)[:-1]", "tests/test_link_frame.py"),
    ("firmware/sunhob_board/store/slots.py", '(".a" if where == ".b" else ".b")',
     '".a"', "tests/test_fuzz.py"),
    (CHECK + "files.py", "if (self._sum.crc, self._sum.size) != self._want:", "if self._sum.size < 0:",
     CHECKED),
    (CHECK + "proof.py", "if state == TRYING and cause == _WATCHDOG:", "if state == TRYING:", CHECKED),
    (CHECK + "proof.py", "    if not calm:\n        return False\n", "", CHECKED),
    (CHECK + "checks.py", "self.no_power = bool(off & 1)", "self.no_power = False", CHECKED),
    (CORE + "clock.py", "self._slewed_ms += slewed_ms", "self._slewed_ms = 0", CHECKED),
    (CORE + "clock.py", "if abs(off) > self.jump_ms:", "if abs(off) > 100 * self.jump_ms:", PARTS),
    ("firmware/sunhob_board/safety/interlocks.py", " or (tripped[i] and self.latched[i])", "", PARTS),
    ("firmware/sunhob_board/safety/interlocks.py", "count[i] += dt_ms", "count[i] += limit", PARTS),
    (CORE + "panel.py", "self._ignored = mask & BUTTONS", "self._ignored = 0", ROWS),
    ("firmware/sunhob_board/safety/around.py", "limit *= _CALM", "limit *= 1.0", ROWS),
    ("firmware/sunhob_board/safety/sight_doubt.py", "if self.bad_ms else self._most):",
     "if self.bad_ms else 5 * self._most):", "tests/test_campaign_found.py"),
    ("firmware/sunhob_board/safety/place_check.py", "elif vote:", "elif False:", ROWS),
    (LEAD, "watch.sight.votes(k, at) < 0:", "watch.sight.votes(k, at) < -1:", LED),
    (LEAD, "share < _STANDS else -1", "share < -9.0 else -1", LED),
    (LEAD, "at -= self._since[k]", "at -= 0", LED),
    (HEAT + "regulate.py", "self._rested_ms >= self.spacing_ms and ", "", "tests/test_heat_regulate.py"),
    (HEAT + "guards.py", "if heat_w >= self._warm_w:", "if True:", "tests/test_heat_guards.py"),
    (HEAT + "guards.py", "abs(self._open_ms - self._gone_ms) <= _TOGETHER_MS", "True",
     "tests/test_heat_guards.py"),
    (CORE + "unasked.py", "                    not self.lowered):", "                    True):", HOLDING),
    (HEAT + "dial.py", "value if value >= self.least else 0", "value", PARTS),
    (HEAT + "table.py", "if mark != fingerprint:", "if False:", "tests/test_heat_dialled.py"),
    (HEAT + "trail.py", "min(fine, self.profile[k - 1])", "fine", "tests/test_heat_aims.py"),
    (HEAT + "aims.py", " - (_CHANGE if i == self._used else 0)", "", "tests/test_heat_aims.py"),
    (CORE + "wishes.py", "self.ask_leave()\n                self._left_by_dial", "self._left_by_dial",
     "tests/test_heat_dialled.py"),
    (CORE + "park.py", "return self.bright and self._is_worth", "return self._is_worth", PARK),
    (CORE + "park.py", "since = -math.pi  # tomorrow's sun", "pass", PARK),
    (CORE + "unasked.py", "if self._quiet_ms > 0 or self.armed_ms > 0", "if self.armed_ms > 0", PARKED),
    (CORE + "unasked.py", "or self.locks.latch > 1", "or False", PARKED),
    (OPTICS + "flux.py", "grid.cell**2 / 2.0", "grid.cell**2 / 4.0", "tests/test_optics_flux.py"),
    (OPTICS + "flux.py", "(middle, high) if loose(middle)", "(middle, high) if not loose(middle)",
     "tests/test_optics_flux.py"),
    (OPTICS + "plate.py", "np.where(crosses, radius, np.inf)", "np.where(crosses, radius, 0.0)",
     "tests/test_optics_plate.py"),
    (OPTICS + "standoff.py", "return BURN_KNEE_RAD / retina", "return 2.0 * BURN_KNEE_RAD / retina",
     "tests/test_optics_standoff.py"),
    (OPTICS + "walk_off.py", "return int(rows[-1]) + 1", "return int(rows[0]) + 1",
     "tests/test_optics_walk_off.py"),
    ("host/sunhob/check_light.py", "if told >= clear.pot_clear_deg - SLACK_DEG:", "if True:",
     "tests/test_check_light.py"),
    ("host/sunhob/cooker_rules.py", "if plate < pot + 2.0 * image:", "if False:", "tests/test_cli_frame.py"),
    (CORE + "at_the_dish.py", "if self.hand_ms <= 0:", "if False:", DAILY),
    (CORE + "conditions.py", "if 0 < s.interlock_north_old_h <= self.north_age_h:", "if False:", DAILY),
    (CORE + "haze.py", "self._set(self.cut_short + 1)", "self._set(0)", DAILY),
    ("firmware/sunhob_board/mount/axis.py", "not self.approach or self._onward >= self._slack", "True",
     DAILY),
    (PLANNER, "not self._over and self._over_pot()", "False", PLANNED),
    (PLANNER, "elif self._growing and self._beside_pole():", "elif False:", PLANNED),
    (PLANNER, "_OVER if self._keeps and apart < self._pot else _BORNE", "_BORNE", PLANNED),
    ("firmware/sunhob_board/mount/homing.py", "within or (near and _FAR_UDEG)", "within",
     "tests/test_mount_axis.py"),
    (LEAD, "told and (self._sure or c.cond.doubt == BY_ENCODER)", "told and c.cond.doubt == BY_ENCODER", LED),
    (CORE + "conditions.py", "if c.mode == modes.LEAVING and not c.mount.moving:", "if False:",
     "tests/test_condition_rows.py"),
)


def survives(row: tuple[str, str, str, str]) -> str | None:
    """The reason a planted bug got through, or None if the tests caught it."""
    name, old, new, tests = row
    with tempfile.TemporaryDirectory() as tmp:
        tree = Path(tmp) / "tree"
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".*", "out", "__pycache__"))
        source = (tree / name).read_text()
        if source.count(old) < 1:
            return "the text to change is not there any more: mend this list"
        (tree / name).write_text(source.replace(old, new))
        path = os.pathsep.join(str(tree / part) for part in ("host", "sim", "firmware"))
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", tests],
            cwd=tree, env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True, check=False,
        )
        return None if done.returncode == 1 else f"the tests ended with status {done.returncode}"


def main() -> int:
    console = Console()
    lived = 0
    for row in track(MUTANTS, "planted bugs", console=console):
        why = survives(row)
        lived += why is not None
        console.print(f"{'SURVIVED' if why else 'caught  '}  {row[0]}: {row[2].strip() or 'line removed'}"
                      + (f" ({why})" if why else ""))
    console.print(f"{len(MUTANTS) - lived} of {len(MUTANTS)} planted bugs caught")
    return int(lived > 0)


if __name__ == "__main__":
    sys.exit(main())
