"""Rules that tie several settings of a cooker together.

Units are in the names of the settings: degrees, metres, W/m2. Each rule is told on one key, in words that
name its value, the limit and a way to mend it; a rule is left out when a value it needs is itself wrong.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from sunhob_board.declared.settings import SETTINGS
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.pulse_scale import DEAD_DEG, scale_of

from .optics.standoff import NO_PLATE_PERCENT, image_width_m

Values = Mapping[str, Any]
Broken = Iterator[tuple[str, str]]
MOST_PULSE_LINES = 2  # pins that every board spares: SPARED in its board file
KNOB_LINES = 2  # of these that a rotary knob takes
EAST_LEAST_DEG = 110.0  # of hour angle: a dish that leaves at noon is then clear of the sun in any season
FASTEST_EDGES_S = 250  # contacts bounce 3 ms: no edge is looked for so soon after another
FASTEST_STEPS_S = 40_000  # steps a second asked of the step generator at most: common practice, no source


def broken_rules(values: Values) -> list[tuple[str, str]]:
    """(key, words) of each rule that these values break. `values` is keyed like 'dish.focal_length_m'."""
    found: list[tuple[str, str]] = []
    for rule in (_zone, _pot, _least, _hole, _room, _guard, _clear, _light, _scorch, _deadband, _hand, _park):
        found += _tried(rule, values)
    for axis in ("axis1", "axis2"):
        found += _tried(_travel, values, axis)
        found += _tried(_motor, values, axis)
        found += _tried(_triangle, values, axis)
        found += _tried(_counts, values, axis)
    found += _tried(_pulses, values)
    return found


def _tried(rule: Any, *arguments: Any) -> list[tuple[str, str]]:
    try:
        return list(rule(*arguments))
    except KeyError:  # a value it needs is itself wrong, and told already
        return []


def _least(v: Values) -> Broken:
    """Quick bound: a plate must at least reach beyond the pot by the sun's image. `check` traces the rest."""
    least, plate, pot = v["heat.least_percent"], v["guard.diameter_m"], v["pot.diameter_m"]
    wide, focal = v["dish.aperture_diameter_m"], v["dish.focal_length_m"]
    if least >= NO_PLATE_PERCENT:
        return
    rim_ray = focal + wide**2 / (16.0 * focal)
    image = image_width_m(rim_ray, v["dish.slope_error_mrad"], v["dish.specularity_mrad"])
    if plate < pot + 2.0 * image:
        yield (
            "heat.least_percent",
            f"= {least} percent is under {NO_PLATE_PERCENT:g} percent, which takes a guard plate; give "
            f"{NO_PLATE_PERCENT:g} percent, or a guard.diameter_m sized by sunhob optics (now {plate} m)",
        )


def _zone(v: Values) -> Broken:
    name = v["site.timezone"]
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        yield "site.timezone", f"= {name!r} is not a zone known here; give one such as Asia/Kolkata or UTC"


def _pot(v: Values) -> Broken:
    wide, pot = v["dish.aperture_diameter_m"], v["pot.diameter_m"]
    if pot >= wide:
        yield "pot.diameter_m", f"= {pot} m shades the whole dish of {wide} m; give less than {wide} m"


def _hole(v: Values) -> Broken:
    wide, hole = v["dish.aperture_diameter_m"], v["dish.centre_hole_m"]
    if hole >= wide:
        yield "dish.centre_hole_m", f"= {hole} m leaves no mirror of {wide} m; give less than {wide} m"


def _room(v: Values) -> Broken:
    """The dish turns about the pot, which must clear the mirror's nearest point, a focal length off."""
    low, tall = v["pot.bottom_above_focus_m"], v["pot.height_m"]
    reach = math.hypot(v["pot.diameter_m"] / 2.0, max(abs(low), abs(low + tall)))
    focal = v["dish.focal_length_m"]
    if reach >= focal:
        yield (
            "pot.height_m",
            f"= {tall} m: the pot reaches {reach:.3g} m from the focus, where the dish of "
            f"dish.focal_length_m = {focal} m strikes it; give a smaller pot or a longer focal length",
        )


def _guard(v: Values) -> Broken:
    plate, pot, wide = v["guard.diameter_m"], v["pot.diameter_m"], v["dish.aperture_diameter_m"]
    if plate == 0.0:
        return
    if not pot < plate < wide:
        yield (
            "guard.diameter_m",
            f"= {plate} m must lie between pot.diameter_m = {pot} m and "
            f"dish.aperture_diameter_m = {wide} m; give 0 for no plate",
        )
        return
    reach = math.hypot(plate / 2.0, v["guard.below_focus_m"])
    if reach >= v["dish.focal_length_m"]:
        yield (
            "guard.diameter_m",
            f"= {plate} m: its edge is {reach:.3g} m from the focus, where the dish of "
            f"dish.focal_length_m = {v['dish.focal_length_m']} m strikes it; give a smaller plate",
        )


