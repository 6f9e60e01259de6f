"""`sunhob align`: sightings in, how the mount stands out. Units: deg, s, UTC."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from .errors import Judged, UserError
from .settings import load_cooker

_CLOCK_DEG_PER_S = 15.041 / 3600.0
_CAUTION = (
    "Take sightings with the dish covered and by the shadow sight only: never look along the dish at the "
    "sun, and keep everyone out of the space in front of it."
)


def align_command(
    sightings: Annotated[Path, typer.Argument(help="CSV of sightings: at_utc,axis1_deg,axis2_deg.")],
    cooker: Annotated[Path | None, typer.Option(help="cooker.toml of the readings.")] = None,
    square: Annotated[bool, typer.Option("--square", help="Fit also the miss of a right angle.")] = False,
    scale: Annotated[bool, typer.Option("--scale", help="Fit also a scale for each axis.")] = False,
    clock: Annotated[float, typer.Option(help="How far the clock may have been off, s.")] = 1.0,
    write: Annotated[bool, typer.Option("--write", help="Put the corrections into the cooker file.")] = False,
    plot: Annotated[Path | None, typer.Option(help="PNG of what the fit leaves over.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Fit how the base stands and where the axes have their zeros to sightings of the sun."""
    from .align.advice import advise
    from .align.fit import ALWAYS, fit
    from .align.model import from_cooker
    from .align.plot import plot_residuals
    from .align.sightings import read_sightings

    if write and cooker is None:
        raise UserError("--write: needs --cooker FILE; there is no file to put the corrections into")
    if not 0.0 <= clock <= 3600.0:
        raise UserError(f"--clock = {clock} is outside 0 to 3600 s; give how far the clock may have been off")
    one = load_cooker(cooker)
    if one.invented:
        typer.echo("no cooker file given: the built-in invented cooker is used", err=True)
    polar, latitude = one.mount.kind == "polar", one.site.latitude_deg
    extras = (("square_deg",) if square else ()) + (("axis1_scale", "axis2_scale") if scale else ())
    seen = read_sightings(sightings, one)
    found = fit(seen, from_cooker(one), polar, latitude, extras)
    advice = advise(seen.only(found.used), found.values, ALWAYS + extras, one, max(0.03, found.rms_deg))
    answer = _answer(found, len(seen), clock)
    if plot is not None:
        plot_residuals(plot, found, seen)
    if as_json:
        words = "" if advice.good else advice.words
        typer.echo(json.dumps({**answer, "supported": advice.good, "advice": words}))
    else:
        _show(answer, found, seen)
    if not advice.good:
        raise Judged(f"{sightings}: {advice.words}. Nothing was written.")
    if write and cooker is not None:
        _write(cooker, found)


def _answer(found: Any, sightings: int, clock_s: float) -> dict[str, Any]:
    names = (*found.fitted[:3], "axis1_zero_deg", "axis2_zero_deg")
    return {
        **{name: found.values[name] for name in names},
        **{name: found.values[name] for name in found.fitted if name not in names},
        "rms_deg": found.rms_deg,
        "sightings": int(found.used.sum()),
        "left_out": [i + 1 for i in range(sightings) if not found.used[i]],
        "standard_error_deg": dict(found.standard_error),
        "times_for_95_percent": found.spread(),
        "clock_uncertainty_s": clock_s,
        "clock_uncertainty_deg": clock_s * _CLOCK_DEG_PER_S,
    }


def _show(answer: dict[str, Any], found: Any, seen: Any) -> None:
    shown = Table(title=f"{answer['sightings']} sightings, {seen.at[0]:%Y-%m-%d}")
    for name in ("", "fitted", "standard error"):
        shown.add_column(name, justify="left" if not name else "right")
    for name in found.fitted:
        shown.add_row(name, f"{found.values[name]:.4f}", f"{found.standard_error[name]:.4f}")
    shown.add_row("axis1_zero_deg", f"{found.values['axis1_zero_deg']:.4f}", "as set: one with north")
    console = Console(width=None if Console().is_terminal else 110)
    console.print(shown)
    console.print(f"Left over: {found.rms_deg:.3f} deg rms.")
    for number in answer["left_out"]:
        x, y = found.residual_deg[number - 1]
        off = (x * x + y * y) ** 0.5
        console.print(f"Sighting {number} disagrees with the others by {off:.2f} deg: left out.")
    console.print(
        f"A clock {answer['clock_uncertainty_s']:g} s wrong would turn all of this by "
        f"{answer['clock_uncertainty_deg']:.3f} deg about the pole, and no sighting would show it."
    )
    if found.values.get("axis1_scale") or found.values.get("axis2_scale"):
        console.print("A scale belongs into axisN.steps_per_turn: divide it by 1 + scale.")
    console.print(_CAUTION)


def _write(path: Path, found: Any) -> None:
    from .align.model import KEYS
    from .cooker_edit import edit_cooker

    edit_cooker(path, {KEYS[n]: round(found.values[n], 5) for n in found.fitted if n in KEYS})
    typer.echo(f"Wrote the corrections into {path}. Put it on the board, then look at the sight.", err=True)
