"""Picture of `sunhob optics`: heat curves, the pot's underside with its spot, side sections, loose light.

Units: deg, m, kW/m2 in a beam of 1000 W/m2, percent of full heat. The pictures with a pot are drawn for one
elevation of the axis with the sun straight above it, as when the spill leaves below the pot.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from sunhob.plot_file import save_png

from .flux import FluxMap, flux_map
from .geometry import Optics, level_from_dish
from .intercept import Intercept
from .loose import LooseLight
from .plate import dialled_lag_deg
from .rays import BOTTOM, LID, MISSED, PLATE, WALL, Traced, trace
from .standoff import WOOD_W_M2

ELEVATION_DEG, DIRECTION_DEG = 50.0, 0.0
CURVE_ELEVATIONS_DEG = (20.0, 50.0, 80.0)
CURVE_WAYS = ((0.0, "sun above the axis", "-"), (90.0, "to its side", "--"), (180.0, "below it", ":"))
SPOT_CELL_M = 0.01
_RAYS_DRAWN = 90
_SPOT_RAYS, _MAP_RAYS = 1 << 16, 1 << 14


def plot_optics(
    path: Path, optics: Optics, found: Intercept, light: LooseLight, least_percent: float
) -> None:
    """Write the PNG. UserError where it can't be written."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    dialled = dialled_lag_deg(found, least_percent, ELEVATION_DEG, DIRECTION_DEG)
    figure, axes = plt.subplots(2, 3, figsize=(17, 10.5), layout="constrained")
    _heat_curves(axes[0, 0], found, least_percent)
    _loose(axes[1, 0], light)
    drawn = ((1, 0.0, "full heat"), (2, dialled, f"{least_percent:g} % of full heat"))
    for column, lag, words in drawn:
        got = trace(optics, lag, ELEVATION_DEG, DIRECTION_DEG, _SPOT_RAYS)
        _underside(figure, axes[0, column], optics, got, f"{words}, {lag:.1f} deg behind")
        _section(figure, axes[1, column], optics, light, flux_map(optics, lag, _MAP_RAYS), got, words)
    figure.suptitle(
        f"Dish {optics.aperture_diameter_m:g} m, focal length {optics.focal_length_m:g} m, pot "
        f"{optics.pot_diameter_m:g} m; beam 1000 W/m2. Dark glasses; never into the beam.", fontsize=13
    )
    save_png(figure, path, dpi=90)


def _heat_curves(axes: Any, found: Intercept, least_percent: float) -> None:
    """Heat over lag for several elevations (colour) and directions (line)."""
    lags = np.linspace(0.0, min(25.0, float(found.lag_deg[-1])), 200)
    full = float(found.absorbed[0].max())
    for colour, elevation in zip(("tab:blue", "tab:green", "tab:red"), CURVE_ELEVATIONS_DEG, strict=True):
        for way, _words, line in CURVE_WAYS:
            heat = 100.0 * found.at(lags, elevation, way, "absorbed") / full
            axes.plot(lags, heat, line, color=colour)
        axes.plot([], [], color=colour, label=f"axis {elevation:g} deg up")
    for _way, words, line in CURVE_WAYS:
        axes.plot([], [], line, color="0.3", label=words)
    axes.axhline(least_percent, color="0.6", linewidth=0.8)
    axes.text(lags[-1], least_percent + 1.0, "least heat", ha="right", color="0.4")
    axes.set(xlabel="lag behind the sun (deg)", ylabel="heat (percent of full heat)", ylim=(0, 105),
             xlim=(0, lags[-1]), title=f"Heat; full heat is {found.full_heat_w_at_1000:.0f} W")
    axes.legend()


def _loose(axes: Any, light: LooseLight) -> None:
    """Strongest light anywhere, and beyond the guarded sphere, over lag."""
    lag = [row["lag_deg"] for row in light.peaks]
    axes.semilogy(lag, [row["peak_suns"] for row in light.peaks], "o-", color="tab:orange", label="anywhere")
    axes.semilogy(lag, [row["beyond_guarded_suns"] for row in light.peaks], "s-", color="tab:red",
                  label=f"over {light.clear.guarded_m:.2f} m from the focus")
    axes.axhline(WOOD_W_M2 / 1e3, color="0.4", linestyle="--", label="4 kW/m2: wood may ignite in time")
    axes.axvline(light.clear.loose_clear_deg, color="0.6", linewidth=0.8)
    axes.text(light.clear.loose_clear_deg - 0.7, 22.0, f"clear from {light.clear.loose_clear_deg:.1f} deg",
              rotation=90, ha="right", va="bottom", color="0.4")
    axes.set(xlabel="off the sun (deg)", ylabel=f"strongest light in {light.cell_m * 100:.0f} cm (kW/m2)",
             xlim=(-2, 92), ylim=(1.0, 4000.0), title="Loose light, the pot away")
    axes.legend(loc="upper right")


