"""The page on how well each kind of mount points, from figures kept in `mounts.json`. Units: deg, m/s, h."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sunhob.errors import UserError

NAME = "mounts.json"
MADE_BY = "python -m sunhob_sim.mount_days hardware_notes/mounts.json"

HEAD = """# How well each mount points

This page is made by `make notes` from figures kept in `mounts.json`.
`{made_by}` measures them anew. Do not edit it.

> **Caution: this can blind and burn**, whichever the mount. No dish was built by the authors: these figures
> are of a bench of software, where the mount is stiff and its play, its pulses and its base are what the
> settings say. Yours will point worse. Watch the ring of light on the pot, from behind, with dark glasses.

The angle between where the dish looks and where it was to look, in degrees: in 95 of 100 seconds of cooking
it is smaller. *Calm*: no wind. *Windy*: {wind:g} m/s with gusts of {gusts:g} m/s; the dish floats in the play
of its gears. The limit is for calm air.

| mount | limit | cook's day, calm | windy | own day, calm | windy | worst second, calm / windy | hazards |
|---|---|---|---|---|---|---|---|
"""

TAIL = """
- *Cook's day*: the deeds of `sunhob demo`: a stew for noon and one for the evening, a knob turned down,
  stirring, a pot held by its temperature, two clouds; {hours:g} hours of them with the dish on the sun.
  On (a) the base stood {north:g} degrees off north and the clock was not set. The cook mended both, by the
  shadow sight and the telephone, and what that left is in the figure. The others stood true.
{late}- *Own day*: `sunhob bench run` of {own}; for (a) it is the same day.
- *With the season set by hand* the drive answers for the hour angle alone: that stands in the table. With the
  season's error of that day, of a screw set for several days, it is {whole:.2f} degrees on the cook's day.
  That costs heat when dialled down; it is why the band of days in `sunhob check` is narrow.
- What the figures need: [balance and little play](mechanics.md), a home mark that repeats, and of an actuator
  the fine end of its [triangle](actuator.svg) where the sun is followed.
"""


def load(folder: Path) -> dict[str, Any]:
    """The figures kept; UserError where there are none."""
    try:
        kept: dict[str, Any] = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        raise UserError(f"{folder / NAME}: holds no figures; make them: {MADE_BY}") from None
    return kept


def mounts_page(kept: dict[str, Any]) -> str:
    """The whole page."""
    rows = kept["mounts"]
    head = HEAD.format(made_by=kept["made_by"], wind=kept["windy_m_s"], gusts=kept["gusts_m_s"])
    by_hand = next(row for row in rows if row["by_hand"])
    late = "".join(
        f"- The travel of ({row['letter']}) reaches neither the early nor the evening sun: the noon meal "
        f"alone,\n  {row['later_min']} minutes later, "
        f"{row['cooks_day']['calm']['hours']:g} hours on the sun.\n"
        for row in rows if not row["whole_day"])
    tail = TAIL.format(
        hours=rows[0]["cooks_day"]["calm"]["hours"], north=rows[0]["north_deg"], late=late,
        own=", ".join(f"`{row['scenario']}`" for row in rows),
        whole=by_hand["cooks_day"]["calm"]["p95_deg"])
    return head + "\n".join(map(_row, rows)) + "\n" + tail


def _row(row: dict[str, Any]) -> str:
    part = "hour_p95_deg" if row["by_hand"] else "p95_deg"
    days = [row[day][air] for day in ("cooks_day", "own_day") for air in ("calm", "windy")]
    worst = " / ".join(f"{max(one['max_deg'] for one in pair):.2f}" for pair in (days[::2], days[1::2]))
    cells = [f"**({row['letter']})** {row['words']}", f"{row['goal_deg']:g}",
             *(f"{one[part]:.3f}" for one in days), worst, str(sum(one["hazards"] for one in days))]
    return f"| {' | '.join(cells)} |"
