"""Judges the drives and the supply of a cooker: a row for each thing needed, what it has, and the mend.

Units: in the keys and in each row's `unit`.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from ..leave_words import one_axis
from . import drives, gears, motion, supply, wind
from .findings import Finding, at_least, at_most

_HEAT_LOSS_AIM = 0.05  # share of full heat that play and steps may cost when dialled down


def speed_findings(cooker: Any, leave: Any) -> list[Finding]:
    """The pass beside the zenith and the time to leave, `leave` as given by leave_times()."""
    found = []
    if cooker.mount.kind == "altaz":
        miss = motion.least_miss_deg(cooker.site.latitude_deg)
        chase = motion.zenith_chase_deg(miss, cooker.axis1.speed_deg_s)
        found.append(at_most(
            f"axis 1: off the sun on a pass {miss:.2f} deg beside the zenith", 1.0, chase, "deg",
            "raise axis1.speed_deg_s",
        ))
    found.append(at_most("worst hour of the year: pot out of the light", 20.0, leave.pot_clear_s, "s",
                          "more speed of axis 1, or less weight to swing"))
    found.append(at_most("worst hour of the year: parked", 90.0, leave.parked_s, "s", "more speed"))
    return found


def steep_share_per_deg(intercept: Any) -> float:
    """Steepest loss of heat over lag, share of full heat a degree, dish axis at 50 deg, any direction."""
    lag = np.arange(0.0, 15.01, 0.1)
    worst = 0.0
    for direction in np.arange(0.0, 360.0, 45.0):
        share = np.ravel(intercept.at(lag, 50.0, direction))
        share = share / share[0]
        worst = max(worst, float(-np.gradient(share, lag).min()))
    return worst


def fineness_findings(cooker: Any, steep_per_deg: float) -> list[Finding]:
    """Play and steps against the heat curve where it is steepest."""
    found = []
    for axis in (1, 2):
        one = getattr(cooker, f"axis{axis}")
        if one.approach != 0:  # play is taken up from one side; only gusts let the dish float in it
            play = 0.5 * one.backlash_deg
            words = "heat that half its play costs in gusts, dialled down"
        else:
            play = 0.0
            words = "heat that its play costs (weight takes it up)"
        found.append(at_most(f"axis {axis}: {words}", 100.0 * _HEAT_LOSS_AIM, 100.0 * play * steep_per_deg,
                              "% of full heat", f"less play in axis {axis}, or a preload"))
        if one.drive == "hand":
            continue
        found += _step_findings(cooker, axis)
    return found


def _step_findings(cooker: Any, axis: int) -> list[Finding]:
    """Steps or counts against the deadband."""
    one = getattr(cooker, f"axis{axis}")
    step, found = gears.step_deg(one, cooker.mount.kind == "polar" and axis == 2), []
    if step is not None:
        stepper = one.drive == "stepper"
        what, most = ("step of the motor", 0.25) if stepper else ("count of its pulses", 1.0)
        mend = "more steps a turn of" if stepper else "more pulses, two lines, or a longer lever for"
        found.append(at_most(f"axis {axis}: one {what}", cooker.tracking.deadband_deg * most, step, "deg",
                              f"{mend} axis {axis}, or a larger tracking.deadband_deg"))
    return found


def supply_findings(cooker: Any, energy: dict[str, float]) -> list[Finding]:
    """Battery and panel; nothing where neither is fitted (both 0)."""
    found, one = [], cooker.supply
    if one.battery_ah:
        found.append(at_least(
            f"battery: days alone, {energy['day_wh']:.0f} Wh each, one full leave kept in reserve",
            one.days_without_sun, energy["days_alone"], "days", "a larger battery, or thriftier parts",
        ))
    if one.panel_w:
        found.append(at_least("panel: energy on a poor day", energy["day_wh"], energy["panel_brings_wh"],
                               "Wh", "a larger panel"))
    return found


def size(cooker: Any, leave: Any, steep_per_deg: float) -> dict[str, Any]:
    """Everything `sunhob size` tells; units in the keys. `leave` from leave_times, slope of heat a degree."""
    build = cooker.build
    energy = supply.energy(cooker)
    found = drives.drive_findings(cooker) + speed_findings(cooker, leave)
    found += fineness_findings(cooker, steep_per_deg) + supply_findings(cooker, energy)
    gust_m_s = build.working_wind_m_s * build.gust_factor
    return {
        "cooker": cooker.label,
        "invented": cooker.invented,
        "good": all(f.good for f in found),
        "working_wind_m_s": build.working_wind_m_s,
        "gust_m_s": gust_m_s,
        "survival_gust_m_s": build.survival_wind_m_s * build.gust_factor,
        "pressure_pa": float(wind.pressure_pa(gust_m_s, cooker.site.altitude_m)),
        "findings": [asdict(f) for f in found],
        "limits": min(found, key=lambda f: f.spare).name,
        "drives": drives.told(cooker),
        "actuator1": drives.actuator_told(cooker, 1),
        "actuator2": drives.actuator_told(cooker, 2),
        "leave": {"pot_clear_s": leave.pot_clear_s, "parked_s": leave.parked_s},
        "sun_hours_a_year": round(leave.sun_hours),
        "one_axis": [one_axis(alone) for alone in leave.one_axis],
        "heat_steepest_share_per_deg": steep_per_deg,
        "energy": energy,
        "supply_needed": supply.needed(cooker, energy),
    }
