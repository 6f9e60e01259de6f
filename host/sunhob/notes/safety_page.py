"""The hazard analysis as a page: what each fault does, how it is noticed, how long until the light is off.

Times are seconds, measured on the bench by a campaign and kept in `safety_runs.json`; nothing here is from a
dish. No other units.
"""

from __future__ import annotations

import json
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from sunhob_board.declared import interlocks

from sunhob.errors import UserError

NAME = "safety_runs.json"

HEAD = """# Safety: what can fail, and what is left

This page is made by `make notes` from the table of interlocks, the fault library of the bench and the
measured times of a campaign. Do not edit it.

> **Caution: this can blind and burn.** Wear dark glasses made for bright sun. Stand behind the dish. Cover
> the mirror before you put a hand to anything. Nobody attends it: it must be off the sun, and covered.

**This is no certificate.** Nobody has certified sunhob for safety. No dish was built by the authors; every
figure below is of a bench of software, with an invented dish, places and cooks. The codes of your place,
and people licensed for electrical work, fire safety and kitchens, come before anything written here."""

CANNOT = """
## What software cannot do

Each of these must be there in wood and metal. Software stands on them; it does not replace them.

- **The stop chain is for pinch only.** It cuts motor power (category 0) and nothing else: the light stays
  where it is. Open it for a caught hand; for too much heat press LEAVE. A chain opened on the sun leaves a
  hot dish that stands still until a person turns or covers it.
- **A hardware watchdog output that can drive one axis.** If the controller hangs for good, its own watchdog
  starts it anew; if it is dead, nothing drives. A separate timer relay, fed by the heartbeat of the
  controller, that drives the hour axis back to its stop from its own supply, takes the light off the pot
  with no software at all. It must lie behind the stop chain, and it must run the axis away from where the
  sun is going (west to east). This part is not in the wiring pages: have it made by somebody who knows, and
  try it under the cover.
- **Hand release from behind each axis.** With the drive dead a person must get the dish off the sun from
  its dark side: a clutch or pin on each axis, reached without crossing the beam, that works in gloves. Try
  it at every start of the season.
- **The cover.** The only thing that makes a dish in the sun harmless. It must go on from behind, hold in
  wind, and hang at the dish, not in the shed.
- **Mechanical stops.** At both ends of each axis, firm enough for the motor's full force: switches and
  counts can lie. An axis that runs away must end against steel and not in its wires.
- **The guard plate** about the pot, sized by `sunhob optics`, of steel or stone: it takes the light that
  misses the pot while the heat is turned down.
- **Fire-safe surroundings.** Bare ground, sand or stone, no dry grass, cloth, wood, gas or plastic within
  the reach that [loose light](light.md) gives, on every side the light can sweep; a bucket of sand or
  water; nobody and nothing in the way of the sun's path for the rest of the day, for a dead dish lets the
  light walk.
- **A second witness of each axis.** A count is only what a motor was asked for. Of 134 drives at fault
  without an encoder at each axis 8 ended in loose light, ahead of the sun or against a stop on the bench;
  with them (`sensor.axis1_encoder`, `sensor.axis2_tilt`) 2 of 182, on days that nothing was tuned on.
- **Gears that hold by themselves**, for a parked dish has no motor power.
- **A person.** Attendance is asked for each hour because no sensor sees a child, a goat or a towel."""

TABLE = """
## Faults, one by one

Each line is one kind of fault, begun at a random moment of random days, places, skies and cooks. *Noticed*:
what the board told first, and in how many runs (of how many). *Worst seconds*: from the fault to the first
sign; from the leave that followed until the pot was out of the light; until no light was loose; and the
longest stay in loose light, noticed or not. Runs in which no drive could move (stranded), or not the
axis that was left, or a drive that loses steps left no faster than it can (cannot leave), are not in the
times: there the board can only sound its alarm and tell when the light ends. "-": it did not come to that.
A stay in loose light ends with the run (72 minutes) too.
What the reactions do in full is in [interlocks](interlocks.md)."""
_HEADS = ("fault", "what fails", "what it may do to the light", "noticed by", "reaction", "noticed s",
          "pot clear s", "light clear s", "loose s", "hazards", "what is left")

