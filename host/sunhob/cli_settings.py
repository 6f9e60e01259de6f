"""`sunhob new` and `sunhob check`: write a commented cooker file, judge one.

Units of all values are at the end of their names.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
import typer
from rich.console import Console
from rich.progress import Progress

from .cooker_writer import cooker_text, write_new
from .errors import Judged, UserError
from .leave_times import LeaveTimes, SunHour, leave_times, sample_days
from .leave_words import hour_keys, one_axis, told_alone, when
from .settings import Cooker, board_bytes, load_cooker

if TYPE_CHECKING:
    from .check_light import LightJudged

POT_CLEAR_AIM_S = 20.0  # a leave has the pot out of the light by then, at the worst hour of the year
PARKED_AIM_S = 90.0  # and stands at park by then


def new_command(
    file: Annotated[Path, typer.Argument(help="File to write, such as cooker.toml.")],
    force: Annotated[bool, typer.Option("--force", help="Overwrite the file if it is there.")] = False,
) -> None:
    """Write a cooker file with every value commented: its unit, its range and what it is for."""
    write_new(file, cooker_text(name=file.name), force)
    typer.echo(f"Wrote {file}: an invented cooker. Put in your own values, then: sunhob check {file}")


def check_command(
    file: Annotated[
        Path | None,
        typer.Argument(help="Cooker file; without it the built-in invented cooker.", show_default=False),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Judge a cooker file: all its mistakes at once (exit 2), or what it falls short in (exit 1)."""
    try:
        cooker = load_cooker(file)
    except UserError as error:
        if as_json:
            typer.echo(json.dumps({"good": False, "mistakes": str(error).splitlines()}, ensure_ascii=False))
        raise
    from .check_light import judge_light  # slow to load, and only wanted here

    light = judge_light(cooker)
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        row = bar.add_task("leaves of a year", total=len(sample_days()))
        result = judge(cooker, light, lambda: bar.advance(row))
    if as_json:
        typer.echo(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        _show(result)
    if result["falls_short"]:
        raise Judged(f"{cooker.label}: falls short: " + " ".join(result["falls_short"]))


def judge(cooker: Cooker, light: LightJudged, advance: Callable[[], None]) -> dict[str, Any]:
    """What `check` says of a cooker whose values are all in range; units in the keys."""
    from .park_year import park_year, park_year_summary  # it loads pvlib, which takes its time

    half_deg, at_clear = _heat_off_the_sun(cooker)
    leave = leave_times(cooker, advance)
    short = list(light.falls_short)
    short += [f"no way off the sun {when(at)}: widen the travel." for at in leave.no_way]
    rest = park_year(cooker)
    if rest.by_hand and leave.one_axis[0].pot_hours:
        hours = leave.one_axis[0].pot_hours
        short.append(f"the hour axis alone cannot clear the pot in {hours:.0f} h of sun a year: widen the "
                     "travel of axis1 to the east, or raise interlock.sun_low_deg.")
    short += [
        f"no way from the pole to the {place}, where it would rest in summer: widen the travel of axis1."
        for place in rest.no_way
    ]
    return {
        "cooker": cooker.label,
        "invented": cooker.invented,
        "good": not short,
        "falls_short": short,
        "left_out": [] if cooker.invented else cooker.left_out,
        "notes": _notes(cooker, leave) + light.notes,
        "half_heat_lag_deg": half_deg,
        "heat_at_pot_clear_percent": at_clear,
        "traced": {
            "pot_clear_deg": light.clear.pot_clear_deg,
            "loose_clear_deg": light.clear.loose_clear_deg,
            "guarded_radius_m": light.clear.guarded_m,
            "guard_plate_m": light.plate_m if math.isfinite(light.plate_m) else None,
        },
        "worst_pot_clear": _worst(leave.pot_clear_s, leave.pot_clear_at),
        "worst_parked": _worst(leave.parked_s, leave.parked_at),
        "sun_hours_a_year": round(leave.sun_hours),
        "one_axis": [one_axis(alone) for alone in leave.one_axis],
        "park": park_year_summary(rest),
        "board_file_bytes": len(board_bytes(cooker)),
        "settings": cooker.as_dict(),
    }


def _heat_off_the_sun(cooker: Cooker) -> tuple[list[float], float]:
    """Least and greatest lag [deg] at which the heat falls to half, over attitudes of the dish; and the most
    heat [percent of full] that the pot gets at dish.pot_clear_deg."""
    from .optics.geometry import optics_of
    from .optics.intercept import cached_intercept

    found = cached_intercept(optics_of(cooker))
    curves = np.minimum.accumulate(found.absorbed / found.absorbed[:1], axis=0)
    curves = curves.reshape(len(found.lag_deg), -1).T
    half = [float(np.interp(-0.5, -curve, found.lag_deg)) for curve in curves]
    clear = [float(np.interp(cooker.dish.pot_clear_deg, found.lag_deg, curve)) for curve in curves]
    return [round(min(half), 1), round(max(half), 1)], round(100.0 * max(clear), 1)


def _notes(cooker: Cooker, leave: LeaveTimes) -> list[str]:
    notes = []
    if leave.out_of_reach:
        notes.append(
            f"In {leave.out_of_reach} of {leave.hours} hours tried the sun is beyond the travel."
        )
    if leave.pot_clear_s > POT_CLEAR_AIM_S:
        notes.append(
            f"At the worst hour the pot is clear after {leave.pot_clear_s:.0f} s, more than the "
            f"{POT_CLEAR_AIM_S:g} s aimed at; more speed of axis 1, or "
            "its travel cut where the sun does not cross at noon, shortens it."
        )
    if leave.parked_s > PARKED_AIM_S:
        notes.append(
            f"At the worst hour it is parked after {leave.parked_s:.0f} s, "
            f"more than the {PARKED_AIM_S:g} s aimed at."
        )
    if cooker.mount.kind == "altaz" and cooker.axis1.high_deg - cooker.axis1.low_deg < 360.0:
        notes.append("axis1 turns less than a whole turn: what it reaches hangs on how the base stands.")
    follows = 1 if cooker.site.latitude_deg >= 0.0 else -1  # the way a polar axis 1 turns after the sun
    if cooker.mount.kind == "polar" and cooker.axis1.approach == -follows and cooker.axis1.backlash_deg:
        notes.append(
            f"axis1.approach = {-follows} is against the way it follows the sun here: each step turns it "
            f"past its aim by its play, and back; {follows} takes up the play by following."
        )
    if cooker.cook.return_after_cloud:
        notes.append("cook.return_after_cloud is on: the dish may move to the sun by itself while armed.")
    return notes


def _worst(seconds: float, at: SunHour) -> dict[str, Any]:
    return {"seconds": seconds, **hour_keys(at)}


def _show(result: dict[str, Any]) -> None:
    typer.echo(f"{result['cooker']}: every value is in range.")
    typer.echo(f"The board's settings file has {result['board_file_bytes']} bytes.")
    low, high = result["half_heat_lag_deg"]
    typer.echo(f"Heat falls to half {low:g} to {high:g} deg off the sun, by where sun and dish stand.")
    for words, key in (("pot clear of the light", "worst_pot_clear"), ("at park", "worst_parked")):
        worst = result[key]
        typer.echo(
            f"Leaving at the worst hour: {words} after {worst['seconds']:.1f} s ({worst['date']}, "
            f"{worst['solar_time']} by the sun, declination {worst['sun_declination_deg']:g} deg, "
            f"hour angle {worst['sun_hour_angle_deg']:g} deg)."
        )
    for alone in result["one_axis"]:
        typer.echo(told_alone(alone, result["sun_hours_a_year"]))
    for season in result["park"]["seasons"]:
        typer.echo(season["told"])
    changes = result["park"]["season_by_hand"]
    if changes:
        typer.echo(f"Season by hand: {len(changes)} settings of axis 2 a year, the shortest for "
                   f"{min(c['days'] for c in changes)} days. Month-day and reading in degrees:")
        told = [f"{c['on']} {c['set_deg']:+.1f}" for c in changes]
        for k in range(0, len(told), 8):
            typer.echo("  " + "   ".join(told[k : k + 8]))
    left_out = result["left_out"]
    if left_out:
        typer.echo(f"Not given, at their defaults: {', '.join(left_out)}")
    for note in result["notes"]:
        typer.echo(note)
