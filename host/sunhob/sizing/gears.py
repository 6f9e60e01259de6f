"""Gears, actuators and steps: what a drive can turn, hold and resolve. Units: N m, N, m, degrees."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

_PRESSURE_ANGLE_DEG = 20.0  # of common worms


def self_locks_below_deg(friction: float) -> float:
    """Lead angle in degrees below which a worm at rest cannot be driven back: tan(lead) <= mu / cos(20 deg).

    Static only: shaking may still creep it back (check against a rule of thumb of 5 deg, from memory).
    """
    return math.degrees(math.atan(friction / math.cos(math.radians(_PRESSURE_ANGLE_DEG))))


def turning_n_m(build: Any, axis: int) -> float:
    """Torque that the motor of axis 1 or 2 brings to the axis, N m."""
    motor = getattr(build, f"motor{axis}_torque_n_m")
    return motor * getattr(build, f"gear{axis}_ratio") * getattr(build, f"gear{axis}_efficiency")


def locks(build: Any, axis: int) -> bool:
    """Whether the gear of axis 1 or 2 holds with its motor off."""
    lead = getattr(build, f"gear{axis}_lead_deg")
    return 0.0 < lead <= self_locks_below_deg(build.thread_friction)


def length_m(angle_deg: ArrayLike, base_m: float, arm_m: float) -> NDArray:
    """Length of an actuator with foot and head `base_m` and `arm_m` from the axis (law of cosines)."""
    cos = np.cos(np.radians(np.asarray(angle_deg, dtype=float)))
    return np.sqrt(base_m**2 + arm_m**2 - 2.0 * base_m * arm_m * cos)


def lever_m(angle_deg: ArrayLike, base_m: float, arm_m: float) -> NDArray:
    """Lever of the actuator's force about the axis, m: dL/dtheta = a b sin(theta) / L."""
    sin = np.sin(np.radians(np.asarray(angle_deg, dtype=float)))
    return base_m * arm_m * sin / length_m(angle_deg, base_m, arm_m)


def step_deg(axis: Any) -> float | None:
    """The least that a drive can tell apart [deg]: a motor step, or one count of its pulses where these are
    coarsest (2 counts to a pulse on one line, 4 on two); None where a hand turns the axis."""
    counts = 2.0 * axis.channels
    if axis.drive == "stepper":
        return 360.0 / float(axis.steps_per_turn)
    if axis.drive == "motor":
        return 360.0 / (counts * float(axis.pulses_per_turn))
    found = actuator(axis, 0.0)
    if found is None:
        return None
    fine = counts * axis.pulses_per_mm * found["least_mm_per_deg"]
    return 1.0 / fine if fine > 1e-9 else math.inf


def actuator(axis: Any, torque_n_m: float) -> dict[str, float] | None:
    """Stroke, lengths [m], greatest force [N], mm a degree of an axis's actuator; None without one."""
    if axis.drive != "actuator":
        return None
    base, arm = axis.foot_m, axis.head_m
    angle = np.linspace(axis.low_deg, axis.high_deg, 200) + axis.triangle_deg
    lengths, levers = length_m(angle, base, arm), np.abs(lever_m(angle, base, arm))
    weakest = float(levers.min())
    return {
        "shortest_m": float(lengths.min()),
        "longest_m": float(lengths.max()),
        "stroke_m": float(np.ptp(lengths)),
        "least_mm_per_deg": weakest * math.pi / 180.0 * 1000.0,
        "most_mm_per_deg": float(levers.max()) * math.pi / 180.0 * 1000.0,
        "greatest_force_n": torque_n_m / weakest if weakest > 1e-6 else math.inf,
        "passes_dead_point": float(bool(np.any(np.diff(np.sign(np.sin(np.radians(angle)))) != 0))),
    }
