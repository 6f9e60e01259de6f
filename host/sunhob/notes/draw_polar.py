"""Drawing of a polar mount: axes through the pot, fork, actuator about axis 1. Units: m, degrees."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..sizing import gears
from . import svg

_SCALE = 200.0  # pixels a metre
_TRAVEL_DEG, _HEAD_M = 110.0, 0.36
_SUN_DEG = 23.44
_FOOT_M, _ARM_M = 0.15, 0.1  # what the fork keeps clear of the mirror's rim: below it, and beside it
_GREY = "#eef2f4"


def polar_mount(cooker: Any) -> str:
    """From the side with the dish at noon, the pole to the right; from the front; and along axis 1."""
    out = [*_side(cooker, (360.0, 330.0)), *_front(cooker, (900.0, 210.0)), *_along((400.0, 780.0))]
    return svg.sheet(1180, 980, "A polar mount: axis 1 leans to the pole, both axes cross at the pot", out)


def _rim(dish: Any) -> tuple[float, float]:
    """How far the rim lies from the dish axis, and how far below the focus."""
    half = dish.aperture_diameter_m / 2.0
    return half, dish.focal_length_m - half**2 / (4.0 * dish.focal_length_m)


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
    rim = math.hypot(*_rim(dish))
    noon = 90.0 + tilt  # of the celestial equator: to the left and up
    shaft = svg.polar(pot, _SCALE * (rim + _FOOT_M), 180.0 + tilt)
    low = svg.polar(pot, _SCALE * (rim + _FOOT_M + 0.6), 180.0 + tilt)
    ground = low[1] + 40.0
    arm = [svg.polar(end, side * 6.0, tilt + 90.0)
           for end, side in ((shaft, 1.0), (pot, 1.0), (pot, -1.0), (shaft, -1.0))]
    foot = [svg.polar(svg.polar(shaft, along * 12.0, tilt), side * 12.0, tilt + 90.0)
            for along, side in ((-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0))]
    out = [
        svg.text(60.0, 66.0, "From the side, at noon", bold=True),
        svg.line((60.0, ground), (640.0, ground), svg.SOFT, 3.0),
        svg.line(svg.polar(pot, _SCALE * (rim + 0.9), 180.0 + tilt), svg.polar(pot, 230.0, tilt), svg.RED,
                 1.6, "9 4"),
        svg.line(low, shaft, svg.INK, 9.0),
        svg.path(_mirror(pot, tilt, dish), svg.SOFT, 2.0, dash="6 4"),
        svg.path(_mirror(pot, noon, dish), svg.BLUE, 4.0),
        svg.path(arm, svg.INK, 1.6, _GREY, True), svg.path(foot, svg.INK, 1.6, _GREY, True),
    ]
    for reading in (-_SUN_DEG, 0.0, _SUN_DEG):
        way = noon - reading
        ends = svg.polar(pot, 60.0, way), svg.polar(pot, 215.0, way)
        out.append(svg.line(*ends, svg.AMBER, 2.0, "6 4", "e"))
    parked = svg.polar(pot, _SCALE * dish.focal_length_m, 180.0 + tilt)
    return [
        *out,
        svg.circle(pot, 8.0, svg.RED, 3.0, "white"),
        svg.arc(pot, 190.0, 0.0, tilt, svg.RED, 1.6, "b"),
        svg.line(pot, (pot[0] + 250.0, pot[1]), svg.SOFT, 1.2, "3 4"),
        svg.text(pot[0] + 166.0, pot[1] + 20.0, "level, to the pole's side", size=13, colour=svg.SOFT),
        svg.text(pot[0] + 200.0, pot[1] - 28.0, f"{tilt:g} deg: your latitude", size=13, colour=svg.RED),
        svg.text(60.0, 92.0, "noon sun over the year: axis 2 reads\n-23.4 (winter), 0, 23.4 deg (summer)",
                 size=13, colour=svg.AMBER),
        svg.note(pot, (430.0, 190.0), "pot; axis 2 goes through it,\nlevel, across the drawing",
                 colour=svg.RED),
        svg.note(svg.polar(parked, 4.0, tilt + 90.0), (40.0, 240.0),
                 "fork: one arm before the\nmirror, one behind it"),
        svg.note(low, (60.0, ground + 40.0), "bearings of axis 1, its stops,\nhome switch, hand release"),
        svg.note(_mirror(pot, tilt, dish)[3], (310.0, ground + 40.0),
                 "the dish parked, looking at the pole:\nits middle lies between the arms", colour=svg.SOFT),
    ]


def _front(cooker: Any, pot: svg.Point) -> list[str]:
    """Square to both axes, the dish parked: the fork's two arms, and the room that the mirror sweeps."""
    half, below = _rim(cooker.dish)
    beside, foot_y = (half + _ARM_M) * _SCALE, pot[1] + _SCALE * (math.hypot(half, below) + _FOOT_M)
    swept = [(pot[0] + _SCALE * x, pot[1] + _SCALE * math.sqrt(half**2 + below**2 - x**2))
             for x in np.linspace(-half, half, 41)]
    out = [svg.text(pot[0] - 230.0, 66.0, "From the front, square to axis 1, dish parked", bold=True),
           svg.line((pot[0], pot[1] - 110.0), (pot[0], foot_y + 120.0), svg.RED, 1.6, "9 4"),
           svg.line((pot[0], foot_y), (pot[0], foot_y + 90.0), svg.INK, 9.0),
           svg.path(swept, svg.AMBER, 1.6, dash="3 4")]
    for side in (-1.0, 1.0):
        at = pot[0] + side * beside
        out += [svg.box(at - 6.0, pot[1] - 12.0, 12.0, foot_y - pot[1], fill=_GREY, stroke=1.6),
                svg.line((at, pot[1]), (pot[0] + side * _SCALE * half, pot[1] + _SCALE * below), svg.BLUE,
                         3.0),
                svg.circle((at, pot[1]), 6.0, svg.RED, 2.0, "white")]
    return [
        *out,
        svg.box(pot[0] - beside - 6.0, foot_y - 12.0, 2.0 * beside + 12.0, 24.0, fill=_GREY, stroke=1.6),
        svg.line((pot[0] - beside - 40.0, pot[1]), (pot[0] + beside + 40.0, pot[1]), svg.RED, 1.6, "9 4"),
        svg.line((pot[0] - beside, pot[1]), (pot[0] + beside, pot[1]), svg.INK, 3.0),
        svg.path(_mirror(pot, 90.0, cooker.dish), svg.BLUE, 4.0),
        svg.circle(pot, 8.0, svg.RED, 3.0, "white"),
        svg.text(pot[0] + 8.0, pot[1] - 98.0, "axis 1, to the pole", size=13, colour=svg.RED),
        svg.text(pot[0] + beside - 20.0, pot[1] - 22.0, "axis 2", size=13, colour=svg.RED),
        svg.note((pot[0] - 60.0, pot[1]), (pot[0] - 190.0, pot[1] - 60.0), "bar with the pot's ring"),
        svg.note((pot[0] - beside, pot[1] + 120.0), (pot[0] - beside - 100.0, pot[1] + 250.0),
                 f"arm: {_ARM_M:g} m\nbeside the rim"),
        svg.note((swept[29][0], swept[29][1]), (pot[0] + 60.0, foot_y + 60.0),
                 f"room that the rim sweeps\nabout axis 2; the fork's foot\nkeeps {_FOOT_M:g} m from it",
                 colour=svg.AMBER),
    ]


