"""What leave_times found, in keys and in words. Units: in the keys and words."""

from __future__ import annotations

from typing import Any

from .leave_times import OneAxis, SunHour


def when(at: SunHour) -> str:
    """An hour of the year in words."""
    return (f"about {at.day.day} {at.day:%B}, {at.solar_time} by the sun (declination {at.dec_deg:.1f} deg, "
            f"hour angle {at.ha_deg:g} deg)")


def hour_keys(at: SunHour) -> dict[str, Any]:
    """An hour of the year by its parts."""
    return {"date": f"{at.day:%m-%d}", "solar_time": at.solar_time,
            "sun_declination_deg": round(at.dec_deg, 2), "sun_hour_angle_deg": at.ha_deg}


def one_axis(alone: OneAxis) -> dict[str, Any]:
    """Hours a year in which the axis that is left cannot leave the sun; none of them is ever called safe."""
    at = alone.such_as
    return {
        "dead_axis": alone.dead_axis,
        "pot_stays_lit_hours_a_year": round(alone.pot_hours),
        "light_stays_loose_hours_a_year": round(alone.light_hours),
        "lowest_sun_deg": None if at is None else round(alone.lowest_deg, 1),
        "such_as": None if at is None else hour_keys(at),
        "told": "" if at is None else when(at),
    }


def told_alone(alone: dict[str, Any], sun_hours: int) -> str:
    """One line of what one_axis() gives; sun_hours: hours a year with the sun high enough to cook."""
    dead = alone["dead_axis"]
    start = f"Axis {dead} dead or not driven, axis {3 - dead} alone: of {sun_hours} h of sun a year "
    if alone["such_as"] is None:
        return start + "no sampled hour in which it cannot leave; that proves none of them."
    loose, lit = alone["light_stays_loose_hours_a_year"], alone["pot_stays_lit_hours_a_year"]
    return (
        start + f"it cannot make the light harmless in {loose} h, nor clear the pot in {lit} h; lowest sun "
        f"then {alone['lowest_sun_deg']:g} deg, {alone['told']}. Turn it by hand from behind, or cover it."
    )
