"""`sunhob board ...`: put the controller on a board, judge one, reach its console. Units in keys."""

from __future__ import annotations

import json
import sys
import time
from importlib import metadata
from pathlib import Path
from typing import Annotated, Any

import typer
from sunhob_board.declared import interlocks

from . import link
from .board.by_hand import at_console
from .board.image import KINDS, all_files
from .board.package import check_folder, write_package
from .board.pins import pin_faults, spared
from .board.put import progress, put, put_words
from .errors import Judged, UserError
from .settings import Cooker, load_cooker
from .told import told_lines

board_app = typer.Typer(
    no_args_is_help=True,
    help="Put the controller on a board, judge a board, reach its console. Do it with the dish parked, "
         "covered and its motor power off.",
)
_MENDS = {row[0]: f": {row[5]} {row[7]}" for row in interlocks.ROWS}
Port = Annotated[str, typer.Option("--port", envvar="SUNHOB_PORT", show_default=False,
                                   help="The board's USB port, or socket://host:port.")]
KindName = Annotated[str | None, typer.Option("--board", help="Kind of board: " + ", ".join(KINDS))]
CookerFile = Annotated[
    Path | None, typer.Option("--cooker", help="Cooker file of the dish; else the invented one.")
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object on standard output, nothing else.")]


def _known(board: str | None) -> None:
    if board is not None and board not in KINDS:
        raise UserError(f"--board {board}: is none; give one of {', '.join(KINDS)}")


def _cooker(file: Path | None) -> Cooker:
    cooker = load_cooker(file)
    if cooker.invented:
        typer.echo("no cooker given: settings and tables are those of the built-in invented cooker", err=True)
    return cooker


@board_app.command()
def install(
    port: Port,
    cooker_file: CookerFile = None,
    board: KindName = None,
    replace: Annotated[bool, typer.Option("--replace", help="Take the place of another program.")] = False,
    as_json: AsJson = False,
) -> None:
    """Bring a board to this firmware and these settings; only what differs is sent, the old one stays till
    the new one has run well."""
    _known(board)
    cooker = _cooker(cooker_file)
    answer = put(port, cooker, board, replace)
    typer.echo(json.dumps(answer) if as_json else put_words(port, answer))


@board_app.command()
def package(
    out: Annotated[Path, typer.Argument(metavar="OUT_DIR", help="Folder: new, empty, or an older package.")],
    board: Annotated[str, typer.Option("--board", help="Kind of board: " + ", ".join(KINDS))] = "pico",
    cooker_file: CookerFile = None,
) -> None:
    """Write a package that `mpremote mip install` puts onto a board that has no controller yet."""
    _known(board)
    check_folder(out)
    cooker = _cooker(cooker_file)
    with progress() as bar:
        bar.add_task("making code and tables", total=None)
        files = all_files(KINDS[board], cooker)
        command = write_package(out, KINDS[board], files, metadata.version("sunhob"))
    size = sum(map(len, files.values()))
    typer.echo(f"{out}: {len(files) + 2} files for {board}, {size} bytes; with the dish parked, covered and "
               f"its motor power off:\n{command}")


@board_app.command()
def check(
    port: Annotated[str | None, typer.Option("--port", envvar="SUNHOB_PORT",
                                             help="A board that runs the controller.")] = None,
    board: KindName = None,
    as_json: AsJson = False,
) -> None:
    """Judge the pins of the board files; with --port also a board: versions, clock, faults, sensors."""
    _known(board)
    names = [board] if board else list(KINDS)
    faults = [f"{name}: {fault}" for name in names for fault in pin_faults(name)]
    answer: dict[str, Any] = {"pins": {name: pin_faults(name) for name in names},
                              "spared": {name: spared(name) for name in names}}
    if port is not None:
        answer |= _live(port)
        faults += answer["faults"]
    answer["good"] = not faults
    if as_json:
        typer.echo(json.dumps(answer))
    else:
        typer.echo(f"pins of {', '.join(names)}: {'good' if not any(answer['pins'].values()) else 'bad'}")
        for name, lines in answer["spared"].items():
            told = ", ".join(f"{what} (GPIO {pin})" for what, pin in lines.items())
            typer.echo(f"{name} spares {told}: for pulse lines of motors, or both for a rotary heat knob")
        for line in told_lines(answer.get("told", {})):
            typer.echo(line)
    if faults:
        raise Judged("\n".join(faults))


def _live(port: str) -> dict[str, Any]:
    """What a running controller tells of itself, and what of it is wrong."""
    with link.Dish(port) as dish:
        hello, status = dish.hello(), dish.call("status")
        known = hello.get("table") == link.table_id()
        sensors = dish.call("sensors") if known else {}
    faults = []
    if not known:
        faults.append(f"firmware {hello.get('firmware')} is not this program's: "
                      "sunhob board install")
    if hello.get("trouble"):
        faults.append(str(hello["trouble"]))
    if not hello.get("proven", True):
        faults.append("the controller has not run well for long enough yet")
    if hello.get("why"):
        faults.append(f"the newer controller failed ({hello['why']}); this is the one before")
    if not status.get("clock_known"):
        faults.append("its clock is not set: look at the clock chip, then sunhob dish set time")
    elif abs(_clock_off_s(status)) > 2.0:
        faults.append(f"its clock is {_clock_off_s(status):.0f} s off this computer's: sunhob dish set time")
    faults += [f"interlock {name} is tripped{_MENDS.get(name, '')}" for name in status.get("tripped", [])]
    return {"told": {**hello, **status, **sensors}, "faults": faults}


def _clock_off_s(status: dict[str, Any]) -> float:
    return float(status["day"]) * 86400.0 + status["ms"] / 1000.0 - (time.time() - 946_684_800)


@board_app.command()
def console(port: Port) -> None:
    """The board's own console, by hand; Ctrl-] ends it and starts the controller again."""
    if not sys.stdin.isatty():
        raise UserError("board console: is for a person at a terminal, and this is none; run it from one")
    at_console(port, link.open_wire, lambda text: typer.echo(text, err=True))
