"""Picture of what a fit leaves over. Units: degrees on the sky; places in widths of the picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunhob.plot_file import save_png

from .fit import Fit
from .sightings import Sightings

_USED, _LEFT_OUT = "#1f4e6b", "#b03020"
_NUMBER = (0.045, 0.04)  # width and height of a number with the room about it
_DOT = 0.022


def plot_residuals(path: Path, found: Fit, seen: Sightings) -> None:
    """Write a PNG: where each sighting fell off the fit, and how that runs over the day."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, (target, day) = plt.subplots(1, 2, figsize=(11, 5.4), width_ratios=[1, 1.4])
    _target(target, found)
    _day(day, found, seen)
    figure.tight_layout()
    save_png(figure, path)


def _target(axes: Any, found: Fit) -> None:
    """The sightings about the fit, as far as those used; what lies beyond is an arrow at the edge."""
    off, reach = found.residual_deg, reach_deg(found)
    inside = np.abs(off).max(axis=1) <= reach
    for flag, mark, colour, name in ((True, "o", _USED, "used"), (False, "x", _LEFT_OUT, "left out")):
        rows = (found.used == flag) & inside
        if rows.any():
            axes.plot(off[rows, 0], off[rows, 1], mark, color=colour, label=name)
    ring = np.linspace(0.0, 2.0 * np.pi, 100)
    axes.plot(found.rms_deg * np.cos(ring), found.rms_deg * np.sin(ring), "0.6", label="rms")
    axes.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal", title="Sightings about the fit",
             xlabel="to the right of the sun (deg)", ylabel="above the sun (deg)")
    axes.locator_params(nbins=5)
    axes.axhline(0.0, color="0.85", zorder=0)
    axes.axvline(0.0, color="0.85", zorder=0)
    shown = np.flatnonzero(inside)
    places = number_places(0.5 + off[shown] / (2.0 * reach))
    for row, at in zip(shown, places, strict=True):
        axes.annotate(str(row + 1), off[row], xytext=at, textcoords="axes fraction", fontsize=8,
                      ha="center", va="center", arrowprops={"arrowstyle": "-", "color": "0.7", "lw": 0.6})
    for row in np.flatnonzero(~inside):
        edge = off[row] * (0.97 * reach / np.abs(off[row]).max())
        axes.annotate(f"{row + 1}: {np.hypot(*off[row]):.2g} deg off", edge, xytext=0.72 * edge, fontsize=8,
                      color=_LEFT_OUT, ha="center", va="center",
                      arrowprops={"arrowstyle": "->", "color": _LEFT_OUT})
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=3, fontsize=8, frameon=False)


def _day(axes: Any, found: Fit, seen: Sightings) -> None:
    """Both parts over the hours: lines through those used; those left out as crosses, at the edge at most."""
    off, start = found.residual_deg, min(seen.at)
    hours = np.array([(t - start).total_seconds() / 3600.0 for t in seen.at])
    order = [row for row in np.argsort(hours) if found.used[row]]
    for column, name, style in ((0, "to the right", "o-"), (1, "above", "s--")):
        axes.plot(hours[order], off[order, column], style, label=name, markersize=4, linewidth=0.9)
    reach = reach_deg(found)
    for row in np.flatnonzero(~found.used):
        shown = np.clip(off[row], -0.95 * reach, 0.95 * reach)
        axes.plot([hours[row]] * 2, shown, "x", color=_LEFT_OUT)
        axes.annotate(f"{row + 1}: {np.hypot(*off[row]):.2g} deg off",
                      (hours[row], shown[np.abs(off[row]).argmax()]), xytext=(6, 0),
                      textcoords="offset points", fontsize=8, color=_LEFT_OUT, va="center")
    axes.set(ylim=(-reach, reach))
    axes.axhline(0.0, color="0.7", linewidth=0.8)
    axes.set(title="Over time", xlabel=f"hours since {start:%Y-%m-%d %H:%M} UTC", ylabel="off the sun (deg)")
    axes.margins(x=0.12)
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2, fontsize=8, frameon=False)


def reach_deg(found: Fit) -> float:
    """Half the width of the picture: room for the ring and for every sighting that was used."""
    used = found.residual_deg[found.used]
    return 1.35 * max(found.rms_deg, float(np.abs(used).max(initial=0.0)), 1e-6)


def number_places(dots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where the number of each dot stands, shape (n, 2): near it, on no dot and on no other number.

    Tried in rings about the dot; where a crowd leaves no room at all, to its upper right.
    """
    places: list[NDArray[np.float64]] = []
    for dot in dots:
        for away in np.arange(0.04, 0.4, 0.02):
            tries = (dot + away * np.array([np.cos(a), np.sin(a)]) for a in np.radians(range(45, 405, 30)))
            place = next((one for one in tries if _free(one, dots, places)), None)
            if place is not None:
                break
        places.append(dot + 0.04 if place is None else place)
    return np.array(places).reshape(-1, 2)


def _free(place: NDArray[np.float64], dots: NDArray[np.float64], taken: list[NDArray[np.float64]]) -> bool:
    wide, high = _NUMBER
    if not (wide / 2.0 <= place[0] <= 1.0 - wide / 2.0 and high / 2.0 <= place[1] <= 1.0 - high / 2.0):
        return False
    on_dot = (np.abs(dots - place) < (np.array(_NUMBER) + _DOT) / 2.0).all(axis=1).any()
    return not on_dot and not any((np.abs(one - place) < _NUMBER).all() for one in taken)
