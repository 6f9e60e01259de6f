"""`sunhob bench soak`. Units in every key and label."""

import json
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from sunhob.errors import Judged, UserError

from .engine import ENGINES
from .soak import soak, soak_text

USUAL, FULL = 7, 365
_err = Console(stderr=True)

EngineOption = Annotated[str, typer.Option("--engine", help=f"Interpreter: one of {', '.join(ENGINES)}.")]


def soak_command(
    days: Annotated[int | None, typer.Option(min=1, max=3650, help=f"Days on end; else {USUAL}.")] = None,
    full: Annotated[bool, typer.Option("--full", help=f"{FULL} days.")] = False,
    engine: EngineOption = "cpython",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Day after day on one board that is never switched off: nothing may grow or drift."""
    if engine not in ENGINES:
        raise UserError(f"engine {engine}: give one of {', '.join(ENGINES)}")
    if full and days is not None:
        raise UserError("--full: does not go with --days; leave one of them out")
    count = days or (FULL if full else USUAL)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=_err, disable=as_json or not _err.is_terminal) as bar:
        task = bar.add_task("days", total=count)
        found = soak(count, engine, lambda done: bar.update(task, completed=done))
    print(json.dumps(found.as_dict()) if as_json else soak_text(found))
    if found.faults():
        raise Judged(f"{count} days: {'; '.join(found.faults())}.")
