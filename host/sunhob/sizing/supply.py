"""Energy a day, battery and panel. Units: Wh, W, h, days."""

from __future__ import annotations

from typing import Any

from .motion import day_motion


def energy(cooker: Any) -> dict[str, float]:
    """Energy of a cooking day and of an idle one, what the battery lasts, what the panel brings: Wh, days."""
    supply, motion = cooker.supply, day_motion(cooker)
    motors_wh = supply.motor_w * (motion["following_s"] + motion["trips_s"]) / 3600.0
    rest_wh = supply.rest_w * 10.0
    board_wh = supply.board_w * 24.0
    day_wh = motors_wh + rest_wh + board_wh
    battery_wh = supply.battery_v * supply.battery_ah * supply.usable
    # One full leave must always be left: that is what ends a failing supply safely.
    leave_wh = supply.motor_w * motion["trips_s"] / max(1.0, 2.0 * supply.leaves_a_day) / 3600.0
    return {
        "motors_wh": motors_wh,
        "rest_wh": rest_wh,
        "board_wh": board_wh,
        "day_wh": day_wh,
        "idle_day_wh": board_wh,
        "battery_wh": battery_wh,
        "days_alone": max(0.0, battery_wh - leave_wh) / day_wh,
        "one_leave_wh": leave_wh,
        "battery_needed_wh": (supply.days_without_sun * day_wh + leave_wh) / supply.usable,
        "panel_brings_wh": supply.panel_w * supply.panel_share * supply.sun_hours_h,
        "panel_needed_w": day_wh / (supply.panel_share * supply.sun_hours_h),
    }


def needed(cooker: Any, found: dict[str, float]) -> dict[str, float]:
    """Least battery and panel for the days without sun that are asked, fitted or not. found: of energy()."""
    one = cooker.supply
    return {"days": one.days_without_sun, "battery_v": one.battery_v, "panel_w": found["panel_needed_w"],
            "battery_ah": found["battery_needed_wh"] / one.battery_v}
