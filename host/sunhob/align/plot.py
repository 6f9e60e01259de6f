"""Picture of what a fit leaves over. Units: degrees on the sky."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sunhob.plot_file import save_png

from .fit import Fit
from .sightings import Sightings


def plot_residuals(path: Path, found: Fit, seen: Sightings) -> None:
    """Write a PNG: where each sighting fell off the fit, and how that runs over the day."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, (target, day) = plt.subplots(1, 2, figsize=(11, 4.8), width_ratios=[1, 1.4])
    off = found.residual_deg
    for flag, mark, colour, name in ((True, "o", "#1f4e6b", "used"), (False, "x", "#b03020", "left out")):
        rows = found.used == flag
        if rows.any():
            target.plot(off[rows, 0], off[rows, 1], mark, color=colour, label=name)
    for i, (x, y) in enumerate(off):
        target.annotate(str(i + 1), (x, y), xytext=(4, 4), textcoords="offset points", fontsize=8)
    ring = np.linspace(0.0, 2.0 * np.pi, 100)
    target.plot(found.rms_deg * np.cos(ring), found.rms_deg * np.sin(ring), "0.6", label="rms")
    reach = 1.25 * max(found.rms_deg, float(np.abs(off).max()))
    target.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal", title="Sightings about the fit",
               xlabel="to the right of the sun (deg)", ylabel="above the sun (deg)")
    target.locator_params(nbins=5)
    target.axhline(0.0, color="0.85", zorder=0)
    target.axvline(0.0, color="0.85", zorder=0)
    target.legend(loc="upper right", fontsize=8)
    start = min(seen.at)
    hours = np.array([(t - start).total_seconds() / 3600.0 for t in seen.at])
    order = np.argsort(hours)
    for column, name, style in ((0, "to the right", "o-"), (1, "above", "s--")):
        day.plot(hours[order], off[order, column], style, label=name, markersize=4, linewidth=0.9)
    day.axhline(0.0, color="0.7", linewidth=0.8)
    day.set(title="Over time", xlabel=f"hours since {start:%Y-%m-%d %H:%M} UTC", ylabel="off the sun (deg)")
    day.legend(fontsize=8)
    figure.tight_layout()
    save_png(figure, path)
