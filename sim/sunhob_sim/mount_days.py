"""The pointing of the four kinds of mount over whole days, in calm air and in wind. Units: degrees, s, min.

`python -m sunhob_sim.mount_days hardware_notes/mounts.json` measures anew what the notes tell; minutes.
Each mount goes through a day of its own scenario, and through the deeds of the demo's cook at the demo's
place. Off the demo's own mount those deeds are done on a base that stands true with a clock that is right.
"""

import json
import math
import sys
import zlib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from sunhob.run_result import RunResult

from . import scenario as scenarios
from .bench import run_scenario
from .scenario import Scenario
from .scenario_parts import Action, Base

COMMAND = "python -m sunhob_sim.mount_days hardware_notes/mounts.json"
COOK = "demo"
AIRS = {"calm": (0.0, 0.0), "windy": (4.0, 8.0)}  # mean and gusts [m/s]


@dataclass(frozen=True)
class Mount:
    """letter: as the notes name it; goal_deg: greatest p95 in calm air, of the hour angle alone where a hand
    sets the season; later_min: by how much the cook's deeds are put off; until: the last of them, UTC."""

    letter: str
    name: str
    words: str
    goal_deg: float
    later_min: int = 0
    until: str = "23:59"
    season_deg: float | None = None


MOUNTS = (
    Mount("a", COOK, "alt-azimuth, two step motors", 0.05),
    Mount("b", "polar_seasonal",
          "polar, a DC gear motor for the hours and an actuator for the season", 0.1),
    # its travel takes in the sun from 03:20 to 10:30 UTC: the noon meal alone, and that later
    Mount("c", "two_actuators", "polar, two linear actuators with pulses of 1 mm", 0.2, 70, "07:40"),
    Mount("d", "season_by_hand", "polar, one step motor for the hours, the season set by hand", 0.1,
          season_deg=-3.1),
)


def own_day(mount: Mount) -> Scenario:
    """The mount's shipped day."""
    return scenarios.load(mount.name)


def cooks_day(mount: Mount) -> Scenario:
    """The demo's place, sky, pot and deeds on this mount; the demo itself on its own."""
    demo, own = scenarios.load(COOK), own_day(mount)
    if mount.name == COOK:
        return demo
    deeds = [_later(one, mount.later_min) for one in demo.action
             if one.do not in ("clock", "north") and one.at <= mount.until]
    if mount.season_deg is not None:
        arm = next(i for i, one in enumerate(deeds) if one.do == "arm")
        deeds.insert(arm, Action(at="02:59", do="uncover"))
        deeds[:0] = [Action(at="02:30", do="cover"),
                     Action(at="02:31", do="season", value=mount.season_deg)]
    return demo.model_copy(update={
        "name": mount.name, "action": tuple(deeds), "base": Base(), "hand_every_min": None,
        "settings": {**own.settings, "site": demo.settings["site"], "cook": demo.settings["cook"]}})


def in_air(day: Scenario, air: str) -> RunResult:
    """The day on the bench, its air calm or windy."""
    wind, gust = AIRS[air]
    there = day.air.model_copy(update={"wind_m_s": wind, "gust_m_s": gust})
    return run_scenario(day.model_copy(update={"air": there}), "cpython", None)


def fingerprint() -> int:
    """Of the scenarios and of what is done with them: figures of others are stale."""
    folder = resources.files(__package__) / "scenarios"
    text = "".join((folder / f"{one.name}.toml").read_text("utf-8") for one in MOUNTS)
    return zlib.crc32((text + repr(MOUNTS) + repr(AIRS)).encode())


def measure() -> dict[str, Any]:
    """Every mount's two days in both airs."""
    rows = []
    for mount in MOUNTS:
        days = {"cooks_day": cooks_day(mount), "own_day": own_day(mount)}
        figures = {which: {air: _figures(in_air(day, air)) for air in AIRS} for which, day in days.items()}
        rows.append({"letter": mount.letter, "scenario": mount.name, "words": mount.words,
                     "goal_deg": mount.goal_deg, "by_hand": mount.season_deg is not None,
                     "north_deg": days["cooks_day"].base.north_deg, "later_min": mount.later_min,
                     "whole_day": mount.until == "23:59", **figures})
        print(f"({mount.letter}) {figures}", file=sys.stderr)
    return {"made_by": COMMAND, "fingerprint": fingerprint(),
            "windy_m_s": AIRS["windy"][0], "gusts_m_s": AIRS["windy"][1], "mounts": rows}


def _later(deed: Action, minutes: int) -> Action:
    hour, minute = (int(one) for one in deed.at.split(":"))
    total = hour * 60 + minute + minutes
    return deed.model_copy(update={"at": f"{total // 60:02d}:{total % 60:02d}"})


def _figures(got: RunResult) -> dict[str, Any]:
    named = {name: got.tracking[name] for name in ("p95_deg", "hour_p95_deg", "max_deg")}
    if any(math.isnan(one) for one in named.values()):
        raise ValueError(f"{got.scenario}: it never followed the sun")
    return {**{name: round(value, 3) for name, value in named.items()},
            "hours": round(got.tracking["seconds"] / 3600.0, 1), "hazards": len(got.hazards)}


def main(arguments: list[str]) -> int:
    """Write the figures to the file named."""
    if len(arguments) != 1 or not Path(arguments[0]).parent.is_dir():
        print("mount_days: give the file to write, such as hardware_notes/mounts.json", file=sys.stderr)
        return 2
    Path(arguments[0]).write_text(json.dumps(measure(), indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
