"""Drawing of the triangle of a linear actuator, for axis 2. Units: m, degrees."""

from __future__ import annotations

import math
from typing import Any

from ..sizing import gears
from . import svg
from .pulse_drives import EXAMPLE

_SCALE = 520.0  # pixels a metre


def triangle(cooker: Any) -> str:
    """Foot, axis and head with the dish level and at the ends of its travel; lengths beside them."""
    axis = cooker.axis2.model_copy(update=EXAMPLE)
    centre = (560.0, 260.0)
    foot_way = -axis.triangle_deg  # so that the head points to the right at reading 0
    foot = svg.polar(centre, axis.foot_m * _SCALE, foot_way)
    out = [*_readings(axis, centre, foot), *_names(axis, centre, foot, foot_way)]
    return svg.sheet(1180, 700, "A linear actuator on axis 2: foot, axis and head make a triangle", out)


def _head(axis: Any, centre: svg.Point, reading_deg: float) -> svg.Point:
    return svg.polar(centre, axis.head_m * _SCALE, reading_deg)


def _readings(axis: Any, centre: svg.Point, foot: svg.Point) -> list[str]:
    out = []
    for reading, colour, wide in ((axis.low_deg, svg.SOFT, 3.0), (axis.high_deg, svg.SOFT, 3.0),
                                  (45.0, svg.BLUE, 7.0)):
        head = _head(axis, centre, reading)
        length = float(gears.length_m(reading + axis.triangle_deg, axis.foot_m, axis.head_m))
        dash = "" if wide > 3.0 else "7 5"
        out += [
            svg.line(centre, head, svg.INK if not dash else colour, 4.0 if not dash else 2.0, dash),
            svg.line(foot, head, colour, wide, dash),
            svg.circle(head, 6.0, colour, 2.0, "white"),
        ]
        away = svg.polar(head, 20.0, reading)
        beside = math.cos(math.radians(reading)) > 0.3
        words = f"reading {reading:g} deg:\n{1000 * length:.0f} mm from foot to head"
        out.append(svg.text(away[0], away[1] - (0.0 if beside else 26.0), words, "start" if beside else ""
                                                                                                        ""
                                                                                                        ""
                                                                                                        "middle",
                            13, colour if dash else svg.INK))
    return out


def _names(axis: Any, centre: svg.Point, foot: svg.Point, foot_way: float) -> list[str]:
    middle = ((centre[0] + foot[0]) / 2.0, (centre[1] + foot[1]) / 2.0)
    rod = _head(axis, centre, 45.0)
    on_rod = (foot[0] + 0.75 * (rod[0] - foot[0]), foot[1] + 0.75 * (rod[1] - foot[1]))
    return [
        svg.line(centre, foot, svg.INK, 4.0),
        svg.line(centre, _head(axis, centre, 0.0), svg.SOFT, 1.5, "3 4"),
        svg.arc(centre, 80.0, foot_way, 0.0, svg.RED, 2.0, "b"),
        svg.note(svg.polar(centre, 80.0, foot_way / 2.0), (150.0, 500.0),
                 f"triangle_deg = {axis.triangle_deg:g}:\nfrom foot to head at reading 0", colour=svg.RED),
        svg.circle(centre, 9.0, svg.RED, 3.0, "white"), svg.circle(foot, 9.0, svg.INK, 3.0, "white"),
        svg.note(centre, (150.0, 290.0), "axis 2", colour=svg.RED),
        svg.note(middle, (150.0, 400.0), f"foot_m = {axis.foot_m:g}:\nfrom axis to foot, on the fork"),
        svg.note(foot, (150.0, 590.0), "foot: turns freely"),
        svg.note(svg.polar(centre, axis.head_m * _SCALE / 2.0, 45.0), (150.0, 170.0),
                 f"head_m = {axis.head_m:g}:\nfrom axis to head, on the dish"),
        svg.note(on_rod, (840.0, 205.0), "the actuator: grows as the reading grows"),
        svg.text(40, 655, "Keep 10 deg and more from a stretched or folded triangle at both ends: there "
                          "the rod "
                 "has no lever. Where triangle_deg\nis negative the rod draws in as the reading grows. "
                 "No hand "
                 "between rod and fork while motor power is on.", size=14),
    ]
