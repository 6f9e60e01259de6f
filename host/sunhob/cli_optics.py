"""`sunhob optics`: the light on the pot, traced. Units: m, m2, deg, mrad, W, shares 0..1."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo

import numpy as np
import typer
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from sunhob.errors import UserError
from sunhob.optics import loose_report
from sunhob.optics.concentration import peak_concentration
from sunhob.optics.geometry import Optics, optics_fingerprint, optics_of
from sunhob.optics.intercept import (
    DIRECTIONS_DEG,
    ELEVATIONS_DEG,
    LAGS_DEG,
    Intercept,
    cached_intercept,
    intercept,
)
from sunhob.optics.loose import FULL_RAYS, LEAST_RAYS, LooseLight, loose_light, loose_parts
from sunhob.settings import load_cooker

_SHOWN_DIRECTIONS = (0.0, 90.0, 180.0)
_MOST_POINTS = 100_000


def _grid(option: str, text: str | None, default: tuple[float, ...]) -> list[float]:
    """A grid from '0,5,10' or '0:40:2' (first, last, step), deg."""
    if text is None:
        return [float(value) for value in default]
    try:
        if ":" in text:
            first, last, step = (float(part) for part in text.split(":"))
            count = round((last - first) / step) + 1
            if not 1 <= count <= _MOST_POINTS:
                raise ValueError
            return [first + step * i for i in range(count)]
        return [float(part) for part in text.split(",")]
    except (ValueError, ZeroDivisionError, OverflowError):
        raise UserError(
            f"{option} {text!r}: not a grid in deg; give for example 0,5,10 or 0:40:2 (first:last:step)"
        ) from None


@contextmanager
def _progress(words: str) -> Iterator[Callable[[int, int], None]]:
    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def facts(optics: Optics, found: Intercept, fingerprint: int) -> dict[str, Any]:
    """What `--json` prints; every number's unit is at the end of its key, shares have none."""

    def listed(values: Any) -> Any:
        return np.round(values, 6).tolist()

    return {
        "aperture_diameter_m": optics.aperture_diameter_m,
        "focal_length_m": optics.focal_length_m,
        "centre_hole_m": optics.centre_hole_m,
        "slope_error_mrad": optics.slope_error_mrad,
        "specularity_mrad": optics.specularity_mrad,
        "reflectance": optics.reflectance,
        "soiling": optics.soiling,
        "arm_shade": optics.arm_shade,
        "pot": {
            "diameter_m": optics.pot_diameter_m,
            "height_m": optics.pot_height_m,
            "bottom_above_focus_m": optics.pot_bottom_above_focus_m,
            "bottom_absorptance": optics.bottom_absorptance,
            "wall_absorptance": optics.wall_absorptance,
            "lid_absorptance": optics.lid_absorptance,
        },
        "guard": {"diameter_m": optics.guard_diameter_m, "below_focus_m": optics.guard_below_focus_m},
        "aperture_m2": optics.aperture_m2,
        "rim_angle_deg": optics.rim_angle_deg,
        "full_heat_w_at_1000": found.full_heat_w_at_1000,
        "full_heat_elevation_deg": found.full_heat_elevation_deg,
        "intercept": {
            "lag_deg": listed(found.lag_deg),
            "elevation_deg": listed(found.elevation_deg),
            "direction_deg": listed(found.direction_deg),
            "fraction": listed(found.fraction),
            "absorbed": listed(found.absorbed),
            "standard_error": listed(found.standard_error),
            "stray": listed(found.stray),
            "over_lid": listed(found.over_lid),
            "shaded": listed(found.parts["shaded"]),
        },
        "worst_standard_error": float(found.standard_error.max()),
        "peak_concentration": peak_concentration(optics, seed=found.seed),
        "pot_clear_deg": found.pot_clear_deg,
        "rays": found.rays,
        "seed": found.seed,
        "fingerprint": fingerprint,
        "wall_s": found.wall_s,
    }