def _along(axis: svg.Point) -> list[str]:
    found = gears.triangle_for(_TRAVEL_DEG, _HEAD_M)
    assert found is not None
    foot_m, start = found
    noon_deg = 90.0  # where the head stands at noon: up
    foot_way = noon_deg - start - _TRAVEL_DEG / 2.0
    foot = svg.polar(axis, foot_m * _SCALE, foot_way)
    words = "Seen along axis 1 from its upper end"
    out = [svg.text(axis[0] - 340.0, axis[1] - 190.0, words, bold=True)]
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
        svg.note(axis, (axis[0] - 230.0, axis[1] + 60.0), "axis 1", colour=svg.RED),
        svg.note(foot, (axis[0] + 230.0, axis[1] + 120.0), f"foot: on the base,\n{foot_m:g} m off the axis"),
        svg.note(svg.polar(axis, _HEAD_M * _SCALE, noon_deg), (axis[0], axis[1] - 140.0),
                 f"head: on the fork, {_HEAD_M:g} m\noff the axis, here at noon"),
        svg.note(svg.polar(foot, 0.5 * math.hypot(head[0] - foot[0], head[1] - foot[1]),
                           math.degrees(math.atan2(foot[1] - head[1], head[0] - foot[0]))),
                 (axis[0] + 150.0, axis[1] - 80.0), "the actuator\nof the hours"),
        svg.note(middle, (axis[0] - 60.0, axis[1] + 150.0), "the frame holds foot\nand bearings apart"),
        svg.text(720.0, axis[1] - 40.0,
                 f"{_TRAVEL_DEG:g} deg of travel are {_TRAVEL_DEG / 15.0:.1f} hours of sun;\n"
                 f"the actuator goes from {ends[0]:.0f} to {ends[1]:.0f} mm.\n"
                 "No hand in fork or triangle while motor power is on.", size=13),
    ]
