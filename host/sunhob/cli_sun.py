"""`sunhob sun` and `sunhob table`: the board's sun beside SPA. Units: deg, m, Pa, degC, UTC, bytes."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from sunhob import sun_compare
from sunhob.cli_heat import table_heat
from sunhob.errors import UserError
from sunhob.settings import load_cooker
from sunhob.sun_table import MOST_BYTES, build_table, date_of

table_app = typer.Typer(help="The board's tables of sun and heat.", no_args_is_help=True)

table_app.command("heat")(table_heat)

JsonFlag = Annotated[bool, typer.Option("--json", help="One JSON object on standard output, nothing else.")]


def _one_case(
    lat: float | None, lon: float | None, altitude: float, at: str | None, pressure: float | None, temp: float
) -> sun_compare.Case:
    if lat is None or lon is None:
        raise UserError("--lat and --lon: both are needed, in deg; or give --cases FILE.csv")
    when = datetime.now(UTC).replace(microsecond=0) if at is None else sun_compare.parse_time(at)
    sun_compare.within("altitude_m", altitude, "--altitude")
    if pressure is None:
        pressure = sun_compare.standard_pressure_pa(altitude)
    return sun_compare.Case(
        when,
        sun_compare.within("latitude_deg", lat, "--lat"),
        sun_compare.within("longitude_deg", lon, "--lon"),
        altitude,
        sun_compare.within("pressure_pa", pressure, "--pressure"),
        sun_compare.within("temp_c", temp, "--temp"),
    )


def _own_site(
    settings: Path | None, altitude: float | None, at: str | None, pressure: float | None, temp: float | None
) -> sun_compare.Case:
    cooker = load_cooker(settings)
    if cooker.invented:
        typer.echo("no site given: that of the built-in invented cooker is used", err=True)
    lat, lon = float(cooker.value("site.latitude_deg")), float(cooker.value("site.longitude_deg"))
    altitude = float(cooker.value("site.altitude_m")) if altitude is None else altitude
    temp = float(cooker.value("site.temp_c")) if temp is None else temp
    return _one_case(lat, lon, altitude, at, pressure, temp)


def _print_cases(answer: dict[str, Any]) -> None:
    shown = Table(title="The sun: the board's own answer beside SPA (deg)")
    for name in ("at (UTC)", "latitude", "longitude", "board az.", "elev.", "SPA az.", "elev."):
        shown.add_column(name, justify="right", no_wrap=True)
    shown.add_column("apart", justify="right")
    for row in answer["cases"]:
        numbers = [row["latitude_deg"], row["longitude_deg"]]
        for whose in ("board", "spa"):
            numbers += [row[whose]["azimuth_deg"], row[whose]["elevation_deg"]]
        shown.add_row(row["at"], *(f"{number:.4f}" for number in numbers), f"{row['separation_deg']:.6f}")
    console = Console(width=None if Console().is_terminal else 150)
    console.print(shown)
    console.print(f"worst separation {answer['worst_separation_deg']:.6f} deg (engine {answer['engine']})")


def sun_command(
    lat: Annotated[float | None, typer.Option(help="Latitude, deg, north +.")] = None,
    lon: Annotated[float | None, typer.Option(help="Longitude, deg, east +.")] = None,
    altitude: Annotated[float | None, typer.Option(help="Altitude, m; else 0.")] = None,
    at: Annotated[str | None, typer.Option(help="ISO 8601 time, UTC if it has no offset; else now.")] = None,
    pressure: Annotated[float | None, typer.Option(help="Air pressure, Pa; else the standard one.")] = None,
    temp: Annotated[float | None, typer.Option(help="Air temperature, degC; else 15.")] = None,
    cases: Annotated[Path | None, typer.Option(help="CSV: " + ",".join(sun_compare.CASE_COLUMNS))] = None,
    table: Annotated[Path | None, typer.Option(help="Sun table to use; else one is built.")] = None,
    settings: Annotated[
        Path | None, typer.Option(help="cooker.toml whose site serves without --lat.")
    ] = None,
    plot: Annotated[Path | None, typer.Option(help="PNG of this day's sun to write.")] = None,
    engine: Annotated[
        str, typer.Option(help="What runs the board's code: cpython, or micropython as on the board.")
    ] = "cpython",
    as_json: JsonFlag = False,
) -> None:
    """Where the sun is: the board's own answer beside SPA, and their separation."""
    one_case = (lat, lon, altitude, at, pressure, temp, settings, plot)
    if cases is not None and any(value is not None for value in one_case):
        raise UserError("--cases: only --table, --engine and --json go with it; leave the others out")
    if settings is not None and (lat is not None or lon is not None):
        raise UserError("--settings: cannot go with --lat or --lon; give one or the other")
    if cases is not None:
        listed = sun_compare.read_cases(cases)
    elif lat is None and lon is None:
        listed = [_own_site(settings, altitude, at, pressure, temp)]
    else:
        listed = [_one_case(lat, lon, altitude or 0.0, at, pressure, 15.0 if temp is None else temp)]
    file = None if table is None else sun_compare.load_table(table)[0]
    answer = sun_compare.compare(listed, file, engine)
    if plot is not None:
        from sunhob.sun_plot import plot_day

        plot_day(plot, listed[0], file)
    if as_json:
        typer.echo(json.dumps(answer))
    else:
        _print_cases(answer)


