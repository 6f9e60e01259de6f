"""`sunhob align`: sightings in, how the mount stands out; put on the board, proved. Units: deg, s, h."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .errors import Judged, UserError
from .settings import load_cooker

if TYPE_CHECKING:
    from .align.guided import Guide
    from .align.live import Live

_BENCH = "bench:"
_MASKED = "masked: not said, needed for any move; mask the dish whole and add --masked"


@dataclass(frozen=True)
class Asked:
    """What an alignment is asked for."""

    path: Path
    extras: tuple[str, ...]
    clock_s: float
    port: str | None
    masked: bool
    count: int
    hours: float | None
    proof_min: float
    sight: str | None
    write: bool
    install: bool

    @property
    def on_bench(self) -> bool:
        """Whether the port is a dish on the bench."""
        return self.port is not None and self.port.startswith(_BENCH)

    def check(self, cooker: Path | None, verify: bool) -> None:
        """UserError where what is asked does not go together; nothing has moved yet."""
        if not 0.0 <= self.clock_s <= 3600.0:
            raise UserError(f"--clock = {self.clock_s} is outside 0 to 3600 s; give how far the clock may "
                            "have been off")
        for name, given in (("--write", self.write), ("--verify", verify)):
            if given and cooker is None:
                raise UserError(f"{name}: needs --cooker FILE; there is no file to "
                                + ("put the corrections into" if self.write else "compare the board with"))
        if verify and (self.write or self.install):
            raise UserError("--verify: looks at what is installed; leave --write and --install out")
        if self.install and not self.write:
            raise UserError("--install: puts the file with the corrections onto the board; add --write")
        if self.install and "axis1_scale" in self.extras:
            raise UserError("--install: with --scale steps_per_turn must be put into the file by hand; leave "
                            "--install out, then sunhob board install")
        if (self.install or verify) and self.port is None:
            raise UserError(f"{'--verify' if verify else '--install'}: needs --port PORT; which board is it?")
        if self.install and self.on_bench:
            raise UserError(f"--install: {self.port} is a dish on the bench, whose board has no console to "
                            "install through; leave --install out, and prove the file there with --verify")
        if self.port is not None and not self.masked and not self.install:
            raise UserError(_MASKED)


def align_command(
    sightings: Annotated[Path, typer.Argument(
        help="CSV of sightings: at_utc,axis1_deg,axis2_deg. With --port they are kept there, and added to.")],
    cooker: Annotated[Path | None, typer.Option(help="cooker.toml of the readings.")] = None,
    square: Annotated[bool, typer.Option("--square", help="Fit also the miss of a right angle.")] = False,
    scale: Annotated[bool, typer.Option("--scale", help="Fit also a scale for each axis.")] = False,
    clock: Annotated[float, typer.Option(help="How far the clock may have been off, s.")] = 1.0,
    write: Annotated[bool, typer.Option("--write", help="Put the corrections into the cooker file.")] = False,
    install: Annotated[bool, typer.Option(
        "--install", help="With --write: put that file onto the board of --port as well. Without --masked "
        "nothing moves: the sightings of the CSV are taken as they are.")] = False,
    verify: Annotated[bool, typer.Option(
        "--verify", help="After an install: one sighting, predicted by the settings on the board beside what "
        "is seen. On a bench its board begins with the cooker file.")] = False,
    port: Annotated[str | None, typer.Option(
        "--port", help="Take the sightings now, with --masked: serial port, socket://host:port, or "
        "bench:SCENARIO.")] = None,
    masked: Annotated[bool, typer.Option(
        "--masked", help="I say that the dish is masked. Without this nothing moves.")] = False,
    count: Annotated[int, typer.Option("--count", min=3, max=40, help="Sightings wanted.")] = 6,
    hours: Annotated[float | None, typer.Option(
        "--hours", min=0.5, max=12, help="Spread them over so long at most; else over what is left of the "
        "sun.")] = None,
    proof: Annotated[float, typer.Option(
        "--proof", min=0, max=600, help="Minutes after the fit at which it is proved by one more.")] = 20.0,
    sight: Annotated[str | None, typer.Option(
        "--sight", help="Who reads the sight: keys, or bench (the bench's own sun).")] = None,
    plot: Annotated[Path | None, typer.Option(help="PNG of what the fit leaves over.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
) -> None:
    """Fit how the base stands and where the axes have their zeros to sightings of the sun."""
    extras = (("square_deg",) if square else ()) + (("axis1_scale", "axis2_scale") if scale else ())
    asked = Asked(sightings, extras, clock, port, masked, count, hours, proof, sight, write, install)
    asked.check(cooker, verify)
    one = load_cooker(cooker)
    if verify:
        _verify(asked, one, as_json)
        return
    if port is not None and masked:
        judge = _guided(asked, one)
    else:
        if one.invented:
            typer.echo("no cooker file given: the built-in invented cooker is used", err=True)
        judge = Judge(asked, one)
        judge.fit()
    judge.tell(plot, as_json)
    if write and cooker is not None:
        _write(cooker, judge.found)
    if port is not None:
        _onto_board(asked, cooker)


class Judge:
    """Sightings of a file, their fit and what is said of it."""

    def __init__(self, asked: Asked, cooker: Any) -> None:
        self.asked, self.cooker = asked, cooker
        self.proved: dict[str, Any] = {}

    def fit(self) -> Any:
        """Read the file and fit; the Fit."""
        from .align.advice import advise
        from .align.fit import ALWAYS, fit
        from .align.model import from_cooker
        from .align.sightings import read_sightings

        one, extras = self.cooker, self.asked.extras
        self.seen = read_sightings(self.asked.path, one)
        polar, latitude = one.mount.kind == "polar", one.site.latitude_deg
        self.found = fit(self.seen, from_cooker(one), polar, latitude, extras)
        self.advice = advise(self.seen.only(self.found.used), self.found.values, ALWAYS + extras, one,
                             max(0.03, self.found.rms_deg))
        return self.found

    def supported(self) -> None:
        """Judged where the sightings do not bear the fit."""
        if not self.advice.good:
            raise Judged(f"{self.asked.path}: {self.advice.words}. Nothing was written.")

    def tell(self, plot: Path | None, as_json: bool) -> None:
        """Print what was found. Judged where the sightings or the proof do not bear it out."""
        from .align.plot import plot_residuals
        from .align.words import answer_of, show

        answer = {**answer_of(self.found, self.seen, self.asked.clock_s), **self.proved}
        if plot is not None:
            plot_residuals(plot, self.found, self.seen)
        if as_json:
            words = "" if self.advice.good else self.advice.words
            typer.echo(json.dumps({**answer, "supported": self.advice.good, "advice": words}))
        else:
            show(answer, self.found, self.seen)
        self.supported()
        if self.proved and not self.proved["proof"]["good"]:
            proof = self.proved["proof"]
            raise Judged(f"the proof fell {proof['off_deg']:.2f} deg beside the fit, more than "
                         f"{proof['limit_deg']:.2f}; something moved or slips. Nothing was written.")


def _guided(asked: Asked, cooker: Any) -> Judge:
    """Take sightings over the link until they bear a fit, then fit and prove it."""
    from .align.fit import ALWAYS
    from .align.guided import Kept
    from .align.live import session
    from .align.model import from_cooker
    from .align.proof import by_fit
    from .align.words import CAUTION

    with session(str(asked.port), asked.sight, cooker) as live:
        one = live.cooker
        live.tell(CAUTION)
        if asked.install and "holds" not in live.dish.hello():
            raise UserError(f"--install: the controller on {asked.port} was not started by its loader, as on "
                            "a bench: nothing can be installed there; leave --install out")
        guide = _guide(live)
        kept = Kept.of(asked.path, one)
        if one.invented:
            _tell_cooker(live, asked)
        rests = False
        try:
            guide.take(asked.count, kept, ALWAYS + asked.extras, from_cooker(one), asked.hours,
                       asked.proof_min)
            if not kept.at:
                raise UserError("no sighting was taken; nothing to fit")
            judge = Judge(asked, one)
            found = judge.fit()
            if asked.proof_min and judge.advice.good:
                at = live.utc() + timedelta(minutes=asked.proof_min)
                judge.proved = {"proof": by_fit(guide, found, at, one)}
            if asked.install:
                guide.hands.park()  # the console is given only at rest
                rests = True
        finally:
            if not rests:
                live.leave()
    return judge


def _guide(live: Live) -> Guide:
    """Whoever leads through the sightings, once the board is fit to be aligned."""
    from .align.guided import Guide
    from .align.hands import Hands

    guide = Guide(Hands(live.dish, live.cooker, live.wait), live.cooker, live.sight, live.tell, live.rest,
                  live.utc)
    guide.ready()
    return guide


def _tell_cooker(live: Live, asked: Asked) -> None:
    """Which cooker is used where none was given; a scenario's own is put beside the sightings."""
    from .cooker_writer import cooker_text, write_new

    if not asked.on_bench:
        live.tell("no cooker file given: the built-in invented cooker is used")
        return
    file = asked.path.with_suffix(".cooker.toml")
    there = file.exists()
    if not there:
        values = {f"{section}.{name}": value for section, part in live.cooker.as_dict().items()
                  for name, value in part.items()}
        write_new(file, cooker_text(values, file.name))
    live.tell("no cooker file given: the cooker of the scenario is used; "
              + (f"{file} is there and is left as it is" if there else f"it is in {file}, for --cooker"))


