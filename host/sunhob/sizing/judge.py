"""Judges the drives and the supply of a cooker: a row for each thing needed, what it has, and the mend.

Units: in the keys and in each row's `unit`.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from . import gears, motion, supply, torque, wind

MARGIN = 1.5  # torque that a motor should have to spare: common practice, no source
ROD_ENDS_M = 0.1  # eyes, motor and gear beside the stroke: common practice, no source
_HEAT_LOSS_AIM = 0.05  # share of full heat that play and steps may cost when dialled down


@dataclass(frozen=True)
class Finding:
    """One thing judged: needed and has in `unit`; `mend` says what to do where it falls short."""

    name: str
    needed: float
    has: float
    unit: str
    good: bool
    mend: str

    @property
    def spare(self) -> float:
        """How many times what is needed there is; infinite where nothing is."""
        return self.has / self.needed if self.needed > 0.0 else math.inf


def _at_least(name: str, needed: float, has: float, unit: str, mend: str) -> Finding:
    return Finding(name, float(needed), float(has), unit, bool(has >= needed), mend)


def _at_most(name: str, limit: float, has: float, unit: str, mend: str) -> Finding:
    return Finding(name, float(limit), float(has), unit, bool(has <= limit), mend)


def drive_findings(cooker: Any) -> list[Finding]:
    """Torque to turn, torque to stand, worm and steps of both axes."""
    build, found = cooker.build, []
    gust = build.gust_factor
    working = torque.torques(cooker, build.working_wind_m_s * gust)
    survival = torque.torques(cooker, build.survival_wind_m_s * gust)
    for axis in (1, 2):
        by_hand = getattr(cooker, f"axis{axis}").drive == "hand"
        needed = MARGIN * float(working.total(axis).max())
        if not by_hand:
            found.append(_at_least(
                f"axis {axis}: torque to turn in the working wind, {MARGIN:g} times over", needed,
                gears.turning_n_m(build, axis), "N m",
                f"raise build.gear{axis}_ratio (and steps_per_turn with it), take a stronger motor, balance "
                "the dish better, or work in less wind",
            ))
        found.append(_at_least(
            f"axis {axis}: torque to stand parked in the survival wind", float(survival.total(axis).max()),
            getattr(build, f"gear{axis}_stands_n_m"), "N m",
            f"a stronger gear and mounting of axis {axis}, or take the dish in before such wind",
        ))
        found.append(_at_most(
            f"axis {axis}: lead angle of the worm, to hold without power",
            gears.self_locks_below_deg(build.thread_friction),
            getattr(build, f"gear{axis}_lead_deg") or 90.0, "deg",
            "a worm of less lead, a brake, or a balance so good that nothing turns it",
        ))
    return found


def speed_findings(cooker: Any, leave: Any) -> list[Finding]:
    """The pass beside the zenith and the time to leave, `leave` as given by leave_times()."""
    found = []
    if cooker.mount.kind == "altaz":
        miss = motion.least_miss_deg(cooker.site.latitude_deg)
        chase = motion.zenith_chase_deg(miss, cooker.axis1.speed_deg_s)
        found.append(_at_most(
            f"axis 1: off the sun on a pass {miss:.2f} deg beside the zenith", 1.0, chase, "deg",
            "raise axis1.speed_deg_s",
        ))
    found.append(_at_most("worst hour of the year: pot out of the light", 20.0, leave.pot_clear_s, "s",
                          "more speed of axis 1, or less weight to swing"))
    found.append(_at_most("worst hour of the year: parked", 90.0, leave.parked_s, "s", "more speed"))
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
        found.append(_at_most(f"axis {axis}: {words}", 100.0 * _HEAT_LOSS_AIM, 100.0 * play * steep_per_deg,
                              "% of full heat", f"less play in axis {axis}, or a preload"))
        if one.drive == "hand":
            continue
        found += _step_findings(cooker, axis)
    return found


def _step_findings(cooker: Any, axis: int) -> list[Finding]:
    """Steps or counts against the deadband; an actuator's stroke against its own length."""
    one = getattr(cooker, f"axis{axis}")
    step, found = gears.step_deg(one), []
    if step is not None:
        stepper = one.drive == "stepper"
        what, most = ("step of the motor", 0.25) if stepper else ("count of its pulses", 1.0)
        mend = "more steps a turn of" if stepper else "more pulses, two lines, or a longer lever for"
        found.append(_at_most(f"axis {axis}: one {what}", cooker.tracking.deadband_deg * most, step, "deg",
                              f"{mend} axis {axis}, or a larger tracking.deadband_deg"))
    rod = gears.actuator(one, 0.0)
    if rod is not None:
        room = rod["shortest_m"] - rod["stroke_m"]
        found.append(_at_least(
            f"axis {axis}: length of the actuator drawn in beyond its stroke", ROD_ENDS_M, room, "m",
            f"a foot further off the axis, a shorter head, or another axis{axis}.triangle_deg"))
    return found


