"""The pictures of the report. Units: degrees, deg C, kg, W, W/m2, civil time."""

import itertools
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import matplotlib

matplotlib.use("Agg")

import matplotlib.dates as mdates
import matplotlib.pyplot as plt
import numpy as np
from sunhob_board.declared import modes

from .plot_file import save_png
from .report_story import pot_events
from .run_result import RunResult

_MODE_COLOURS = ("#9aa5b1", "#f2c14e", "#e4572e", "#2e86ab", "#6a4c93", "#8d5524", "#222222", "#7bb661")

_LEVELS = 4  # heights of the labels over the curves


def _times(result: RunResult) -> np.ndarray:
    zone = ZoneInfo(result.timezone)
    start = result.start.astimezone(zone).replace(tzinfo=None)
    return np.array([start + timedelta(seconds=float(t)) for t in result.trace.t_s])


def _finish(fig, path: Path) -> None:
    for ax in fig.axes:
        if isinstance(ax.xaxis.get_major_locator(), mdates.AutoDateLocator):
            ax.xaxis.set_major_formatter(mdates.DateFormatter("%H:%M"))
    fig.tight_layout()
    fig.savefig(path, dpi=110)
    plt.close(fig)


def sky_path(result: RunResult, path: Path) -> None:
    """Sun and dish on the sky, drawn as on a map: north up, east to the right, the zenith in the middle."""
    trace = result.trace
    fig = plt.figure(figsize=(7, 7))
    ax: Any = fig.add_subplot(projection="polar")
    ax.set_theta_zero_location("N")
    ax.set_theta_direction(-1)
    ax.plot(np.radians(trace.sun_azimuth_deg), 90 - trace.sun_elevation_deg, color="#f2a900", lw=5,
            label="sun")
    ax.plot(np.radians(trace.dish_azimuth_deg), 90 - trace.dish_elevation_deg, color="#1b4965", lw=1.2,
            label="dish")
    ax.set_rlim(0, 95)
    ax.set_yticks([0, 30, 60, 90], ["90°", "60°", "30°", "0°"])
    ax.set_rlabel_position(315)
    ax.set_xticks(np.radians([0, 90, 180, 270]), ["N", "E", "S", "W"])
    ax.legend(loc="lower right")
    ax.set_title("Path of the sun and of the dish axis")
    _finish(fig, path)


def pointing(result: RunResult, path: Path) -> None:
    """Pointing error from the wanted aim while following, and separation from the sun."""
    when, trace = _times(result), result.trace
    fig, (top, low) = plt.subplots(2, 1, figsize=(10, 6), sharex=True)
    top.plot(when, trace.error_deg, color="#b3261e", lw=0.6)
    top.axhline(0.05, color="#888", ls="--", lw=0.8, label="0.05° goal for 95 % of the time")
    top.set_ylabel("error from the wanted aim [deg]")
    finite = trace.error_deg[np.isfinite(trace.error_deg)]
    top.set_ylim(0, max(0.1, 1.2 * float(np.percentile(finite, 99.5))) if finite.size else 0.1)
    top.legend(loc="upper right")
    low.plot(when, np.maximum(trace.separation_deg, 0.005), color="#1b4965", lw=0.8)
    low.set_yscale("log")
    low.set_ylabel("dish from the sun [deg]")
    top.set_title("Pointing")
    low.xaxis.set_major_locator(mdates.AutoDateLocator())
    _finish(fig, path)


def heat(result: RunResult, path: Path) -> None:
    """Heat asked for against heat that the pot takes up, and the sun's beam."""
    when, trace = _times(result), result.trace
    fig, (top, low) = plt.subplots(2, 1, figsize=(10, 6.5), sharex=True, height_ratios=(2, 1))
    asked_w = trace.asked_fraction * trace.full_heat_w if trace.full_heat_w.size else None
    if asked_w is not None:
        top.plot(when, trace.full_heat_w, color="#f2a900", lw=0.8, ls=":", label="full heat at that sun")
        top.plot(when, np.where(asked_w > 0.0, asked_w, np.nan), color="#9aa5b1", lw=5, label="asked")
    if trace.hand_heat_w.size:
        top.plot(when, trace.hand_heat_w, color="#2e86ab", lw=0.7, label=_hand(result))
    top.plot(when, trace.heat_w, color="#b3261e", lw=1.0, label="delivered")
    top.set_ylabel("heat into the pot [W]")
    top.set_ylim(0, 1.3 * max(1.0, float(trace.heat_w.max())))
    top.legend(loc="upper center", ncol=4, frameon=False)
    top.set_title("Heat asked and heat delivered")
    low.fill_between(when, trace.dni_w_m2, color="#f2a900", alpha=0.5, lw=0)
    low.set_ylabel("sun's beam [W/m²]")
    low.set_ylim(0, 1.1 * max(1.0, float(trace.dni_w_m2.max())))
    low.xaxis.set_major_locator(mdates.AutoDateLocator())
    _finish(fig, path)


