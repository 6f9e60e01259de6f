"""Pictures of the torque about both axes over the dish's attitude, and of the force of actuators over their
travel. Units: N m, N, degrees."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sunhob.plot_file import save_png

from . import drives, gears, torque


def plot_torque(path: Path, cooker: Any) -> None:
    """Write a PNG: weight, wind and friction stacked over elevation, with what the drive brings; below, for
    an axis on an actuator, the force it needs over its travel."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    build = cooker.build
    gust = build.working_wind_m_s * build.gust_factor
    one = torque.torques(cooker, gust)
    rods = any(getattr(cooker, f"axis{n}").drive == "actuator" for n in (1, 2))
    figure, panels = plt.subplots(1 + rods, 2, figsize=(11, 4.6 * (1 + 0.8 * rods)), squeeze=False)
    top = max(float(one.total(n).max()) for n in (1, 2))
    for n in (1, 2):
        panel, kind = panels[0][n - 1], getattr(cooker, f"axis{n}").drive
        _torque(panel, one, n)
        if kind not in ("hand", "actuator"):
            panel.axhline(gears.turning_n_m(build, n), color="#b03020", label="the drive brings")
            top = max(top, gears.turning_n_m(build, n))
        panel.set_title(f"Axis {n}" + (", turned by hand" if kind == "hand" else ""))
        if rods:
            _force(panels[1][n - 1], cooker, n)
    for panel in panels[0]:
        panel.set_ylim(0, 1.45 * top)  # room for the legend
        panel.legend(loc="upper right", fontsize=8)
    panels[0][0].set_ylabel("torque (N m)")
    figure.suptitle(f"Torque in a mean wind of {build.working_wind_m_s:g} m/s, gusts {gust:g} m/s "
                    "(wind coefficients from memory: good to a third)")
    figure.tight_layout()
    save_png(figure, path)


def _torque(panel: Any, one: torque.Torques, n: int) -> None:
    friction = 0.0 * one.elevation_deg + getattr(one, f"friction{n}_n_m")
    weight, blow = getattr(one, f"weight{n}_n_m"), getattr(one, f"wind{n}_n_m")
    panel.stackplot(one.elevation_deg, friction, weight, blow, labels=("friction", "weight", "wind"),
                    colors=("0.75", "#8c6d3f", "#6fa8c9"))
    panel.set(xlabel="elevation of the dish axis (deg)", xlim=(0, 90))
    panel.grid(alpha=0.3)


def _force(panel: Any, cooker: Any, n: int) -> None:
    told = drives.actuator_told(cooker, n)
    if told is None:
        panel.set_axis_off()
        return
    travel = told["force_over_travel"]
    reading = [row["reading_deg"] for row in travel]
    panel.plot(reading, [row["force_n"] for row in travel], color="#30638e", label="needed in the gusts")
    panel.plot(reading, [drives.MARGIN * row["force_n"] for row in travel], color="#30638e", ls="--",
               label=f"{drives.MARGIN:g} times that")
    has = getattr(cooker.build, f"rod{n}_force_n")
    panel.axhline(has, color="#b03020", label="the actuator brings")
    panel.set(title=f"Actuator of axis {n}: stroke {1000 * told['stroke_m']:.0f} mm",
              xlabel=f"reading of axis {n} (deg)", ylabel="force (N)",
              ylim=(0, 1.15 * max(has, drives.MARGIN * told["greatest_force_n"])))
    panel.grid(alpha=0.3)
    panel.legend(loc="best", fontsize=8)
