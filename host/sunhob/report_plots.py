"""The pictures of the report. Units: degrees, fraction of full heat, W, W/m2, civil time."""

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

from .run_result import RunResult

_MODE_COLOURS = ("#9aa5b1", "#f2c14e", "#e4572e", "#2e86ab", "#f6ae2d", "#8e6c8a", "#222222", "#7bb661")
_ON_SUN = (modes.COOKING,)


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
    """Sun and dish on the sky, seen from below the zenith: north up, east to the right."""
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
    """Heat asked by the dial against heat delivered, and the sun's beam."""
    when, trace = _times(result), result.trace
    fig, (top, low) = plt.subplots(2, 1, figsize=(10, 6), sharex=True)
    top.plot(when, 100 * trace.asked_fraction, color="#9aa5b1", lw=5, drawstyle="steps-post",
             label="asked")
    top.plot(when, 100 * trace.fraction, color="#b3261e", lw=1.0, label="delivered")
    top.set_ylabel("heat [% of full at that sun]")
    top.set_ylim(-3, 125)
    top.legend(loc="upper right", ncol=2)
    top.set_title("Heat dial and heat delivered")
    low.fill_between(when, trace.heat_w, color="#e4572e", alpha=0.6, lw=0, label="heat into the pot [W]")
    low.plot(when, trace.dni_w_m2, color="#f2a900", lw=0.9, label="sun's beam [W/m²]")
    low.set_ylim(0, 1.25 * max(1.0, float(trace.heat_w.max()), float(trace.dni_w_m2.max())))
    low.legend(loc="upper right", ncol=2)
    low.xaxis.set_major_locator(mdates.AutoDateLocator())
    _finish(fig, path)


def modes_strip(result: RunResult, path: Path) -> None:
    """A coloured strip of the modes over the day."""
    when, mode = _times(result), result.trace.mode
    fig, ax = plt.subplots(figsize=(10, 2.6))
    turns = np.flatnonzero(np.diff(mode)) + 1
    edges = [0, *turns.tolist(), len(mode) - 1]
    for first, last in itertools.pairwise(edges):
        ax.axvspan(when[first], when[last], color=_MODE_COLOURS[int(mode[first])], lw=0)
    for row in sorted(set(mode.astype(int).tolist())):
        ax.plot([], [], color=_MODE_COLOURS[row], lw=8, label=modes.NAMES[row])
    ax.set_yticks([])
    ax.set_xlim(when[0], when[-1])
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.18), ncol=len(modes.NAMES), frameon=False)
    ax.set_title("What the controller was doing")
    ax.xaxis.set_major_locator(mdates.AutoDateLocator())
    _finish(fig, path)


PLOTS = {"sky": sky_path, "pointing": pointing, "heat": heat, "modes": modes_strip}
