"""`sunhob bench campaign` and `sunhob bench episode`. Units in every key and label."""

import json
import os
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from sunhob.errors import Judged, UserError

from .campaign import run as campaign
from .campaign.draw import episode_text
from .campaign.episode import Row, replay_command, run_episode
from .campaign.explained import is_explained, reasons
from .campaign.results import Results, summary, write_measured, write_summary
from .campaign.shrink import shrink
from .engine import ENGINES
from .faults.library import FAULTS

_err = Console(stderr=True)
_SHOWN = 20

FaultOption = Annotated[
    list[str] | None, typer.Option("--fault", help="Name of a fault; may be given twice.")
]
EngineOption = Annotated[str, typer.Option("--engine", help=f"Interpreter: one of {', '.join(ENGINES)}.")]


def _jobs(runs: int, seed: int, pairs: bool, names: list[str], engine: str) -> list[campaign.Job]:
    if pairs:
        return campaign.pair_jobs(runs, seed, engine)
    return campaign.single_jobs(runs, seed, names, engine)


def campaign_command(
    runs: Annotated[
        int | None, typer.Option(min=1, max=10**6, help="Episodes; else 5 of each fault.")
    ] = None,
    full: Annotated[bool, typer.Option("--full", help="20,000 episodes, or every pair once.")] = False,
    pairs: Annotated[bool, typer.Option("--pairs", help="Two faults at once, every pair of kinds.")] = False,
    fault: FaultOption = None,
    seed: Annotated[int, typer.Option(min=0, max=2**31 - 1, help="Where the draws begin.")] = 1,
    engine: EngineOption = "cpython",
    cores: Annotated[int, typer.Option(min=0, max=4096, help="Processes; 0: all cores.")] = 0,
    cluster: Annotated[
        str | None, typer.Option(help="Address of a dask scheduler, such as tcp://host:8786.")
    ] = None,
    out: Annotated[Path, typer.Option(help="Result file; one that is there is gone on with.")] = Path(
        "out/campaign.csv"
    ),
    explained: Annotated[
        bool, typer.Option("--explained", help="Exit 1 only for hazards that no known reason explains.")
    ] = False,
    measured: Annotated[
        Path | None, typer.Option(help="Write what the notes' hazard analysis keeps to this JSON file.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Many runs with faults drawn at random; any hazard prints the one command that runs it again."""
    names = list(fault or [])
    campaign.known(names)
    if engine not in ENGINES:
        raise UserError(f"engine {engine}: give one of {', '.join(ENGINES)}")
    if pairs and names:
        raise UserError("--fault: does not go with --pairs; leave one of them out")
    if pairs and measured is not None:
        raise UserError("--measured: is of single faults; leave --pairs out")
    usual = len(campaign.PAIRS) if pairs else campaign.FULL_RUNS
    small = len(FAULTS) * (2 if pairs else campaign.SINGLE_RUNS_EACH)
    jobs = _jobs(runs or (usual if full else small), seed, pairs, names, engine)
    results = Results(out)
    done = results.done()
    left = [job for job in jobs if (job[0], "+".join(job[1]), job[2]) not in done]
    if len(left) < len(jobs):
        _err.print(f"{out}: {len(jobs) - len(left)} of {len(jobs)} episodes are there already.")
    try:
        _run(left, results, cores or os.cpu_count() or 1, cluster, as_json)
    finally:
        results.close()
    wanted = {(job[0], "+".join(job[1]), job[2]) for job in jobs}
    rows = [row for row in results.rows if (row.seed, row.faults, row.engine) in wanted]
    found = summary(rows, seed)
    write_summary(out.with_suffix(".json"), found)
    if measured is not None:
        write_measured(measured, rows)
    bad = [row for row in rows if row.hazards]
    if as_json:
        print(json.dumps({**found, "replay": [replay_command(row) for row in bad]}))
    else:
        _show(found, bad)
    wrong = [row for row in bad if not is_explained(row)] if explained else bad
    if wrong:
        what = "a hazard that is not explained" if explained else "a hazard"
        raise Judged(f"{len(wrong)} of {len(rows)} episodes had {what}.")


def _run(jobs: list[campaign.Job], results: Results, cores: int, cluster: str | None, hidden: bool) -> None:
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeRemainingColumn(),
        TextColumn("{task.fields[bad]}"),
    )
    with Progress(*columns, console=_err, disable=hidden or not _err.is_terminal) as bar:
        task = bar.add_task("episodes", total=len(jobs), rate="", bad="")
        bad = 0
        for row in campaign.run_jobs(jobs, cores, cluster):
            results.add(row)
            bad += bool(row.hazards)
            speed = bar.tasks[0].speed
            bar.update(
                task, advance=1, rate=f"{speed:.1f}/s" if speed else "", bad=f"{bad} hazards" if bad else ""
            )


def _show(found: dict[str, Any], bad: list[Row]) -> None:
    shown = Table(title=f"{found['runs']} episodes, {found['hazards']} with a hazard")
    heads = {"runs": "runs", "hazards": "hazards", "undetected": "undetected", "detected": "detected",
             "stranded": "stranded", "cannot leave": "cannot_leave", "noticed, s": "worst_seconds_to_notice",
             "pot clear, s": "worst_seconds_to_pot_clear", "light clear, s": "worst_seconds_to_light_clear",
             "longest loose, s": "worst_seconds_to_safe"}  # fmt: skip
    for name in ("fault", *heads):
        shown.add_column(name, justify="left" if name == "fault" else "right")
    for name, row in found["by_fault"].items():
        cells = (row[key] for key in heads.values())
        shown.add_row(name, *("-" if cell is None else f"{cell:.0f}" for cell in cells))
    console = Console(width=None if Console().is_terminal else 140, highlight=False)
    console.print(shown)
    console.print("The worst times: from the fault to its first sign, from the leave to pot and light clear.")
    limit = f"Hazard rate at most {found['hazard_rate_upper_95']:.2e} an episode (95 %, Clopper-Pearson)."
    console.print(limit)
    for row in sorted(bad, key=is_explained)[:_SHOWN]:
        why = "; ".join(one or "NOT EXPLAINED" for one in reasons(row).values())
        told = "noticed" if row.detected else "NOT NOTICED"
        console.print(f"{row.faults}, by {row.because}, {told}: {row.detail}", markup=False)
        console.print(f"  {why}\n  {replay_command(row)}", markup=False)
    if len(bad) > _SHOWN:
        console.print(f"... and {len(bad) - _SHOWN} more in the result file.")


def episode_command(
    seed: Annotated[int, typer.Argument(min=0, help="Seed of the episode.")],
    fault: FaultOption = None,
    engine: EngineOption = "cpython",
    write: Annotated[Path | None, typer.Option(help="Write its scenario to this TOML file.")] = None,
    smaller: Annotated[
        bool, typer.Option("--shrink", help="Leave out all that the hazard does not need.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Run one episode of a campaign again, and make it small."""
    names = tuple(fault or ())
    campaign.known(names)
    row = run_episode(seed, names, engine)
    text = episode_text(seed, names)
    if smaller and row.hazards:
        kind = row.hazards.split("+")[0]
        with _err.status("making it smaller"):
            text = shrink(text, kind, engine)
    if write is not None:
        write.write_text(text, encoding="utf-8")
    if as_json:
        print(json.dumps({**row.as_dict(), "scenario": text}))
    else:
        print(f"{row.faults or 'no fault'}: {row.hazards or 'no hazard'}. {row.detail}")
        if smaller or write is None:
            print(text)
    if row.hazards:
        raise Judged(f"episode {seed}: {row.hazards}.")