def _clear(v: Values) -> Broken:
    clear, loose = v["dish.pot_clear_deg"], v["dish.loose_clear_deg"]
    if loose <= clear:
        yield (
            "dish.loose_clear_deg",
            f"= {loose} deg must be above dish.pot_clear_deg = {clear} deg; raise it or lower the other",
        )
    cover = v["dish.cover_below_deg"]
    if cover < loose:
        yield (
            "dish.cover_below_deg",
            f"= {cover} deg is below dish.loose_clear_deg = {loose} deg; raise it or lower the other",
        )


def _light(v: Values) -> Broken:
    low, back = v["interlock.light_low_w_m2"], v["interlock.light_back_w_m2"]
    if back < low:
        yield (
            "interlock.light_back_w_m2",
            f"= {back} W/m2 is below interlock.light_low_w_m2 = {low} W/m2; give at least {low} W/m2",
        )
    full = v["sensor.beam_w_m2_full"]
    if full <= back:
        yield (
            "sensor.beam_w_m2_full",
            f"= {full} W/m2 cannot show interlock.light_back_w_m2 = {back} W/m2; give more than {back} W/m2",
        )


def _scorch(v: Values) -> Broken:
    first, last = v["interlock.scorch_dwell_s"], v["interlock.scorch_leave_s"]
    if last <= first:
        yield (
            "interlock.scorch_leave_s",
            f"= {last} s must be longer than interlock.scorch_dwell_s = {first} s, so that it turns down "
            "before it leaves; raise it",
        )


def _deadband(v: Values) -> Broken:
    band, clear = v["tracking.deadband_deg"], v["dish.pot_clear_deg"]
    if band > clear / 20.0:
        yield (
            "tracking.deadband_deg",
            f"= {band} deg is over a twentieth of dish.pot_clear_deg = {clear} deg; "
            f"give at most {clear / 20:.3g} deg",
        )


def _travel(v: Values, axis: str) -> Broken:
    low, high, home = v[axis + ".low_deg"], v[axis + ".high_deg"], v[axis + ".home_deg"]
    if low >= high:
        yield f"{axis}.low_deg", f"= {low} deg must be below {axis}.high_deg = {high} deg; mend one of them"
    elif not low <= home <= high:
        yield f"{axis}.home_deg", f"= {home} deg is outside its travel; give {low} to {high} deg"


def _pulses(v: Values) -> Broken:
    """Pulse lines take over what pins a board can spare."""
    driven = [axis for axis in ("axis1", "axis2") if v[axis + ".drive"] in ("motor", "actuator")]
    lines = sum(v[axis + ".channels"] for axis in driven)
    if lines > MOST_PULSE_LINES:
        yield (
            f"{driven[-1]}.channels",
            f"makes {lines} pulse lines in all; the board has pins for {MOST_PULSE_LINES}: give 1",
        )
    elif v["cook.knob_rotary"] and lines + KNOB_LINES > MOST_PULSE_LINES:
        yield (
            "cook.knob_rotary",
            f"= true takes {KNOB_LINES} of the {MOST_PULSE_LINES} pins that a board spares, and the pulse "
            f"lines of {' and '.join(driven)} take {lines}: give false (a potentiometer)",
        )


def _triangle(v: Values, axis: str) -> Broken:
    """An actuator has no lever where its triangle is stretched or folded."""
    if v[axis + ".drive"] != "actuator":
        return
    low, high, offset = v[axis + ".low_deg"], v[axis + ".high_deg"], v[axis + ".triangle_deg"]
    turn = math.floor((offset + 0.5 * (low + high)) / 180.0)
    first, last = offset + low - 180.0 * turn, offset + high - 180.0 * turn
    if first < DEAD_DEG or last > 180.0 - DEAD_DEG:
        yield (
            f"{axis}.triangle_deg",
            f"= {offset} deg: over the travel {low} to {high} deg the angle between foot and head runs from "
            f"{first:g} to {last:g} deg, and must keep {DEAD_DEG:g} deg from 0 and 180, its dead points; "
            "shift it, or give less travel",
        )


def counts_per_deg(v: Values, axis: str) -> tuple[float, float]:
    """Edges of the pulse lines to a degree of a motor or actuator: mean and most over its travel."""
    s = SimpleNamespace(**{key.replace(".", "_"): value for key, value in v.items()})
    scale = scale_of(s, axis + "_")
    low, high = v[axis + ".low_deg"] * 1e6, v[axis + ".high_deg"] * 1e6
    at = [low + (high - low) * k / 60.0 for k in range(61)]
    slopes = [(scale.counts(b) - scale.counts(a)) / (b - a) * 1e6 for a, b in pairwise(at)]
    return sum(slopes) / len(slopes), max(slopes)


