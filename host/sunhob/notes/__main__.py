"""`python -m sunhob.notes FOLDER`: writes the generated pages and drawings. No units."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from rich.console import Console
from rich.progress import Progress

from sunhob.errors import SunhobError, UserError
from sunhob.settings import load_cooker

from . import figures
from .boards import boards
from .draw_actuator import triangle
from .draw_light import light
from .draw_mount import mount
from .draw_park import park
from .draw_polar import polar_mount
from .draw_sensors import sensors
from .draw_wiring import wiring
from .faults import faults_page
from .interlocks_page import interlocks_page
from .light import light_page
from .mounts_page import load as mounts_of
from .mounts_page import mounts_page
from .parts import parts_page
from .safety_page import load as runs_of
from .safety_page import safety_page
from .wiring import wiring_page


def pages(folder: Path) -> dict[str, str]:
    """Every generated file by name, from firmware, declarations and the figures kept in the folder."""
    cooker = load_cooker()
    kept = figures.load(folder, cooker)
    return {
        "wiring.md": wiring_page(),
        "parts.md": parts_page(cooker, kept),
        "fault_finding.md": faults_page(),
        "interlocks.md": interlocks_page(),
        "safety.md": safety_page(runs_of(folder)),
        "light.md": light_page(cooker, kept),
        "mounts.md": mounts_page(mounts_of(folder)),
        "mount.svg": mount(cooker),
        "light.svg": light(cooker, kept),
        "park.svg": park(cooker),
        "polar.svg": polar_mount(cooker),
        "actuator.svg": triangle(cooker),
        "sensors.svg": sensors(cooker),
        **{f"wiring_{one.name}.svg": wiring(one) for one in boards()},
    }


def _kept(folder: Path) -> None:
    """Trace the figures anew where those kept are of another dish."""
    cooker = load_cooker()
    try:
        figures.load(folder, cooker)
        return
    except UserError:
        pass
    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("tracing the light", total=None)
        found = figures.trace(cooker, lambda done, total: bar.update(task, completed=done, total=total))
    (folder / figures.NAME).write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


def main(arguments: list[str]) -> int:
    """Write the files; returns the exit status."""
    if len(arguments) != 1 or not Path(arguments[0]).is_dir():
        print("notes: give the folder to write to, such as hardware_notes", file=sys.stderr)
        return 2
    folder = Path(arguments[0])
    try:
        _kept(folder)
        for name, words in pages(folder).items():
            (folder / name).write_text(words, encoding="utf-8")
    except SunhobError as error:
        print(f"notes: {error}", file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
