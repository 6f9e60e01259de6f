"""Commands of the bench: `sunhob bench run` and `sunhob demo`. Units in every key and label."""

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn
from rich.table import Table
from sunhob import report
from sunhob.errors import UserError
from sunhob.report_plots import plot_page
from sunhob.report_story import timeline_text
from sunhob.run_result import RunResult

from . import scenario as scenarios
from .bench import Progressed, Traced, run_scenario
from .cli_campaign import campaign_command, episode_command
from .cli_soak import soak_command
from .desk import desk_command
from .engine import ENGINES
from .live import serve_command

bench_app = typer.Typer(no_args_is_help=True, help="The bench: real firmware, virtual board and dish.")
bench_app.command("serve")(serve_command)
bench_app.command("desk")(desk_command)
bench_app.command("campaign")(campaign_command)
bench_app.command("episode")(episode_command)
bench_app.command("soak")(soak_command)
_err = Console(stderr=True)

EngineOption = Annotated[str, typer.Option("--engine", help=f"interpreter: {' or '.join(ENGINES)}")]
JsonOption = Annotated[bool, typer.Option("--json", help="one JSON object on standard output")]


@contextmanager
def _bar(label: str, total_s: float, hidden: bool) -> Iterator[tuple[Progressed, Traced]]:
    """Progress bars on standard error: over simulated seconds, and over the rays of a new dish."""
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"),
               TimeRemainingColumn())
    with Progress(*columns, console=_err, disable=hidden or not _err.is_terminal) as progress:
        task = progress.add_task(label, total=total_s)
        rays: list[TaskID] = []

        def traced(done: int, whole: int) -> None:
            if not rays:
                rays.append(progress.add_task("rays of this dish"))
            progress.update(rays[0], completed=done, total=whole)

        yield (lambda done_s: progress.update(task, completed=done_s)), traced


def _engine(name: str) -> str:
    if name not in ENGINES:
        raise UserError(f"engine {name}: give one of {', '.join(ENGINES)}")
    return name


def _png(path: Path | None) -> None:
    """Refuse a picture that could not be written, before the run and not after it."""
    if path is None:
        return
    if path.suffix.lower() != ".png":
        raise UserError(f"plot {path}: must end in .png")
    if path.exists() and not path.is_file():
        raise UserError(f"plot {path}: is there and is no file; give another name")
    _folder("plot", path.parent)


def _folder(option: str, path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        why = error.strerror
        raise UserError(f"{option} {path}: is no folder and cannot be made ({why}); give another") from None
    if not os.access(path, os.W_OK):
        raise UserError(f"{option} {path}: cannot be written to; give another folder")


@bench_app.command("run")
def bench_run(
    scenario: Annotated[str, typer.Argument(help="a .toml file or a shipped scenario")],
    engine: EngineOption = "micropython",
    as_json: JsonOption = False,
    plot: Annotated[Path | None, typer.Option("--plot", help="write the heat picture to this PNG")] = None,
    display: Annotated[Path | None, typer.Option(
        "--display", help="write the cook's page as it stands at the end to this PNG")] = None,
) -> None:
    """Run one scenario and judge its hazards from the true state of the plant."""
    _engine(engine)
    _png(plot)
    _png(display)
    one = scenarios.load(scenario)
    if display is not None and not scenarios.cooker_of(one).cook.display:
        raise UserError(f"display {display}: {one.name} has no display; set cook.display = true")
    with _bar(one.name, one.seconds, as_json) as (progressed, traced):
        result = run_scenario(one, engine, progressed, traced, alone=True)
    if plot is not None:
        report.PLOTS["heat"](result, plot)
    if display is not None:
        plot_page(result.display, display)
    if as_json:
        print(json.dumps(_plain(result.as_dict()), allow_nan=False))
    else:
        _show(result)
    if result.hazards:
        raise typer.Exit(1)


def demo_command(
    engine: EngineOption = "micropython",
    out: Annotated[Path, typer.Option("--out", help="folder for the pictures and the report")] = Path("out"),
    as_json: JsonOption = False,
    scenario: Annotated[str, typer.Option("--scenario", help="another day than the invented one")] = "demo",
) -> None:
    """A whole cooking day on the bench with the real firmware: timeline, pictures, report."""
    _engine(engine)
    one = scenarios.load(scenario)
    _folder("out", out)
    with _bar(f"{one.name}, {engine}", one.seconds, as_json) as (progressed, traced):
        result = run_scenario(one, engine, progressed, traced, alone=True)
    images = report.pictures(result, out)
    page = report.html_report(result, images, out / f"{result.scenario}.html")
    if as_json:
        print(json.dumps({**_plain(result.as_dict()), "report": str(page)}, allow_nan=False))
    else:
        _show(result)
        print(f"\nReport with pictures: {page}")
    if result.hazards:
        raise typer.Exit(1)


def _show(result: RunResult) -> None:
    console = Console(soft_wrap=True, highlight=False)
    console.print(f"{result.about}\nTimes in {result.timezone}.\n", markup=False)
    console.print(timeline_text(result), markup=False)
    table = Table(title="Figures", show_header=False)
    for label, value in report.figures(result):
        table.add_row(label, value)
    console.print(table)
    if result.page:
        rows = "\n".join(f"| {row:<16} |" for row in result.page)
        console.print(f"The cook's page at the end:\n{rows}", markup=False)
    compared = report.comparison(result)
    if compared:
        beside = Table("", "by itself", "by hand",
                       title=f"Beside a hand on the dish every {result.by_hand['every_min']:.0f} minutes")
        for row in compared:
            beside.add_row(*row)
        console.print(beside)
    for note in (*result.notes, *report.CAUTIONS):
        console.print(f"- {note}", markup=False)


def _plain(value: Any) -> Any:
    """JSON knows no NaN: what was not measured becomes null."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float) and value != value:
        return None
    return value