@table_app.command("build")
def table_build(
    out: Annotated[Path, typer.Argument(help="File to write.")],
    first_day: Annotated[str | None, typer.Option(help="First valid day, YYYY-MM-DD, UTC; or today.")] = None,
    years: Annotated[float, typer.Option(help="Years it is to serve.")] = 20.0,
    as_json: JsonFlag = False,
) -> None:
    """Write a sun table from SPA."""
    try:
        day = datetime.now(UTC).date() if first_day is None else date.fromisoformat(first_day)
    except ValueError:
        raise UserError(f"--first-day {first_day!r}: not a day; give for example 2026-01-01") from None
    data = build_table(day, years)
    try:
        out.write_bytes(data)
    except OSError as error:
        raise UserError(f"{out}: cannot be written ({error.strerror}); give another file") from None
    facts = _facts(out)
    if as_json:
        typer.echo(json.dumps(facts))
    else:
        typer.echo(f"{out}: {facts['bytes']} bytes, {facts['first_day']} to {facts['last_day']}")


def _facts(path: Path) -> dict[str, Any]:
    data, table = sun_compare.load_table(path)
    return {
        "bytes": len(data),
        "rows": table.rows,
        "step_days": table.step_days,
        "first_day": date_of(table.first_day).isoformat(),
        "last_day": date_of(table.last_day).isoformat(),
    }


@table_app.command("check")
def table_check(
    file: Annotated[Path, typer.Argument(help="Sun table file.")],
    per_site: Annotated[int, typer.Option(help="Directions to try at each site.", min=10, max=200000)] = 4000,
    seed: Annotated[int, typer.Option(help="Seed of the random instants.", min=0)] = 1,
    as_json: JsonFlag = False,
) -> None:
    """Judge a sun table: the board's sun against SPA over sites, hours and years; exit 1 above 0.001 deg."""
    facts = _facts(file)
    table = sun_compare.load_table(file)[1]
    screen = Console(stderr=True)
    with Progress(console=screen, transient=True, disable=as_json or not screen.is_terminal) as progress:
        task = progress.add_task("sites", total=per_site * len(sun_compare.CHECK_LATITUDES_DEG))
        found = sun_compare.table_worst(table, per_site, seed, lambda n: progress.advance(task, n))
    good = found["worst_separation_deg"] <= sun_compare.WORST_ALLOWED_DEG and facts["bytes"] <= MOST_BYTES
    allowed = sun_compare.WORST_ALLOWED_DEG
    answer = {**facts, **found, "allowed_deg": allowed, "engine": "cpython", "ok": good}
    if as_json:
        typer.echo(json.dumps(answer))
    else:
        typer.echo(
            f"{file}: {facts['bytes']} bytes, {facts['rows']} rows of {facts['step_days']} days, "
            f"{facts['first_day']} to {facts['last_day']}\n"
            f"worst separation {found['worst_separation_deg']:.6f} deg of {allowed} allowed, "
            f"in {found['directions']} directions with the sun up\n"
            f"at {found['at']}, latitude {found['latitude_deg']:g} deg, "
            f"longitude {found['longitude_deg']:g} deg, "
            f"elevation {found['elevation_deg']:.3f} deg: {'good' if good else 'falls short'}"
        )
    if not good:
        raise typer.Exit(1)
