"""The words on the cook's small display: two rows of sixteen letters for each mode and interlock.

No units. They are kept short by hand, since the sentences of `declared/interlocks.py` do not fit; a test
holds both lists to the same names. The file is records of 32 letters: a head that tells which tables it was
made for, the modes, the interlocks, and last that the cook sent the dish off the sun.
"""

from __future__ import annotations

import textwrap

from sunhob_board.core.page import words_head
from sunhob_board.declared import interlocks, modes

NAME = "words.txt"
WIDE = 16

MODES = {
    "PARKED": "Parked",
    "COMING": "Coming to sun",
    "COOKING": "Cooking",
    "ASIDE": "Aside for hands",
    "LEAVING": "Leaving the sun",
    "BY_HAND": "Moved by hand",
    "LOCKED": "LOCKED: look!",
    "RESTING": "Off heat: warm",
}
INTERLOCKS = {
    "stop_chain": "Stop chain open: press LEAVE",
    "settings": "Settings bad: install again",
    "clock_unset": "Clock not set: set the time",
    "clock_jumped": "Clock jumped: set the time",
    "table_missing": "No sun table: install it",
    "table_corrupt": "Sun table bad: install it",
    "table_expired": "Sun table ended: new one",
    "table_ageing": "Sun table ends soon",
    "place_unknown": "Lost its place: press LEAVE",
    "axis_limit": "End of travel: press ARM",
    "light_low": "Cloud too long: box the food",
    "sun_low": "Sun too low: done for today",
    "attendance": "Nobody there: press CONFIRM",
    "loop_late": "Controller slow: report it",
    "restarted": "Was switched on: leaves the sun",
    "park_bright": "COVER THE DISH: keep clear",
    "north_old": "Set north again today",
    "pot_absent": "No pot: put it on its stand",
    "pot_missing": "Pot was gone: put it back",
    "pot_lifted": "Pot lifted: back, then ASIDE",
    "pot_hot": "Pot too hot: let it cool",
    "scorch": "It burns: STIR now",
    "scorch_stays": "It burned: stir, add water",
    "dry_pot": "Pot boiled dry: let it cool",
    "probe_contents": "Food probe bad: see its plug",
    "probe_underside": "Under-pot probe bad: see plug",
    "probe_stuck": "Probe stuck: see its plug",
    "light_sensor": "Light sensor silent: wires",
    "way_closed": "Wait for higher sun",
    "heat_table": "Heat table bad: install it",
    "code_bad": "Program damaged: install again",
    "code_unlisted": "Program goes unchecked",
    "copy_bad": "Table changed: install again",
    "memory_bad": "Memory failed: off and on",
    "memory_low": "Memory short: off and on",
    "clock_rate": "Clocks differ: set the time",
    "output_stuck": "Lamp or motor line stuck: off",
    "watchdog": "Watchdog dead: off and on",
    "reference": "Light reading bad: wires",
    "drive_fault": "Drive stuck: COVER the dish",
    "place_doubt": "Stands wrong: COVER, look",
    "wind": "Wind: tie it down, cover",
    "wind_sensor": "Wind sensor silent: wires",
    "base_moved": "Base moved: set north again",
    "base_sensor": "Base sensor silent: wires",
    "supply_low": "Battery low: charge it",
    "board_hot": "Box too hot: shade it",
    "brown_outs": "Power fails: charge battery",
    "sun_disagrees": "Sun elsewhere: clock, north",
    "sun_unseen": "Sun not yet seen today",
    "sun_sensor": "Sun sensor silent: wires",
    "drive_stalled": "An axis stalled: COVER dish",
    "drive_backwards": "An axis runs backwards: wires",
    "drive_runaway": "An axis ran by itself: COVER",
    "position_off": "An axis is off: see coupling",
    "position_sensor": "Encoder silent: wires",
    "light_short": "Light sensor too bright: wires",
    "light_stuck": "Light sensor stuck: wires",
    "open_cell": "Open cell dark: clean it",
    "knob_noisy": "Heat knob jumps: see its wires",
    "button_stuck": "A button is stuck: free it",
    "season_due": "Season wants setting",
    "season_off": "Season is off: set the screw",
}
SENT = "You sent it off the sun"


def record(words: str) -> bytes:
    """Two rows of sixteen; ValueError where the words do not fit."""
    lines = textwrap.wrap(words, WIDE)
    if len(lines) > 2 or max(map(len, lines)) > WIDE:
        raise ValueError(f"'{words}' does not fit two rows of {WIDE} letters")
    return "".join(line.ljust(WIDE) for line in (*lines, "")[:2]).encode("ascii")


def words_file() -> bytes:
    """The file as the board reads it."""
    told = [MODES[name] for name in modes.NAMES] + [INTERLOCKS[row[0]] for row in interlocks.ROWS] + [SENT]
    return words_head().ljust(2 * WIDE).encode("ascii") + b"".join(map(record, told))
