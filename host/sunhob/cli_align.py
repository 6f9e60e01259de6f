"""`sunhob align`: sightings in, how the mount stands out. Units: deg, s, h, UTC."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from .errors import Judged, UserError
from .settings import load_cooker

_CLOCK_DEG_PER_S = 15.041 / 3600.0
_CAUTION = (
    "Take sightings with the dish masked and by the shadow sight only: never look along the dish at the "
    "sun, and keep everyone out of the space in front of it."
)
_NEXT = (
    "The link cannot change the settings on the board. Next: install them (sunhob board install), home the "
    "dish, sight the sun once by nudging and: sunhob dish set north --port {port}"
)


@dataclass(frozen=True)
class Guided:
    """What a guided alignment is asked for."""

    port: str
    count: int
    hours: float | None
    proof_min: float
    sight: str | None


def align_command(
    sightings: Annotated[Path, typer.Argument(
        help="CSV of sightings: at_utc,axis1_deg,axis2_deg. With --port they are kept there, and added to.")],
    cooker: Annotated[Path | None, typer.Option(help="cooker.toml of the readings.")] = None,
    square: Annotated[bool, typer.Option("--square", help="Fit also the miss of a right angle.")] = False,
    scale: Annotated[bool, typer.Option("--scale", help="Fit also a scale for each axis.")] = False,
    clock: Annotated[float, typer.Option(help="How far the clock may have been off, s.")] = 1.0,
    write: Annotated[bool, typer.Option("--write", help="Put the corrections into the cooker file.")] = False,
    port: Annotated[str | None, typer.Option(
        "--port", help="Take the sightings now: serial port, socket://host:port, or bench:SCENARIO.")] = None,
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
    if write and cooker is None:
        raise UserError("--write: needs --cooker FILE; there is no file to put the corrections into")
    if not 0.0 <= clock <= 3600.0:
        raise UserError(f"--clock = {clock} is outside 0 to 3600 s; give how far the clock may have been off")
    one = load_cooker(cooker)
    extras = (("square_deg",) if square else ()) + (("axis1_scale", "axis2_scale") if scale else ())
    if port is None:
        if one.invented:
            typer.echo("no cooker file given: the built-in invented cooker is used", err=True)
        judge = Judge(sightings, one, extras, clock)
        judge.fit()
    else:
        if not masked:
            raise UserError("masked: not said, needed for any move; mask the dish whole and add --masked")
        judge = _guided(Guided(port, count, hours, proof, sight), sightings, one, extras, clock)
    judge.tell(plot, as_json, port)
    if write and cooker is not None:
        _write(cooker, judge.found)


class Judge:
    """Sightings of a file, their fit and what is said of it."""

    def __init__(self, path: Path, cooker: Any, extras: tuple[str, ...], clock_s: float) -> None:
        self.path, self.cooker, self.extras, self.clock_s = path, cooker, extras, clock_s
        self.proved: dict[str, Any] = {}

    def fit(self) -> Any:
        """Read the file and fit; the Fit."""
        from .align.advice import advise
        from .align.fit import ALWAYS, fit
        from .align.model import from_cooker
        from .align.sightings import read_sightings

        one = self.cooker
        self.seen = read_sightings(self.path, one)
        self.found = fit(self.seen, from_cooker(one), one.mount.kind == "polar", one.site.latitude_deg,
                         self.extras)
        self.advice = advise(self.seen.only(self.found.used), self.found.values, ALWAYS + self.extras, one,
                             max(0.03, self.found.rms_deg))
        return self.found

    def tell(self, plot: Path | None, as_json: bool, port: str | None) -> None:
        """Print what was found. Judged where the sightings do not bear it out."""
        from .align.plot import plot_residuals

        answer = {**_answer(self.found, self.seen, self.clock_s), **self.proved}
        if plot is not None:
            plot_residuals(plot, self.found, self.seen)
        if as_json:
            words = "" if self.advice.good else self.advice.words
            typer.echo(json.dumps({**answer, "supported": self.advice.good, "advice": words}))
        else:
            _show(answer, self.found, self.seen)
        if not self.advice.good:
            raise Judged(f"{self.path}: {self.advice.words}. Nothing was written.")
        if self.proved and not self.proved["proof"]["good"]:
            proof = self.proved["proof"]
            raise Judged(f"the proof fell {proof['off_deg']:.2f} deg beside the fit, more than "
                         f"{proof['limit_deg']:.2f}; something moved or slips. Nothing was written.")
        if port is not None:
            typer.echo(_NEXT.format(port=port), err=True)


def _guided(asked: Guided, path: Path, cooker: Any, extras: tuple[str, ...], clock_s: float) -> Judge:
    """Take sightings over the link until they bear a fit, then fit and prove it."""
    from .align.fit import ALWAYS
    from .align.guided import Guide, Kept
    from .align.hands import Hands
    from .align.live import session
    from .align.model import from_cooker

    with session(asked.port, asked.sight, cooker) as live:
        one = live.cooker
        if one.invented:
            live.tell("no cooker file given: the built-in invented cooker is used")
        live.tell(_CAUTION)
        guide = Guide(Hands(live.dish, one, live.wait), one, live.sight, live.tell, live.rest, live.utc)
        guide.ready()
        kept = Kept.of(path, one)
        try:
            guide.take(asked.count, kept, ALWAYS + extras, from_cooker(one), asked.hours, asked.proof_min)
            if not kept.at:
                raise UserError("no sighting was taken; nothing to fit")
            judge = Judge(path, one, extras, clock_s)
            found = judge.fit()
            if asked.proof_min and judge.advice.good:
                judge.proved = {"proof": _proof(guide, found, asked.proof_min, one)}
        finally:
            live.leave()
    return judge


def _proof(guide: Any, found: Any, minutes: float, cooker: Any) -> dict[str, Any]:
    """One more sighting against the fit. It may miss by what the fit and its own sight allow, at 99 %."""
    from .align.advice import pointing_error_deg

    got: dict[str, Any] = guide.verify(found, minutes)
    each_way = max(found.rms_deg, 0.03) / math.sqrt(2.0)
    spread = math.hypot(pointing_error_deg(found, cooker, got["at_utc"]), each_way)
    limit = spread * math.sqrt(-2.0 * math.log(0.01)) * found.spread() / 1.96
    return {**got, "limit_deg": limit, "good": got["off_deg"] <= limit}


def _answer(found: Any, seen: Any, clock_s: float) -> dict[str, Any]:
    names = (*found.fitted[:3], "axis1_zero_deg", "axis2_zero_deg")
    return {
        **{name: found.values[name] for name in names},
        **{name: found.values[name] for name in found.fitted if name not in names},
        "rms_deg": found.rms_deg,
        "sightings": int(found.used.sum()),
        "left_out": [i + 1 for i in range(len(seen)) if not found.used[i]],
        "standard_error_deg": dict(found.standard_error),
        "times_for_95_percent": found.spread(),
        "clock_uncertainty_s": clock_s,
        "clock_uncertainty_deg": clock_s * _CLOCK_DEG_PER_S,
        "clock": _clock_state(seen),
    }


def _clock_state(seen: Any) -> dict[str, Any]:
    """What the sightings tell of the board's clock: whence it had its time, and how far off the host's."""
    off = [s for _source, s in seen.clock if not math.isnan(s)]
    return {"sources": sorted({source for source, _s in seen.clock if source}),
            "least_off_s": min(off) if off else None, "most_off_s": max(off) if off else None}


def _signed(seconds: float) -> str:
    """+0.3, -0.3, and 0.0 without a sign."""
    return f"{round(seconds, 1):+.1f}" if round(seconds, 1) else "0.0"


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
    if "proof" in answer:
        proof = answer["proof"]
        console.print(f"Proof at {proof['at_utc']}: {proof['off_deg']:.3f} deg beside the fit, "
                      f"{proof['limit_deg']:.3f} allowed.")
    console.print(
        f"A clock {answer['clock_uncertainty_s']:g} s wrong would turn all of this by "
        f"{answer['clock_uncertainty_deg']:.3f} deg about the pole, and no sighting would show it."
    )
    if answer["clock"]["most_off_s"] is not None:
        console.print(f"The board's clock ({' and '.join(answer['clock']['sources'])}) was "
                      f"{_signed(answer['clock']['least_off_s'])} to "
                      f"{_signed(answer['clock']['most_off_s'])} s off this computer's.")
    if found.values.get("axis1_scale") or found.values.get("axis2_scale"):
        console.print("A scale belongs into axisN.steps_per_turn: divide it by 1 + scale.")
    console.print(_CAUTION)


def _write(path: Path, found: Any) -> None:
    from .align.model import KEYS
    from .cooker_edit import edit_cooker

    edit_cooker(path, {KEYS[n]: round(found.values[n], 5) for n in found.fitted if n in KEYS})
    typer.echo(f"Wrote the corrections into {path}. Put it on the board, then look at the sight.", err=True)