def _verify(asked: Asked, cooker: Any, as_json: bool) -> None:
    """One sighting against the settings on the board. Judged where it falls beside."""
    from .align.live import session
    from .align.proof import by_board, doubt, held
    from .align.words import CAUTION, proof_words

    judge = Judge(asked, cooker)
    found = judge.fit()
    judge.supported()
    port = str(asked.port)
    with session(port, asked.sight, cooker, installed=True) as live:
        if not asked.on_bench:
            held(live.dish.hello(), port, cooker)
        live.tell(CAUTION)
        guide = _guide(live)
        try:
            proof = by_board(guide, found, cooker)
        finally:
            live.leave()
    typer.echo(json.dumps({"proof": proof}) if as_json else proof_words(proof, "the settings on the board"))
    if not proof["good"]:
        raise Judged(f"the board points {proof['off_deg']:.2f} deg beside what was seen, more than "
                     f"{proof['limit_deg']:.2f}: {doubt(proof, cooker)}")


def _write(path: Path, found: Any) -> None:
    from .align.model import KEYS
    from .cooker_edit import edit_cooker

    edit_cooker(path, {KEYS[n]: round(found.values[n], 5) for n in found.fitted if n in KEYS})
    typer.echo(f"Wrote the corrections into {path}.", err=True)


def _onto_board(asked: Asked, cooker: Path | None) -> None:
    """Install the file with the corrections where that is asked for; then what comes next."""
    file = cooker or "FILE"
    again = f"sunhob align {asked.path} --port {asked.port}"
    if asked.on_bench:
        typer.echo("This was the bench, whose board keeps its scenario's settings. What --write puts into a "
                   "file is proved there by --verify; on a dish --install puts it onto the board.", err=True)
        return
    if not asked.install:
        typer.echo(f"The board keeps the settings it has. Next, the dish at rest: {again} --cooker {file} "
                   "--write --install", err=True)
        return
    from .board.put import put, put_words

    try:
        typer.echo(put_words(str(asked.port), put(str(asked.port), load_cooker(cooker))), err=True)
    except (UserError, Judged):
        typer.echo(f"{file} has the corrections, the board has not: mend what the next line tells, then: "
                   f"sunhob board install --port {asked.port} --cooker {file}", err=True)
        raise
    typer.echo("Next, the dish still masked: press LEAVE at the dish, so that it homes itself (set the time, "
               "where it has no clock chip; set north anew, where it was set at the dish: that one counts). "
               f"Then prove it: {again} --masked --cooker {file} --verify", err=True)
