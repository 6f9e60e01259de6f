"""The program `sunhob`: one command for each job, one line for each mistake (no units here).

Exit codes: 0 done, 1 judged and falls short, 2 bad input or use, 3 no board or link, 130 interrupted.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module, metadata
from typing import Annotated, Any

import typer

from .cli_settings import check_command, new_command
from .errors import SunhobError

CAUTIONS = (
    "Cautions: wear dark glasses near the dish and never stand in the beam or look into it. Gathered light "
    "burns skin and sets fire to what it falls on. Turn the dish off the sun and cover it when nobody is "
    "there. Keep to the codes and rules of your place. The interlocks are no certified safety."
)
_CODES = "Exit codes: 0 done, 1 judged and falls short, 2 bad input or use, 3 no board or link."
_SPARE = (  # (module, name in it, command): a command whose package is not installed is left out
    ("sunhob_sim.cli_bench", "demo_command", "demo"),
    ("sunhob.cli_sun", "sun_command", "sun"),
    ("sunhob.cli_sun", "table_app", "table"),
    ("sunhob_sim.cli_bench", "bench_app", "bench"),
    ("sunhob.cli_dish", "dish_app", "dish"),
)

app = typer.Typer(
    name="sunhob",
    help="Controller, host tools and bench for a motorised two-axis solar cooking dish.",
    epilog=f"{CAUTIONS}\n\n{_CODES}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"sunhob {metadata.version('sunhob')}")
        raise typer.Exit()


@app.callback()
def _top(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and end.")
    ] = False,
) -> None:
    """Controller, host tools and bench for a motorised two-axis solar cooking dish."""


def _add(module: str, name: str, command: str) -> None:
    try:
        part: Any = getattr(import_module(module), name, None)
    except ModuleNotFoundError as error:
        if not (error.name or "").startswith("sunhob"):
            raise
        return
    if isinstance(part, typer.Typer):
        app.add_typer(part, name=command)
    elif part is not None:
        app.command(command)(part)


app.command("new")(new_command)
app.command("check")(check_command)
for _module, _name, _command in _SPARE:
    _add(_module, _name, _command)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command line; returns its exit code. Mistakes go to standard error, a line each."""
    try:
        code = app(args=arguments, standalone_mode=False, prog_name="sunhob")
        sys.stdout.flush()
        return code if isinstance(code, int) else 0
    except SunhobError as error:
        return _tell(str(error), error.exit_code)
    except (KeyboardInterrupt, typer.Abort):
        return _tell("interrupted", 130)
    except (BrokenPipeError, SystemExit):  # the option parser makes a closed pipe a SystemExit of 1
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 141
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        return _tell(f"{where}{error.strerror or error}; look at that path and its rights", 2)
    except Exception as error:
        if not hasattr(error, "format_message"):
            raise
        return _usage(error)


def _usage(error: Any) -> int:
    """A wrong option or argument, as the option parser found it."""
    context = getattr(error, "ctx", None)
    words = " ".join(str(error.format_message()).split())
    if type(error).__name__ == "NoArgsIsHelpError":
        if words:  # with rich, the help is on the screen by now
            typer.echo(error.format_message())
        return 2
    path = context.command_path if context else "sunhob"
    return _tell(f"{words.rstrip('.')}; see {path} --help", 2)


def _tell(words: str, code: int) -> int:
    for line in words.splitlines():
        print(f"sunhob: {line}", file=sys.stderr)
    return code


def main(arguments: Sequence[str] | None = None) -> None:
    """Entry point of the program."""
    sys.exit(run(arguments))


if __name__ == "__main__":
    main()
