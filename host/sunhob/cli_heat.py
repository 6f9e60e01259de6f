"""`sunhob table heat`: the heat table of a dish and its pot for the board.

Units: bytes, deg, W at a beam of 1000 W/m2, shares of full heat.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import Progress

from .errors import Judged, UserError
from .settings import Cooker, load_cooker

JsonFlag = Annotated[bool, typer.Option("--json", help="One JSON object on standard output, nothing else.")]


def table_heat(
    file: Annotated[Path, typer.Argument(help="File to write, or to judge with --check.")],
    cooker_file: Annotated[
        Path | None, typer.Option("--cooker", help="Cooker file of the dish; else the invented one.")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Judge the file against these settings; write nothing.")
    ] = False,
    as_json: JsonFlag = False,
) -> None:
    """Write the heat table of a dish and its pot from a ray trace, or judge one; exit 1 if it falls short."""
    cooker = load_cooker(cooker_file)
    if cooker.invented:
        typer.echo("no cooker given: that of the built-in invented cooker are used", err=True)
    answer = _judged(file, cooker) if check else _written(file, cooker)
    if as_json:
        typer.echo(json.dumps(answer))
    else:
        _tell(answer)
    if not answer.get("ok", True):
        raise Judged(f"{file}: off the ray trace by over {answer['allowed']:g} of full heat; build it again")


def _traced(cooker: Cooker) -> Any:
    """The ray trace of the cooker's optics, with a bar while rays are traced."""
    from .optics.geometry import optics_of
    from .optics.intercept import cached_intercept

    screen = Console(stderr=True)
    with Progress(console=screen, transient=True, disable=not screen.is_terminal) as progress:
        task = progress.add_task("tracing rays", total=None)
        return cached_intercept(
            optics_of(cooker), lambda done, total: progress.update(task, completed=done, total=total)
        )


def _written(file: Path, cooker: Cooker) -> dict[str, Any]:
    from .heat_table import facts, table_bytes
    from .optics.geometry import optics_fingerprint

    data = table_bytes(_traced(cooker), optics_fingerprint(cooker))
    try:
        file.write_bytes(data)
    except OSError as error:
        raise UserError(f"{file}: cannot be written ({error.strerror}); give another file") from None
    return {"file": str(file), "cooker": cooker.label, **facts(data)}


def _judged(file: Path, cooker: Cooker) -> dict[str, Any]:
    from .heat_table import WORST_ALLOWED, facts, read_heat_table, worst_error

    try:
        data = file.read_bytes()
    except OSError as error:
        raise UserError(f"{file}: cannot be read ({error.strerror}); build one: sunhob table heat") from None
    try:
        table = read_heat_table(data, cooker)
    except UserError as error:
        raise UserError(f"{file}: {error}") from None
    found = worst_error(table, _traced(cooker))
    good = found["worst_error_of_full_heat"] <= WORST_ALLOWED
    return {"file": str(file), "cooker": cooker.label, **facts(data), **found, "allowed": WORST_ALLOWED,
            "ok": good}


def _tell(answer: dict[str, Any]) -> None:
    typer.echo(
        f"{answer['file']}: {answer['bytes']} bytes for {answer['cooker']}, optics "
        f"{answer['optics_fingerprint']}\n{answer['full_heat_w_at_1000']:.0f} W into the pot at full heat in "
        f"1000 W/m2; {answer['lags']} lags to {answer['greatest_lag_deg']:g} deg, {answer['elevations']} "
        f"elevations, {answer['directions']} directions"
    )
    if "ok" in answer:
        typer.echo(
            f"worst difference from the ray trace {answer['worst_error_of_full_heat']:.5f} of full heat, "
            f"{answer['allowed']:g} allowed; the trace's own standard error "
            f"{answer['trace_standard_error']:.5f}: {'good' if answer['ok'] else 'falls short'}"
        )
