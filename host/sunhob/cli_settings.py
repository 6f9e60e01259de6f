"""`sunhob new` and `sunhob check`: write a commented cooker file, judge one.

Units of all values are at the end of their names.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from .cooker_writer import cooker_text, write_new
from .errors import Judged, UserError
from .settings import Cooker, board_bytes, heat_curve, load_cooker

_CURVE_STEP_DEG = 0.25
_POT_CLEAR_PERMILLE = 50  # light on the pot that counts as clear of it: 5 % of full heat


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
    result = judge(cooker)
    if as_json:
        typer.echo(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        _show(result)
    if result["falls_short"]:
        raise Judged(f"{cooker.label}: falls short: " + " ".join(result["falls_short"]))


def judge(cooker: Cooker) -> dict[str, Any]:
    """What `check` says of a cooker whose values are all in range; units in the keys."""
    curve = heat_curve(cooker)
    lag_deg, share = _at_pot_clear(curve, cooker.dish.pot_clear_deg)
    short = []
    if share > _POT_CLEAR_PERMILLE:
        short.append(
            f"dish.pot_clear_deg = {cooker.dish.pot_clear_deg} deg: the pot still gets {share / 10:.1f} % of "
            f"full heat {lag_deg:g} deg off the sun, at most 5 %; raise it."
        )
    return {
        "cooker": cooker.label,
        "invented": cooker.invented,
        "good": not short,
        "falls_short": short,
        "left_out": [] if cooker.invented else cooker.left_out,
        "notes": _notes(cooker),
        "half_heat_lag_deg": next((i * _CURVE_STEP_DEG for i, v in enumerate(curve) if v <= 500), None),
        "heat_at_pot_clear_percent": share / 10,
        "board_file_bytes": len(board_bytes(cooker)),
        "settings": cooker.as_dict(),
    }


def _at_pot_clear(curve: list[int], pot_clear_deg: float) -> tuple[float, int]:
    index = min(int(pot_clear_deg / _CURVE_STEP_DEG), len(curve) - 1)
    return index * _CURVE_STEP_DEG, curve[index]


def _notes(cooker: Cooker) -> list[str]:
    notes = []
    latitude = abs(cooker.site.latitude_deg)
    if cooker.mount.kind == "altaz":
        top = min(90.0, 90.0 - latitude + 23.44)
        if cooker.axis2.high_deg < top:
            notes.append(
                f"The sun climbs to {top:.1f} deg here in the year; axis2.high_deg = "
                f"{cooker.axis2.high_deg} deg leaves out the hours above that."
            )
        if cooker.axis1.high_deg - cooker.axis1.low_deg < 360.0:
            notes.append("axis1 turns less than a whole turn: what it reaches hangs on how the base stands.")
    if cooker.cook.return_after_cloud:
        notes.append("cook.return_after_cloud is on: the dish may move to the sun by itself while armed.")
    return notes


def _show(result: dict[str, Any]) -> None:
    typer.echo(f"{result['cooker']}: every value is in range.")
    typer.echo(f"The board's settings file has {result['board_file_bytes']} bytes.")
    if result["half_heat_lag_deg"] is None:
        typer.echo("Heat stays above half up to 15 deg behind the sun.")
    else:
        typer.echo(f"Heat falls to half {result['half_heat_lag_deg']} deg behind the sun.")
    left_out = result["left_out"]
    if left_out:
        typer.echo(f"Not given, at their defaults: {', '.join(left_out)}")
    for note in result["notes"]:
        typer.echo(note)
