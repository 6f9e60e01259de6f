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

from .errors import SunhobError

CAUTIONS = (
    "Cautions: wear dark glasses near the dish and never stand in the beam or look into it. Gathered light "
    "burns skin and sets fire to what it falls on. Turn the dish off the sun and cover it when nobody is "
    "there. Keep to the codes and rules of your place. The interlocks are no certified safety."
)
_CODES = "Exit codes: 0 done, 1 judged and falls short, 2 bad input or use, 3 no board or link."
_PARTS = {  # command: (module, name in it); a module is loaded when its command is asked for, or all are
    "demo": ("sunhob_sim.cli_bench", "demo_command"),
    "new": ("sunhob.cli_settings", "new_command"),
    "check": ("sunhob.cli_settings", "check_command"),
    "sun": ("sunhob.cli_sun", "sun_command"),
    "table": ("sunhob.cli_sun", "table_app"),
    "optics": ("sunhob.cli_optics", "optics_command"),
    "bench": ("sunhob_sim.cli_bench", "bench_app"),
    "size": ("sunhob.cli_size", "size_command"),
    "align": ("sunhob.cli_align", "align_command"),
    "dish": ("sunhob.cli_dish", "dish_app"),
    "board": ("sunhob.cli_board", "board_app"),
}
_ABOUT = "Controller, host tools and bench for a motorised two-axis solar cooking dish."


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"sunhob {metadata.version('sunhob')}")
        raise typer.Exit()


def _top(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and end.")
    ] = False,
) -> None:
    """Options of the program itself."""


def make_app(commands: Sequence[str] = tuple(_PARTS)) -> typer.Typer:
    """The program with these commands in it; loads only what they need."""
    app = typer.Typer(
        help=_ABOUT,
        epilog=f"{CAUTIONS}\n\n{_CODES}",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    app.callback(help=_ABOUT, epilog=f"{CAUTIONS}\n\n{_CODES}")(_top)
    for command in commands:
        module, name = _PARTS[command]
        part: Any = getattr(import_module(module), name)
        if isinstance(part, typer.Typer):
            app.add_typer(part, name=command)
        else:
            app.command(command)(part)
    return app


def _wanted(arguments: Sequence[str]) -> tuple[str, ...]:
    """The one command asked for, or all where it is not plain which."""
    if list(arguments) == ["--version"]:
        return ("check",)
    return (arguments[0],) if arguments and arguments[0] in _PARTS else tuple(_PARTS)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command line; returns its exit code. Mistakes go to standard error, a line each."""
    if arguments is None:
        arguments = sys.argv[1:]
    try:
        code = make_app(_wanted(arguments))(args=list(arguments), standalone_mode=False, prog_name="sunhob")
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
