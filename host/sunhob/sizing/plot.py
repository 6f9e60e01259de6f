"""Picture of the torque about both axes over the dish's attitude. Units: N m, degrees."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sunhob.plot_file import save_png

from . import gears, torque


def plot_torque(path: Path, cooker: Any) -> None:
    """Write a PNG: weight, wind and friction stacked over elevation, with what the drive brings."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    build = cooker.build
    gust = build.working_wind_m_s * build.gust_factor
    one = torque.torques(cooker, gust)
    figure, both = plt.subplots(1, 2, figsize=(11, 4.6), sharey=True)
    for axis, panel in zip((1, 2), both, strict=True):
        friction = 0.0 * one.elevation_deg + getattr(one, f"friction{axis}_n_m")
        weight, blow = getattr(one, f"weight{axis}_n_m"), getattr(one, f"wind{axis}_n_m")
        panel.stackplot(one.elevation_deg, friction, weight, blow, labels=("friction", "weight", "wind"),
                        colors=("0.75", "#8c6d3f", "#6fa8c9"))
        panel.axhline(gears.turning_n_m(build, axis), color="#b03020", label="the drive brings")
        panel.set(title=f"Axis {axis}", xlabel="elevation of the dish axis (deg)", xlim=(0, 90))
        panel.grid(alpha=0.3)
    both[0].set_ylabel("torque (N m)")
    both[0].set_ylim(0, 1.4 * max(gears.turning_n_m(build, 1), gears.turning_n_m(build, 2)))
    both[1].legend(loc="upper right")
    figure.suptitle(f"Torque in a mean wind of {build.working_wind_m_s:g} m/s, gusts {gust:g} m/s "
                    "(wind coefficients from memory: good to a third)")
    figure.tight_layout()
    save_png(figure, path)
