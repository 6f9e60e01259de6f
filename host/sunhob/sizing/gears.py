"""Gears, actuators and steps: what a drive can turn, hold and resolve. Units: N m, N, m, degrees."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

ROD_ENDS_M = 0.1  # eyes, motor and gear beside the stroke: common practice, no source
DEAD_DEG = 10.0  # from a stretched or folded triangle: there the rod has no lever
LEAST_LEVER = 0.3  # of the head's distance: weaker, the force and one pulse's angle grow out of hand
_PRESSURE_ANGLE_DEG = 20.0  # of common worms
_FLANK_DEG = 15.0  # of metric trapezoidal screws, ISO 2901: 30 deg between the flanks
_SUN_DEG = 23.44 + 5.0  # a polar mount's axis 2 follows the sun so far to either side, trailing aims included


def self_locks_below_deg(friction: float, screw: bool = False) -> float:
    """Lead angle in degrees below which a worm, or the screw of an actuator, at rest cannot be driven back:
    tan(lead) <= mu / cos(20 deg), of a screw mu / cos(15 deg).

    Static only: shaking may still creep it back (check against a rule of thumb of 5 deg, from memory).
    """
    flank_deg = _FLANK_DEG if screw else _PRESSURE_ANGLE_DEG
    return math.degrees(math.atan(friction / math.cos(math.radians(flank_deg))))


def turning_n_m(build: Any, axis: int) -> float:
    """Torque that the motor of axis 1 or 2 brings to the axis, N m."""
    motor = getattr(build, f"motor{axis}_torque_n_m")
    return motor * getattr(build, f"gear{axis}_ratio") * getattr(build, f"gear{axis}_efficiency")


def locks(build: Any, axis: int, screw: bool) -> bool:
    """Whether the gear of axis 1 or 2, or the screw of its actuator, holds with its motor off."""
    lead = getattr(build, f"gear{axis}_lead_deg")
    return 0.0 < lead <= self_locks_below_deg(build.thread_friction, screw)


def length_m(angle_deg: ArrayLike, base_m: float, arm_m: float) -> NDArray:
    """Length of an actuator with foot and head `base_m` and `arm_m` from the axis (law of cosines)."""
    cos = np.cos(np.radians(np.asarray(angle_deg, dtype=float)))
    return np.sqrt(base_m**2 + arm_m**2 - 2.0 * base_m * arm_m * cos)


def lever_m(angle_deg: ArrayLike, base_m: float, arm_m: float) -> NDArray:
    """Lever of the actuator's force about the axis, m: dL/dtheta = a b sin(theta) / L."""
    sin = np.sin(np.radians(np.asarray(angle_deg, dtype=float)))
    return base_m * arm_m * sin / length_m(angle_deg, base_m, arm_m)


def step_deg(axis: Any, polar_axis2: bool = False) -> float | None:
    """The least that a drive can tell apart [deg]: a motor step, or one count of its pulses where these are
    coarsest (2 counts to a pulse on one line, 4 on two); None where a hand turns the axis. The declination
    axis of a polar mount follows the sun over part of its travel only; the rest leads to its park."""
    counts = 2.0 * axis.channels
    if axis.drive == "stepper":
        return 360.0 / float(axis.steps_per_turn)
    if axis.drive == "motor":
        return 360.0 / (counts * float(axis.pulses_per_turn))
    if axis.drive != "actuator":
        return None
    low, high = axis.low_deg, axis.high_deg
    if polar_axis2:
        low, high = max(low, -_SUN_DEG - axis.zero_deg), min(high, _SUN_DEG - axis.zero_deg)
    levers = np.abs(_travel(axis, low, high)[2])
    fine = counts * axis.pulses_per_mm * float(levers.min()) * math.pi / 180.0 * 1000.0
    return 1.0 / fine if fine > 1e-9 else math.inf


def _travel(axis: Any, low_deg: float, high_deg: float) -> tuple[NDArray, NDArray, NDArray]:
    """Readings [deg] between two of them, and the actuator's length and lever there [m]."""
    reading = np.linspace(low_deg, high_deg, 200)
    angle = reading + axis.triangle_deg
    return reading, length_m(angle, axis.foot_m, axis.head_m), lever_m(angle, axis.foot_m, axis.head_m)


def forces(axis: Any, torque_n_m: Any) -> tuple[NDArray, NDArray]:
    """Readings over an actuator's travel [deg] and the force it needs there [N], for a torque [N m]: one
    number, or a function of the reading."""
    reading, _, levers = _travel(axis, axis.low_deg, axis.high_deg)
    torque = torque_n_m(reading) if callable(torque_n_m) else torque_n_m
    with np.errstate(divide="ignore"):
        return reading, np.where(np.abs(levers) > 1e-6, torque / np.abs(levers), math.inf)


def triangle_for(travel_deg: float, head_m: float) -> tuple[float, float] | None:
    """The foot [m] nearest to the axis, and the angle between foot and head [deg] at the low end of the
    travel, with which an actuator can be built: drawn in it is longer than its stroke by ROD_ENDS_M, and its
    lever never falls below LEAST_LEVER. Of the angles the one whose weakest lever is longest; None where no
    foot within ten heads does."""
    start_deg = np.arange(DEAD_DEG, 180.0 - DEAD_DEG - travel_deg + 0.1, 1.0)
    angle = start_deg[:, None] + np.linspace(0.0, travel_deg, 61)
    for k in range(22, 201):
        foot_m = round(0.05 * k * head_m, 2)
        longest, shortest = (f(length_m(angle, foot_m, head_m), axis=1) for f in (np.max, np.min))
        weakest = lever_m(angle, foot_m, head_m).min(axis=1)
        fits = (2.0 * shortest - longest >= ROD_ENDS_M) & (weakest >= LEAST_LEVER * head_m)
        if fits.any():
            weakest = np.where(fits, weakest, -1.0)
            return foot_m, float(start_deg[int(weakest.argmax())])
    return None


def actuator(axis: Any, torque_n_m: Any) -> dict[str, float] | None:
    """Stroke, lengths [m], greatest force [N] and where [deg], mm a degree of an axis's actuator; None
    without one. torque_n_m: as for forces()."""
    if axis.drive != "actuator":
        return None
    reading, lengths, signed = _travel(axis, axis.low_deg, axis.high_deg)
    levers = np.abs(signed)
    force = forces(axis, torque_n_m)[1]
    return {
        "shortest_m": float(lengths.min()),
        "longest_m": float(lengths.max()),
        "stroke_m": float(np.ptp(lengths)),
        "least_mm_per_deg": float(levers.min()) * math.pi / 180.0 * 1000.0,
        "most_mm_per_deg": float(levers.max()) * math.pi / 180.0 * 1000.0,
        "greatest_force_n": float(force.max()),
        "greatest_force_at_deg": float(reading[int(force.argmax())]),
        "passes_dead_point": float(bool(np.any(np.diff(np.sign(signed)) != 0))),
    }
