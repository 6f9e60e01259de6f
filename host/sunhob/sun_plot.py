"""Picture of the sun's day at a site, the board's answer over SPA. Units: deg, 0.001 deg, UTC hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from sunhob.plot_file import save_png
from sunhob.sun_compare import Case, compare
from sunhob.sun_table import build_table

EVERY_MIN = 10


def plot_day(path: Path, case: Case, table: bytes | None = None) -> None:
    """Write a PNG of elevation over azimuth and of the separation from SPA, for the case's UTC day."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    midnight = case.at.replace(hour=0, minute=0, second=0, microsecond=0)
    minutes = range(0, 1440, EVERY_MIN)
    if table is None:
        table = build_table(date(case.at.year, 1, 1), 1.01)
    found = compare([replace(case, at=midnight + timedelta(minutes=m)) for m in minutes], table)["cases"]
    hours = np.array(minutes) / 60.0
    figure, (path_axes, apart_axes) = plt.subplots(2, 1, figsize=(8, 7), height_ratios=[2, 1])
    for whose, style, name in (("spa", "-", "SPA"), ("board", ".", "the board")):
        azimuth = [row[whose]["azimuth_deg"] for row in found]
        elevation = [row[whose]["elevation_deg"] for row in found]
        order = np.argsort(azimuth)
        path_axes.plot(np.array(azimuth)[order], np.array(elevation)[order], style, label=name)
    path_axes.axhline(0.0, color="0.5", linewidth=0.8)
    path_axes.set(xlabel="azimuth (deg from north, clockwise)", ylabel="apparent elevation (deg)")
    path_axes.set_title(f"The sun on {midnight.date()} at {case.latitude_deg:g}, {case.longitude_deg:g} deg")
    path_axes.legend()
    apart_axes.plot(hours, [1000.0 * row["separation_deg"] for row in found])
    apart_axes.set(xlabel="hour of the day, UTC", ylabel="board from SPA (0.001 deg)", ylim=(0, None))
    figure.tight_layout()
    save_png(figure, path)
