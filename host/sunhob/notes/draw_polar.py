"""Drawing of a polar mount: the axes through the pot, and an actuator about axis 1. Units: m, degrees."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..sizing import gears
from . import svg

_SCALE = 200.0  # pixels a metre
_TRAVEL_DEG, _HEAD_M = 110.0, 0.36
_SUN_DEG = 23.44


def polar_mount(cooker: Any) -> str:
    """From the side with the dish at noon, the pole to the right; and along axis 1 from its upper end."""
    out = [*_side(cooker, (360.0, 330.0)), *_along((930.0, 330.0))]
    return svg.sheet(1180, 640, "A polar mount: axis 1 leans to the pole, both axes cross at the pot", out)


def _mirror(pot: svg.Point, look_deg: float, dish: Any) -> list[svg.Point]:
    """The mirror's outline with its focus at the pot, looking this way."""
    focal, half = dish.focal_length_m, dish.aperture_diameter_m / 2.0
    ux, uy = math.cos(math.radians(look_deg)), math.sin(math.radians(look_deg))
    rows = []
    for across in np.linspace(-half, half, 25):
        along = across**2 / (4.0 * focal) - focal
        rows.append((pot[0] + _SCALE * (along * ux - across * uy),
                     pot[1] - _SCALE * (along * uy + across * ux)))
    return rows


def _side(cooker: Any, pot: svg.Point) -> list[str]:
    dish, tilt = cooker.dish, abs(cooker.site.latitude_deg)
    depth = dish.aperture_diameter_m**2 / (16.0 * dish.focal_length_m)
    rim = math.hypot(dish.aperture_diameter_m / 2.0, depth - dish.focal_length_m)
    noon = 90.0 + tilt  # of the celestial equator: to the left and up
    shaft = svg.polar(pot, _SCALE * (rim + 0.15), 180.0 + tilt)
    low = svg.polar(pot, _SCALE * (rim + 0.75), 180.0 + tilt)
    ground = low[1] + 40.0
    out = [
        svg.line((60.0, ground), (640.0, ground), svg.SOFT, 3.0),
        svg.line(svg.polar(pot, _SCALE * (rim + 0.9), 180.0 + tilt), svg.polar(pot, 230.0, tilt), svg.RED,
                 1.6, "9 4"),
        svg.line(low, shaft, svg.INK, 9.0), svg.line(shaft, pot, svg.SOFT, 4.0),
        svg.path(_mirror(pot, tilt, dish), svg.SOFT, 2.0),
        svg.path(_mirror(pot, noon, dish), svg.BLUE, 4.0),
    ]
    for reading in (-_SUN_DEG, 0.0, _SUN_DEG):
        way = noon - reading
        ends = svg.polar(pot, 60.0, way), svg.polar(pot, 215.0, way)
        out.append(svg.line(*ends, svg.AMBER, 2.0, "6 4", "e"))
    return [
        *out,
        svg.circle(pot, 8.0, svg.RED, 3.0, "white"),
        svg.arc(pot, 190.0, 0.0, tilt, svg.RED, 1.6, "b"),
        svg.line(pot, (pot[0] + 250.0, pot[1]), svg.SOFT, 1.2, "3 4"),
        svg.text(pot[0] + 258.0, pot[1] + 5.0, "level, to the pole's side", size=13, colour=svg.SOFT),
        svg.text(pot[0] + 200.0, pot[1] - 28.0, f"{tilt:g} deg: your latitude", size=13, colour=svg.RED),
        svg.text(90.0, 66.0, "noon sun over the year: axis 2 reads\n-23.4 (winter), 0, 23.4 deg (summer)",
                 size=13, colour=svg.AMBER),
        svg.note(pot, (450.0, 190.0), "pot; axis 2 goes through it,\nlevel, across the drawing",
                 colour=svg.RED),
        svg.note(svg.polar(pot, 120.0, 180.0 + tilt), (60.0, 250.0),
                 "fork: round the dish,\nit must swing free"),
        svg.note(low, (60.0, ground + 40.0), "bearings of axis 1, its stops,\nhome switch, hand release"),
        svg.note(_mirror(pot, tilt, dish)[3], (300.0, ground + 40.0),
                 "the dish parked, looking at the pole:\nit passes the fork's foot", colour=svg.SOFT),
    ]


def _along(axis: svg.Point) -> list[str]:
    found = gears.triangle_for(_TRAVEL_DEG, _HEAD_M)
    assert found is not None
    foot_m, start = found
    noon_deg = 90.0  # where the head stands at noon: up
    foot_way = noon_deg - start - _TRAVEL_DEG / 2.0
    foot = svg.polar(axis, foot_m * _SCALE, foot_way)
    words = "Seen along axis 1 from its upper end"
    out = [svg.text(axis[0] - 230.0, 66.0, words, bold=True)]
    for turn in (-_TRAVEL_DEG / 2.0, _TRAVEL_DEG / 2.0, 0.0):
        head = svg.polar(axis, _HEAD_M * _SCALE, noon_deg + turn)
        dash = "7 5" if turn else ""
        out += [svg.line(axis, head, svg.SOFT if turn else svg.INK, 2.0 if turn else 5.0, dash),
                svg.line(foot, head, svg.SOFT if turn else svg.BLUE, 2.5 if turn else 7.0, dash),
                svg.circle(head, 6.0, svg.SOFT if turn else svg.BLUE, 2.0, "white")]
    ends = [1000.0 * float(gears.length_m(a, foot_m, _HEAD_M)) for a in (start, start + _TRAVEL_DEG)]
    middle = ((axis[0] + foot[0]) / 2.0, (axis[1] + foot[1]) / 2.0)
    return [
        *out, svg.line(axis, foot, svg.INK, 3.0), svg.circle(axis, 9.0, svg.RED, 3.0, "white"),
        svg.circle(foot, 9.0, svg.INK, 3.0, "white"),
        svg.note(axis, (700.0, 420.0), "axis 1", colour=svg.RED),
        svg.note(foot, (900.0, 480.0), f"foot: on the base,\n{foot_m:g} m off the axis"),
        svg.note(svg.polar(axis, _HEAD_M * _SCALE, noon_deg), (930.0, 190.0),
                 f"head: on the fork, {_HEAD_M:g} m\noff the axis, here at noon"),
        svg.note(svg.polar(foot, 0.5 * math.hypot(head[0] - foot[0], head[1] - foot[1]),
                           math.degrees(math.atan2(foot[1] - head[1], head[0] - foot[0]))),
                 (1040.0, 250.0), "the actuator\nof the hours"),
        svg.note(middle, (700.0, 500.0), "the frame holds foot\nand bearings apart"),
        svg.text(axis[0] - 230.0, 560.0,
                 f"{_TRAVEL_DEG:g} deg of travel are {_TRAVEL_DEG / 15.0:.1f} hours of sun;\n"
                 f"the actuator goes from {ends[0]:.0f} to {ends[1]:.0f} mm.\n"
                 "No hand in fork or triangle while motor power is on.", size=13),
    ]