def _counts(v: Values, axis: str) -> Broken:
    if v[axis + ".drive"] in ("stepper", "hand") or list(_triangle(v, axis)):
        return
    mean, most = counts_per_deg(v, axis)
    band = v["tracking.deadband_deg"]
    key = f"{axis}.pulses_per_turn" if v[axis + ".drive"] == "motor" else f"{axis}.pulses_per_mm"
    if 1.0 / mean > 1.25 * band:
        yield (
            key,
            f"= {v[key]:g}: an edge is worth {1.0 / mean:.3g} deg on the whole, more than "
            f"tracking.deadband_deg = {band} deg; give at least {0.8 * v[key] / mean / band:.3g}, or a "
            "wider deadband",
        )
    rate = most * v[axis + ".speed_deg_s"] * 1.3
    if rate > FASTEST_EDGES_S:
        yield (
            f"{axis}.speed_deg_s",
            f"= {v[axis + '.speed_deg_s']} makes up to {rate:.0f} edges a second; an interrupt counts "
            f"{FASTEST_EDGES_S}: give at most {v[axis + '.speed_deg_s'] * FASTEST_EDGES_S / rate:.3g} deg/s",
        )


def _motor(v: Values, axis: str) -> Broken:
    if v[axis + ".drive"] != "stepper":
        return
    steps, band = v[axis + ".steps_per_turn"], v["tracking.deadband_deg"]
    if 360.0 / steps > band / 4.0:
        least = math.ceil(1440.0 / band)
        yield (
            f"{axis}.steps_per_turn",
            f"= {steps} is too coarse for tracking.deadband_deg = {band} deg; give at least {least} steps",
        )
    rate = v[axis + ".speed_deg_s"] * steps / 360.0
    if rate > FASTEST_STEPS_S:
        most = FASTEST_STEPS_S * 360.0 / steps
        yield (
            f"{axis}.speed_deg_s",
            f"asks for {rate:.0f} steps/s, at most {FASTEST_STEPS_S}; give at most {most:.3g} deg/s",
        )


def _hand(v: Values) -> Broken:
    """Only the season of a polar mount is set by hand; then axis 1 alone leaves the sun, to its east."""
    if v["axis1.drive"] == "hand":
        yield "axis1.drive", '= "hand" leaves nothing to follow the sun; give it to axis2 of a polar mount'
    if v["axis2.drive"] != "hand":
        return
    if v["mount.kind"] != "polar":
        yield (
            "axis2.drive",
            f'= "hand" needs mount.kind = "polar" (now "{v["mount.kind"]}"): only a season can wait',
        )
        return
    low, high, zero = v["axis1.low_deg"], v["axis1.high_deg"], v["axis1.zero_deg"]
    north = v["site.latitude_deg"] >= 0.0
    behind = 180.0 - low - zero if north else high + zero - 180.0
    if behind < EAST_LEAST_DEG:
        key = "axis1.low_deg" if north else "axis1.high_deg"
        least = 180.0 + math.copysign(EAST_LEAST_DEG, -1.0 if north else 1.0)
        yield (
            key,
            f"= {v[key]} deg: with the season set by hand axis 1 alone leaves the sun, to the east; its "
            f"travel must reach {EAST_LEAST_DEG:g} deg past noon's 180 deg, to {least:g} deg at least",
        )


def _park(v: Values) -> Broken:
    """Travel limits that admit no park are refused: the mount parks aimed at the elevated pole."""
    for axis in ("axis1", "axis2"):
        if v[axis + ".low_deg"] >= v[axis + ".high_deg"]:
            return
    if v["axis2.drive"] == "hand":
        return  # it rests at the eastern end of axis 1: see _hand
    if v["mount.kind"] == "polar":
        low, high = v["axis2.low_deg"], v["axis2.high_deg"]
        if not low <= 90.0 <= high:
            yield (
                "axis2.high_deg",
                f"= {high} deg: the travel {low} to {high} deg admits no park; "
                "a polar mount parks with axis 2 at 90 deg",
            )
        return
    latitude = math.radians(v["site.latitude_deg"])
    pole = (0.0, math.copysign(math.cos(latitude), latitude), abs(math.sin(latitude)))
    about = ("mount.", "axis1.", "axis2.", "site.latitude")
    needed = [row[0] for row in SETTINGS if row[0].startswith(about)]
    geometry = Geometry(SimpleNamespace(**{key.replace(".", "_"): v[key] for key in needed}))
    if not geometry.axes_from_enu(*pole, [0, 0]):
        side = "north" if latitude >= 0 else "south"
        height = abs(v["site.latitude_deg"])
        at = "axis2" if not v["axis2.low_deg"] <= height <= v["axis2.high_deg"] else "axis1"
        low, high = v[at + ".low_deg"], v[at + ".high_deg"]
        yield (
            f"{at}.high_deg" if at == "axis1" or height > high else "axis2.low_deg",
            f"leaves the travel {low} to {high} deg, which admits no park; it must reach true {side}, "
            f"{height:g} deg up: widen it",
        )
