"""Judges the drives: torque or force, hold, speed and power of both axes. Units: in each row's `unit`."""

from __future__ import annotations

import math
from typing import Any

from . import gears, torque
from .findings import Finding, at_least, at_most

MARGIN = 1.5  # torque that a motor should have to spare: common practice, no source


def drive_findings(cooker: Any) -> list[Finding]:
    """What both drives bring and stand, in the working wind and parked in the survival wind."""
    build, found = cooker.build, []
    working = torque.torques(cooker, build.working_wind_m_s * build.gust_factor)
    survival = torque.torques(cooker, build.survival_wind_m_s * build.gust_factor)
    for n in (1, 2):
        kind = getattr(cooker, f"axis{n}").drive
        found += (_rod if kind == "actuator" else _gear)(cooker, n, working, survival)
        found.append(_holds(cooker, n))
        if kind != "hand":
            found.append(_power(cooker, n, working))
    return found


def _gear(cooker: Any, n: int, working: torque.Torques, survival: torque.Torques) -> list[Finding]:
    build, found = cooker.build, []
    one = getattr(cooker, f"axis{n}")
    if one.drive != "hand":
        with_it = " (and steps_per_turn with it)" if one.drive == "stepper" else ""
        found.append(at_least(
            f"axis {n}: torque to turn in the working wind, {MARGIN:g} times over",
            MARGIN * working.total(n).max(), gears.turning_n_m(build, n), "N m",
            f"raise build.gear{n}_ratio{with_it}, take a stronger motor, balance the dish better, or work in "
            "less wind"))
    found.append(at_least(
        f"axis {n}: torque to stand parked in the survival wind", survival.total(n).max(),
        getattr(build, f"gear{n}_stands_n_m"), "N m",
        f"a stronger gear and mounting of axis {n}, or take the dish in before such wind"))
    return found


def _rod(cooker: Any, n: int, working: torque.Torques, survival: torque.Torques) -> list[Finding]:
    build, one = cooker.build, getattr(cooker, f"axis{n}")
    push = gears.actuator(one, working.at_reading(cooker, n))
    stand = gears.actuator(one, survival.at_reading(cooker, n))
    assert push is not None and stand is not None
    return [
        at_least(f"axis {n}: force of the actuator in the working wind, {MARGIN:g} times over",
                 MARGIN * push["greatest_force_n"], getattr(build, f"rod{n}_force_n"), "N",
                 f"a stronger actuator, a longer axis{n}.head_m, or less travel towards a flat triangle"),
        at_least(f"axis {n}: force the actuator stands parked in the survival wind",
                 stand["greatest_force_n"], getattr(build, f"rod{n}_stands_n"), "N",
                 f"a stronger actuator, a longer axis{n}.head_m, or take the dish in before such wind"),
        at_least(f"axis {n}: speed of the actuator, for axis{n}.speed_deg_s",
                 one.speed_deg_s * push["most_mm_per_deg"], getattr(build, f"rod{n}_speed_mm_s"), "mm/s",
                 f"a faster actuator, or a lower axis{n}.speed_deg_s"),
        at_least(f"axis {n}: length of the actuator drawn in beyond its stroke", gears.ROD_ENDS_M,
                 push["shortest_m"] - push["stroke_m"], "m",
                 f"less travel, a foot further off the axis, a shorter head, another axis{n}.triangle_deg"
                 + _such_as(one, n)),
    ]


def _such_as(one: Any, n: int) -> str:
    found = gears.triangle_for(one.high_deg - one.low_deg, one.head_m)
    if found is None:
        return ""
    return (f"; with this head and travel axis{n}.foot_m = {found[0]:.2f}, "
            f"axis{n}.triangle_deg = {found[1] - one.low_deg:.0f} would do")


def _holds(cooker: Any, n: int) -> Finding:
    screw = getattr(cooker, f"axis{n}").drive == "actuator"
    return at_most(
        f"axis {n}: lead angle of the {'screw' if screw else 'worm'}, to hold without power",
        gears.self_locks_below_deg(cooker.build.thread_friction, screw),
        getattr(cooker.build, f"gear{n}_lead_deg") or 90.0, "deg",
        f"a {'screw' if screw else 'worm'} of less lead, a brake, or a balance so good that nothing turns it")


def _power(cooker: Any, n: int, working: torque.Torques) -> Finding:
    """What the motor takes as it turns the axis at its speed against the most torque."""
    one = getattr(cooker, f"axis{n}")
    watts = working.total(n).max() * math.radians(one.speed_deg_s)
    return at_least(
        f"axis {n}: power of its motor at full speed in the working wind",
        watts / getattr(cooker.build, f"gear{n}_efficiency"), cooker.supply.motor_w, "W",
        f"supply.motor_w as the motor truly takes it, or a lower axis{n}.speed_deg_s")


def told(cooker: Any) -> list[dict[str, Any]]:
    """For each driven axis what it needs and has; None where its kind has no such thing."""
    build, rows = cooker.build, []
    working = torque.torques(cooker, build.working_wind_m_s * build.gust_factor)
    for n in (1, 2):
        one = getattr(cooker, f"axis{n}")
        if one.drive == "hand":
            continue
        total, rod = working.total(n), one.drive == "actuator"
        geared = getattr(build, f"motor{n}_torque_n_m") * getattr(build, f"gear{n}_efficiency")
        rows.append({
            "axis": n,
            "torque_needed_n_m": float(total.max()),
            "at_elevation_deg": float(working.elevation_deg[int(total.argmax())]),
            "torque_has_n_m": None if rod else gears.turning_n_m(build, n),
            "gear_ratio_needed": None if rod else MARGIN * float(total.max()) / geared,
            "holds_without_power": gears.locks(build, n, rod),
            "motor_turns_per_s": None if rod else one.speed_deg_s / 360.0 * getattr(build, f"gear{n}_ratio"),
            "step_deg": gears.step_deg(one, cooker.mount.kind == "polar" and n == 2),
        })
    return rows


def actuator_told(cooker: Any, n: int) -> dict[str, Any] | None:
    """The actuator of axis n in the working wind, with its force over the travel; None without one."""
    build, one = cooker.build, getattr(cooker, f"axis{n}")
    if one.drive != "actuator":
        return None
    at = torque.torques(cooker, build.working_wind_m_s * build.gust_factor).at_reading(cooker, n)
    reading, force = gears.forces(one, at)
    travel = [{"reading_deg": round(float(reading[k]), 2), "force_n": round(float(force[k]), 1)}
              for k in range(0, len(reading), 11)]
    return {**(gears.actuator(one, at) or {}), "force_over_travel": travel}