def _underside(figure: Any, axes: Any, optics: Optics, got: Traced, words: str) -> None:
    """The pot's bottom from below, the way the axis leans at the top."""
    radius = optics.pot_diameter_m / 2.0
    on = got.hit == BOTTOM
    place = (got.rays.point_m + got.distance_m * got.rays.ray)[:2, on]
    edge = np.arange(-radius - SPOT_CELL_M, radius + 2.0 * SPOT_CELL_M, SPOT_CELL_M)
    watts = got.rays.power[on] * optics.returned * optics.aperture_m2  # kW in 1 kW/m2
    flux = np.histogram2d(place[1], place[0], bins=(edge, edge), weights=watts)[0] / SPOT_CELL_M**2
    shown = axes.pcolormesh(edge, edge, flux, cmap="inferno", vmin=0.0)
    figure.colorbar(shown, ax=axes, label=f"light on the bottom (kW/m2, {SPOT_CELL_M * 100:.0f} cm cells)")
    turn = np.linspace(0.0, 2.0 * np.pi, 200)
    axes.plot(radius * np.cos(turn), radius * np.sin(turn), color="white")
    axes.plot(0.0, 0.0, "+", color="cyan", markersize=12)
    shares = {name: float(got.rays.power[got.hit == code].sum()) for name, code in
              (("bottom", BOTTOM), ("wall", WALL), ("lid", LID), ("plate", PLATE), ("past it", MISSED))}
    told = ", ".join(f"{name} {100 * share:.0f} %" for name, share in shares.items() if share > 0.004)
    # seen from below with "forward" at the top, the right hand lies to the left
    axes.set(xlabel="m to the right, looking out along the axis (seen from below: on the left)",
             ylabel="m forward, the way the dish leans", aspect="equal", xlim=(edge[-1], edge[0]),
             ylim=(edge[0], edge[-1]), title=f"Pot from below at {words}\n{told}")
    axes.set_facecolor("black")


def _section(figure: Any, axes: Any, optics: Optics, light: LooseLight, one: FluxMap, got: Traced,
             words: str) -> None:
    """Upright section through dish and pot: flux, guarded sphere, and a thin slice of rays."""
    _flux_slab(figure, axes, one)
    _rays(axes, optics, got)
    turn = np.linspace(0.0, 2.0 * np.pi, 200)
    guarded = light.clear.guarded_m
    circle = guarded * np.stack([np.cos(turn), np.sin(turn)])
    axes.plot(circle[0], circle[1], "--", color="tab:blue", label="guarded volume")
    _dish(axes, optics)
    radius, low = optics.pot_diameter_m / 2.0, optics.pot_bottom_above_focus_m
    top = optics.pot_top_above_focus_m
    axes.fill([-radius, radius, radius, -radius], [low, low, top, top], color="0.25", alpha=0.8, label="pot")
    if optics.guard_diameter_m:
        level, edge = -optics.guard_below_focus_m, optics.guard_diameter_m / 2.0
        axes.plot([-edge, -radius], [level, level], color="tab:green", linewidth=4, label="guard plate")
        axes.plot([radius, edge], [level, level], color="tab:green", linewidth=4)
    reach = 1.9 * optics.focal_length_m
    axes.set(xlabel="m forward of the focus", ylabel="m above the focus", aspect="equal",
             xlim=(-reach, reach), ylim=(-reach, reach), title=f"Side section, {words} (sun: upper right)")
    axes.legend(loc="upper left", fontsize=9)


def _flux_slab(figure: Any, axes: Any, one: FluxMap) -> None:
    from matplotlib.colors import LogNorm

    up = one.low_m[1] + one.cell_m * np.arange(one.flux_w_m2.shape[1])
    out = one.low_m[2] + one.cell_m * np.arange(one.flux_w_m2.shape[2])
    turn = level_from_dish(ELEVATION_DEG)
    forward = turn[1, 1] * up[:, None] + turn[1, 2] * out[None, :]
    height = turn[2, 1] * up[:, None] + turn[2, 2] * out[None, :]
    flux = one.flux_w_m2[0] / 1e3
    seen = np.ma.masked_less(flux, 0.5)
    scale = LogNorm(0.5, 1000.0)
    shown = axes.pcolormesh(forward, height, seen, cmap="YlOrRd", norm=scale, shading="nearest")
    figure.colorbar(shown, ax=axes, label="flux with the pot away (kW/m2)")
    axes.contour(forward, height, flux, levels=[WOOD_W_M2 / 1e3], colors="tab:red", linewidths=1.2)
    axes.plot([], [], color="tab:red", label="4 kW/m2")


def _rays(axes: Any, optics: Optics, got: Traced) -> None:
    """A few rays near the plane of the section, on the pot in grey, past it in red, on the plate in green."""
    start, way = got.rays.point_m, got.rays.ray
    near = np.flatnonzero((np.abs(start[0]) < 0.02) & (np.abs(way[0]) < 0.05) & (got.hit <= PLATE))
    far = np.minimum(got.distance_m, 3.0 * optics.focal_length_m)
    for i in near[:: max(1, near.size // _RAYS_DRAWN)]:
        colour = {MISSED: "tab:red", PLATE: "tab:green"}.get(int(got.hit[i]), "0.45")
        ends = start[1:, i, None] + way[1:, i, None] * np.array([0.0, far[i]])
        axes.plot(ends[0], ends[1], color=colour, linewidth=0.4)
    for colour, words in (("0.45", "ray to the pot"), ("tab:red", "ray past it")):
        axes.plot([], [], color=colour, linewidth=0.8, label=words)


def _dish(axes: Any, optics: Optics) -> None:
    radius = optics.aperture_diameter_m / 2.0
    up = np.linspace(-radius, radius, 100)
    out = up**2 / (4.0 * optics.focal_length_m) - optics.focal_length_m
    turn = level_from_dish(ELEVATION_DEG)
    forward, height = turn[1, 1] * up + turn[1, 2] * out, turn[2, 1] * up + turn[2, 2] * out
    axes.plot(forward, height, color="black", linewidth=2.5, label="mirror")