# pattern of fault names: what the light may do of it; the first that fits
EFFECTS = (
    ("axis?_slips", "The dish points beside the sun; light passes the pot."),
    ("axis?_runs_away", "The dish leaves its aim; light sweeps the surroundings."),
    ("axis?_*", "The dish no longer follows; light walks off the pot, or the leave is slow or goes astray."),
    ("base_tilt_*", "A base that leans is not told, or one that does not."),
    ("base_*", "The dish points beside the sun although every count is right."),
    ("gust", "The dish is blown about in its play, or drives are overcome."),
    ("clock_*", "The dish points where the sun is not."),
    ("table_*", "Where the sun is cannot be known well."),
    ("settings_*", "The controller knows neither place nor drives: nothing may move."),
    ("journal_*", "None by itself; the board restarts."),
    ("code_rots", "Anything, once the bad code is run."),
    ("memory_stuck", "Anything, once the bad memory is used."),
    ("motor_power_low", "No drive turns: the light stays, and walks off as the sun goes on."),
    ("motor_power_high", "Power cannot be taken from the drives."),
    ("buzzer_*", "Motion or alarm without a sound."),
    ("lamp_*", "An alarm that is not seen, or one that means nothing."),
    ("flash_*", "None by itself; the loop may stall, saves may fail."),
    ("beam_*", "The light in the tube is told wrong."),
    ("open_cell_*", "The brightness of the sky is told wrong."),
    ("reference_off", "All light is told too bright or too dark."),
    ("knob_*", "Heat is asked that nobody asked for."),
    ("contents_*", "The pot's temperature is told wrong: too much heat."),
    ("underside_*", "A burning or dry pot may not be seen: too much heat."),
    ("home?_*", "The search for home goes wrong; counts may be wrong."),
    ("arm_*", "A return nobody asked for, or none when asked."),
    ("leave_*", "A leave nobody asked for, or none at the press: use the other keys, or the cover."),
    ("aside_*", "A turn aside nobody asked for, or none at the press."),
    ("confirm_*", "Attendance is counted wrong."),
    ("pot_*", "Light passes where the pot should be."),
    ("chain_*", "Motor power off unasked, or a chain that is not seen to be open."),
    ("restart", "The dish stands on the sun while it starts."),
    ("loop_*", "The aim is late; a leave takes longer."),
    ("power_cut", "Nothing turns or sounds: the light stays, and walks off."),
    ("brown_outs", "The board starts again and again."),
    ("sun_*", "The sun is seen where it is not: a leave unasked, or one that goes by a wrong measure."),
    ("light_mute", "The brightness of sun and sky is not told."),
    ("encoder_*", "Axis 1 is taken to stand where it does not."),
    ("dish_tilt_*", "Axis 2 is taken to stand where it does not."),
    ("wind_*", "Gusts are not told, or told where there are none."),
    ("supply_*", "Too little is left for a leave and nobody knows, or a leave nobody asked for."),
    ("bus_stuck", "Clock, light and every further sensor are silent at once."),
    ("expander_mute", "No key of the panel but LEAVE, no pot switch, no flag is seen; no lamp is lit."),
    ("pulses?_*", "The drive turns and its count does not: the dish points beside the sun."),
    ("link_*", "None must follow: whatever comes over the line."),
)

# event of the log: the interlock that acts on it
_ROW_OF = {"boot": "restarted", "doubt": "place_doubt", "dead_axis": "place_doubt"}

TAIL = """
## How these figures were made

{episodes} episodes of one fault each, seeds {seeds}; {single} of them with the firmware's floats rounded to
a board's single ones. {hazards} had a hazard, {undetected} of these unnoticed by the board, {stranded} were
stranded, in {cannot_leave} one axis alone, or a weak drive, could not leave sooner. With so many the rate is
at most {limit:.2%} an episode of this campaign (95 %, Clopper-Pearson); it says nothing of how often such
faults happen, nor about faults that are not in the list. Repeat it: `sunhob bench campaign`; one episode:
`sunhob bench episode SEED --fault NAME`."""


def load(folder: Path) -> dict[str, Any]:
    """The measured figures kept in a folder; UserError where there are none."""
    path = folder / NAME
    if not path.exists():
        raise UserError(f"{path}: is missing; sunhob bench campaign --measured {path} writes it")
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found


def effect_of(fault: str) -> str:
    """What a fault may do to the light; UserError for one that nobody described."""
    for pattern, words in EFFECTS:
        if fnmatchcase(fault, pattern):
            return words
    raise UserError(f"fault {fault}: describe it in EFFECTS of host/sunhob/notes/safety_page.py")


def safety_page(runs: dict[str, Any]) -> str:
    """The whole page."""
    rows = "".join(_line(name, row) for name, row in runs["faults"].items())
    tail = TAIL.format(**{**runs, "single": runs["engines"].get("single", 0),
                          "limit": runs["hazard_rate_upper_95"]})
    heads = f"| {' | '.join(_HEADS)} |\n{'|---' * len(_HEADS)}|\n"
    return "\n".join((HEAD, CANNOT, TABLE, "", heads + rows + tail)) + "\n"


def _line(name: str, row: dict[str, Any]) -> str:
    signs = ", ".join(f"`{sign}` {count}" for sign, count in list(row["signs"].items())[:3])
    noticed = f"{signs} (of {row['runs']})" if signs else f"nothing told (of {row['runs']})"
    times = " | ".join("-" if row[key] is None else f"{row[key]:.0f}" for key in (
        "worst_seconds_to_notice", "worst_seconds_to_pot_clear", "worst_seconds_to_light_clear",
        "worst_seconds_to_safe"))  # fmt: skip
    cells = (f"`{name}`", row["words"], effect_of(name), noticed, _reaction(row["signs"]), times,
             _hazards(row), _left(row))
    return "| " + " | ".join(cells) + " |\n"


def _reaction(signs: dict[str, int]) -> str:
    """What the first interlocks told do, in the words of their table."""
    names = [_ROW_OF.get(sign, sign) for sign in signs]
    words = [interlocks.ROWS[interlocks.INDEX[name]][6] for name in names if name in interlocks.INDEX]
    return " / ".join(dict.fromkeys(words[:2])) or "None needed, or none taken."


def _hazards(row: dict[str, Any]) -> str:
    if not row["hazards"]:
        return "0"
    return f"{row['hazards']} ({row['undetected']} unnoticed)" if row["undetected"] else str(row["hazards"])


def _left(row: dict[str, Any]) -> str:
    stranded = "Stranded at times: cover and hand release. " if row["stranded"] else ""
    if row["cannot_leave"]:
        stranded += (f"In {row['cannot_leave']} what still turned could not leave, or no sooner: cover and "
                     "hand release. ")
    if row["reasons"]:
        return stranded + " ".join(row["reasons"])
    return stranded + ("**Not explained yet.**" if row["hazards"] else "None found in these runs.")