def _show(answer: dict[str, Any], found: Intercept, label: str) -> None:
    middle = float(found.elevation_deg[np.argmin(np.abs(found.elevation_deg - 50.0))])
    ways = [way for way in _SHOWN_DIRECTIONS if way in found.direction_deg] or [float(found.direction_deg[0])]
    shown = Table(title=f"Share of the light on the pot of {label}")
    shown.add_column("lag (deg)", justify="right")
    for way in ways:
        name = {0.0: "above", 90.0: "right", 180.0: "below"}.get(way, "off")
        shown.add_column(f"axis {middle:g} up,\nsun {name} ({way:g})", justify="right")
    for name in ("least of all", "most of all", "most over\nthe lid"):
        shown.add_column(name, justify="right")
    for i, lag in enumerate(found.lag_deg):
        here = found.fraction[i]
        row = [f"{float(found.at(lag, middle, way)):.3f}" for way in ways]
        ends = (here.min(), here.max(), found.over_lid[i].max())
        shown.add_row(f"{lag:g}", *row, *(f"{float(value):.3f}" for value in ends))
    Console().print(shown)
    typer.echo(
        f"aperture {answer['aperture_m2']:.3f} m2, rim angle {answer['rim_angle_deg']:.1f} deg, peak "
        f"{answer['peak_concentration']:.0f} suns before the mirror's losses\n"
        f"full heat {answer['full_heat_w_at_1000']:.0f} W in a beam of 1000 W/m2; "
        f"off the pot (under 1 %) {_told(answer['pot_clear_deg'])}\n"
        f"{found.rays} rays at each of {found.fraction.size} points in {found.wall_s:.1f} s, "
        f"standard error {answer['worst_standard_error']:.5f} at worst"
    )


def _told(clear_deg: float | None) -> str:
    return "nowhere within these lags" if clear_deg is None else f"from {clear_deg:.1f} deg of lag"


def optics_command(
    cooker: Annotated[
        Path | None, typer.Option("--cooker", "--settings", help="cooker.toml; else the invented cooker.")
    ] = None,
    rays: Annotated[int, typer.Option(help="Rays at each point, at least.", min=256, max=10**8)] = 100_000,
    seed: Annotated[int, typer.Option(help="Seed of the rays.", min=0)] = 1,
    lag: Annotated[str | None, typer.Option(help="Lags, deg: 0,5,10 or 0:40:2.")] = None,
    elevation: Annotated[str | None, typer.Option(help="Elevations of the axis, deg.")] = None,
    direction: Annotated[
        str | None, typer.Option(help="Directions of the sun from the axis, deg: 0 up, 90 right.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--date", help="Day of the dead mount's times, YYYY-MM-DD; else today.")
    ] = None,
    plot: Annotated[Path | None, typer.Option(help="PNG to write: heat curves, spot, side section.")] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="One JSON object on standard output, nothing else.")
    ] = False,
) -> None:
    """Light on the pot over lag, elevation and direction, by ray trace; where the rest goes."""
    settings = load_cooker(cooker)
    if settings.invented:
        typer.echo("no file given: the built-in invented cooker is used", err=True)
    optics = optics_of(settings)
    when = _day(day)
    grids = (
        _grid("--lag", lag, LAGS_DEG),
        _grid("--elevation", elevation, ELEVATIONS_DEG),
        _grid("--direction", direction, DIRECTIONS_DEG),
    )
    with _progress("tracing rays") as progress:
        found = intercept(optics, *grids, rays, seed, progress)
    whole = found if lag is elevation is direction is None else _whole_grid(optics)
    light = _loose(optics, whole, rays, seed)
    walked = loose_report.walks(settings, whole, light.clear.loose_clear_deg, when)
    answer = facts(optics, found, optics_fingerprint(settings))
    answer |= loose_report.facts(optics, whole, light, walked, settings.heat.least_percent)
    if plot is not None:
        from sunhob.optics.plots import plot_optics

        with _progress("drawing"):
            plot_optics(plot, optics, whole, light, settings.heat.least_percent)
    if as_json:
        typer.echo(json.dumps(answer))
        return
    _show(answer, found, settings.label)
    for line in loose_report.words(optics, light, walked, ZoneInfo(settings.site.timezone)):
        typer.echo(line)
    typer.echo(loose_report.CAUTIONS)


def _day(text: str | None) -> date:
    try:
        return datetime.now(UTC).date() if text is None else date.fromisoformat(text)
    except ValueError:
        raise UserError(f"--date {text!r}: not a day; give for example 2026-03-01") from None


def _whole_grid(optics: Optics) -> Intercept:
    """What the dial does over every attitude, where the grid asked for is another."""
    with _progress("tracing rays") as progress:
        return cached_intercept(optics, progress)


def _loose(optics: Optics, found: Intercept, rays: int, seed: int) -> LooseLight:
    """The loose light, with a power of two of rays a map: as many as asked for, LEAST_RAYS to FULL_RAYS."""
    count = 1 << max(LEAST_RAYS.bit_length() - 1, min(FULL_RAYS.bit_length() - 1, rays.bit_length() - 1))
    done, parts = 0, loose_parts()
    with _progress("tracing loose light") as progress:

        def tell(more: int) -> None:
            nonlocal done
            done += more
            progress(min(done, parts), parts)

        return loose_light(optics, found, count, seed, tell)