def supply_findings(cooker: Any, energy: dict[str, float]) -> list[Finding]:
    """Battery and panel; nothing where neither is fitted (both 0)."""
    found, one = [], cooker.supply
    if one.battery_ah:
        found.append(_at_least(
            f"battery: days alone, {energy['day_wh']:.0f} Wh each, one full leave kept in reserve",
            one.days_without_sun, energy["days_alone"], "days", "a larger battery, or thriftier parts",
        ))
    if one.panel_w:
        found.append(_at_least("panel: energy on a poor day", energy["day_wh"], energy["panel_brings_wh"],
                               "Wh", "a larger panel"))
    return found


def size(cooker: Any, leave: Any, steep_per_deg: float) -> dict[str, Any]:
    """Everything `sunhob size` tells; units in the keys. `leave` from leave_times, slope of heat a degree."""
    build = cooker.build
    energy = supply.energy(cooker)
    found = drive_findings(cooker) + speed_findings(cooker, leave)
    found += fineness_findings(cooker, steep_per_deg) + supply_findings(cooker, energy)
    gust_m_s = build.working_wind_m_s * build.gust_factor
    working = torque.torques(cooker, gust_m_s)
    drives = []
    for axis in (1, 2):
        one = getattr(cooker, f"axis{axis}")
        if one.drive == "hand":
            continue
        total = working.total(axis)
        has = gears.turning_n_m(build, axis)
        drives.append({
            "axis": axis,
            "torque_needed_n_m": float(total.max()),
            "at_elevation_deg": float(working.elevation_deg[int(total.argmax())]),
            "torque_has_n_m": has,
            "gear_ratio_needed": MARGIN * float(total.max())
            / (getattr(build, f"motor{axis}_torque_n_m") * getattr(build, f"gear{axis}_efficiency")),
            "holds_without_power": gears.locks(build, axis),
            "motor_turns_per_s": one.speed_deg_s / 360.0 * getattr(build, f"gear{axis}_ratio"),
            "step_deg": gears.step_deg(one),
        })
    short = [f for f in found if not f.good]
    limit = min(found, key=lambda f: f.spare if f.needed <= f.has or f in short else math.inf)
    return {
        "cooker": cooker.label,
        "invented": cooker.invented,
        "good": not short,
        "working_wind_m_s": build.working_wind_m_s,
        "gust_m_s": gust_m_s,
        "pressure_pa": float(wind.pressure_pa(gust_m_s, cooker.site.altitude_m)),
        "findings": [asdict(f) for f in found],
        "limits": limit.name,
        "drives": drives,
        **{f"actuator{k}": gears.actuator(getattr(cooker, f"axis{k}"), float(working.total(k).max()))
           for k in (1, 2)},
        "leave": {"pot_clear_s": leave.pot_clear_s, "parked_s": leave.parked_s},
        "heat_steepest_share_per_deg": steep_per_deg,
        "energy": energy,
    }