def _hand(result: RunResult) -> str:
    return f"by hand every {result.by_hand['every_min']:.0f} min"


def pot(result: RunResult, path: Path) -> None:
    """Temperatures of the pot through the day, and the water in it and gone from it."""
    when, trace = _times(result), result.trace
    fig, (top, low) = plt.subplots(2, 1, figsize=(10, 8), sharex=True, height_ratios=(3, 1))
    boil_c = result.pot["boil_c"]
    top.axhline(boil_c, color="#888", ls="--", lw=0.8, label=f"water boils, {boil_c:.1f} °C")
    top.axhline(result.pot["air_c"], color="#9aa5b1", ls=":", lw=1.0, label="air")
    top.plot(when, trace.underside_c, color="#f6ae2d", lw=1.0, label="underside")
    if trace.hand_contents_c.size:
        top.plot(when, trace.hand_contents_c, color="#2e86ab", lw=1.0, label=f"contents {_hand(result)}")
    top.plot(when, trace.set_c, color="#7bb661", lw=3, alpha=0.8, label="temperature asked for")
    top.plot(when, trace.contents_c, color="#b3261e", lw=1.6, label="contents")
    high = max(float(trace.underside_c.max()), boil_c)
    top.set_ylim(0, 1.33 * high)
    _labels(top, result, high)
    top.set_ylabel("temperature [°C]")
    top.legend(loc="lower center", ncol=3, frameon=False)
    top.set_title("In the pot")
    low.plot(when, trace.water_kg, color="#2e86ab", lw=1.4, label="water in the pot")
    if trace.boiled_kg.size:
        low.plot(when, trace.boiled_kg, color="#9aa5b1", lw=1.4, label="gone as steam, all day")
    low.set_ylabel("water [kg]")
    low.set_ylim(bottom=0, top=1.35 * max(0.1, float(trace.water_kg.max())))
    low.legend(loc="upper right", ncol=2, frameon=False)
    low.xaxis.set_major_locator(mdates.AutoDateLocator())
    _finish(fig, path)


def _labels(ax: Any, result: RunResult, high: float) -> None:
    """Mark what became of the pot above the curves; neighbours stand at different heights."""
    zone, last_s, level = ZoneInfo(result.timezone), -1e9, _LEVELS
    for t_s, label, _ in pot_events(result):
        if not label:
            continue
        level = (level - 1) % _LEVELS if t_s - last_s < 0.12 * result.simulated_s else _LEVELS - 1
        last_s = t_s
        at = result.at(t_s).astimezone(zone).replace(tzinfo=None)
        top = high * (1.05 + 0.06 * level)
        ax.plot([at, at], [high * 0.97, top], color="#444", lw=0.8)
        ax.text(at, top, f" {label} {at:%H:%M}", va="center", ha="left", fontsize=9)


def modes_strip(result: RunResult, path: Path) -> None:
    """A coloured strip of the modes over the day."""
    when, mode = _times(result), result.trace.mode
    fig, ax = plt.subplots(figsize=(10, 2.6))
    turns = np.flatnonzero(np.diff(mode)) + 1
    edges = [0, *turns.tolist(), len(mode) - 1]
    for first, last in itertools.pairwise(edges):
        ax.axvspan(when[first], when[last], color=_MODE_COLOURS[int(mode[first])], lw=0)
    for row in sorted(set(mode.astype(int).tolist())):
        ax.plot([], [], color=_MODE_COLOURS[row], lw=8, label=modes.NAMES[row].replace("_", " "))
    ax.set_yticks([])
    ax.set_xlim(when[0], when[-1])
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.18), ncol=len(modes.NAMES), frameon=False)
    ax.set_title("What the controller was doing")
    ax.xaxis.set_major_locator(mdates.AutoDateLocator())
    _finish(fig, path)


PLOTS = {"pot": pot, "heat": heat, "modes": modes_strip, "pointing": pointing, "sky": sky_path}
NEEDS_POT = {"pot"}


def plot_page(dots: np.ndarray, path: Path) -> None:
    """The display's dots (rows x columns of bool) as lit dots on dark, to a PNG."""
    figure = plt.figure(figsize=(dots.shape[1] / 20.0, dots.shape[0] / 20.0), facecolor="black")
    axes = figure.add_axes((0.02, 0.04, 0.96, 0.92))
    axes.imshow(dots, cmap="gray", interpolation="nearest", vmin=0, vmax=1)
    axes.set_axis_off()
    save_png(figure, path)
