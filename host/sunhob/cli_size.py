"""`sunhob size`: torque, gears, speeds, supply for this dish. Units in the words and keys."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from .errors import Judged, UserError
from .leave_words import told_alone
from .settings import load_cooker

_WORDS = (
    "An estimate to choose parts by, not a proof of strength: wind coefficients are from memory, good to "
    "a third (to check: ESDU 82031, TIA-222; build.wind_factor scales them). Anchor the base, keep people "
    "out of the dish's swing, and follow the codes of your place."
)


def size_command(
    file: Annotated[Path | None, typer.Argument(help="Cooker file; without it the built-in invented cooker.",
                                                show_default=False)] = None,
    wind: Annotated[float | None, typer.Option(help="Working wind, m/s; else the file's.")] = None,
    plot: Annotated[Path | None, typer.Option(help="PNG of torque over attitude to write.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """What the drives, gears and supply must bring, what they have, and what limits."""
    from .leave_times import leave_times, sample_days
    from .optics.geometry import optics_of
    from .optics.intercept import cached_intercept
    from .sizing.judge import size, steep_share_per_deg

    cooker = load_cooker(file)
    if cooker.invented:
        typer.echo("no cooker file given: the built-in invented cooker is used", err=True)
    if wind is not None:
        if not 0.0 <= wind <= 20.0:
            raise UserError(f"--wind = {wind} is outside 0 to 20 m/s; give the mean wind it is to work in")
        cooker.build = cooker.build.model_copy(update={"working_wind_m_s": wind})
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        rays, year = bar.add_task("tracing rays", total=None), bar.add_task("leaves of a year", total=None)
        steep = steep_share_per_deg(cached_intercept(
            optics_of(cooker), lambda done, total: bar.update(rays, completed=done, total=total)))
        bar.update(year, total=len(sample_days()))
        found = size(cooker, leave_times(cooker, lambda: bar.advance(year)), steep)
    if plot is not None:
        from .sizing.plot import plot_torque

        plot_torque(plot, cooker)
    if as_json:
        typer.echo(json.dumps(found, indent=2))
    else:
        _show(found)
    short = [f"{f['name']}: needs {_figure(f['needed'])} {f['unit']}, has {_figure(f['has'])}; {f['mend']}."
             for f in found["findings"] if not f["good"]]
    if short:
        raise Judged("\n".join(short))


def _show(found: dict[str, Any]) -> None:
    shown = Table(title=f"{found['cooker']}: mean wind {found['working_wind_m_s']:g} m/s, "
                        f"gusts {found['gust_m_s']:g} m/s")
    for name, side in (("", "left"), ("limit", "right"), ("has", "right"), ("unit", "left"), ("", "left")):
        shown.add_column(name, justify=side)  # type: ignore[arg-type]
    for f in found["findings"]:
        shown.add_row(f["name"], _figure(f["needed"]), _figure(f["has"]), f["unit"],
                      "good" if f["good"] else "falls short")
    console = Console(width=None if Console().is_terminal else 120)
    console.print(shown)
    for drive in found["drives"]:
        console.print(_drive_words(drive))
    for axis in (1, 2):
        act = found[f"actuator{axis}"]
        if act is not None:
            console.print(
                f"Actuator of axis {axis}: stroke {1000 * act['stroke_m']:.0f} mm "
                f"({1000 * act['shortest_m']:.0f} to {1000 * act['longest_m']:.0f} mm between its pins), "
                f"{act['least_mm_per_deg']:.2f} to {act['most_mm_per_deg']:.2f} mm a degree, greatest force "
                f"{act['greatest_force_n']:.0f} N at {act['greatest_force_at_deg']:.0f} deg of the reading.")
    e = found["energy"]
    lasts = (f"the battery lasts {e['days_alone']:.1f} days alone; a full leave takes "
             f"{e['one_leave_wh']:.2f} Wh and is always kept" if e["battery_wh"] else
             "no battery is declared (supply.battery_ah = 0)")
    console.print(
        f"A cooking day takes {e['day_wh']:.1f} Wh (motors {e['motors_wh']:.1f}, at rest {e['rest_wh']:.1f}, "
        f"board {e['board_wh']:.1f}); {lasts}."
    )
    supply = found["supply_needed"]
    console.print(
        f"For {supply['days']:g} days without sun: a battery of at least {supply['battery_ah']:.1f} Ah "
        f"at {supply['battery_v']:g} V, and a panel of {supply['panel_w']:.0f} W, to bring on a poor day "
        "what a day takes."
    )
    for alone in found["one_axis"]:
        console.print(told_alone(alone, found["sun_hours_a_year"]))
    console.print(f"Nearest to its limit: {found['limits']}.")
    console.print(_WORDS)


def _figure(value: float) -> str:
    return f"{value:.0f}" if 1000.0 <= abs(value) < math.inf else f"{value:.3g}"


def _drive_words(drive: dict[str, Any]) -> str:
    words = (f"Axis {drive['axis']}: most torque {drive['torque_needed_n_m']:.1f} N m at "
             f"{drive['at_elevation_deg']:g} deg elevation; ")
    if drive["gear_ratio_needed"] is not None:
        words += (f"gear ratio of at least {drive['gear_ratio_needed']:.0f}; motor turns "
                  f"{drive['motor_turns_per_s']:.1f} a second; ")
    return words + f"{'holds' if drive['holds_without_power'] else 'does not hold'} without power."
