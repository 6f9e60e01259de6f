"""Drawing of loose light: guarded volume, guard plate, keep-out, and figures over the angle off the sun.

Units: m, deg, kW/m2.
"""

from __future__ import annotations

import math
from typing import Any

from . import svg
from .light import keep_out_m

_SCALE = 95.0
_FOCUS = (330.0, 300.0)
_HIGH_M = 1.0
_LOOK_DEG = 50.0


def light(cooker: Any, figures: dict[str, Any]) -> str:
    """A section on the left, curves on the right."""
    parts = _section(cooker, figures) + _curves(figures)
    return svg.sheet(1180, 640, "Loose light of the invented dish: guarded volume and keep-out", parts)


def _section(cooker: Any, figures: dict[str, Any]) -> list[str]:
    dish, keep = cooker.dish, keep_out_m(figures)
    reach = max(r["reach_m"] for r in figures["by_lag"])
    ground = _FOCUS[1] + _HIGH_M * _SCALE
    half = dish.aperture_diameter_m / 2 * _SCALE
    beam = [
        svg.polar(svg.polar(_FOCUS, along * _SCALE, _LOOK_DEG), side * half, _LOOK_DEG + 90)
        for along, side in ((-0.33, 1.0), (2.2, 1.0), (2.2, -1.0), (-0.33, -1.0))
    ]
    guard_y = _FOCUS[1] + cooker.guard.below_focus_m * _SCALE
    plate = figures["plates"][1]
    wide = plate["diameter_m"] / 2 * _SCALE
    out = [svg.path(beam, "none", 0, "#fff3d6", True)]
    out += [
        _bubble(reach, ground),
        svg.circle(_FOCUS, figures["guarded_m"] * _SCALE, svg.AMBER, 2.5, "#ffe0b0"),
    ]
    for side in (-0.45, 0.0, 0.45):
        tail = svg.polar(svg.polar(_FOCUS, 2.1 * _SCALE, _LOOK_DEG), side * half / 0.55, _LOOK_DEG + 90)
        out.append(svg.line(tail, svg.polar(tail, -60, _LOOK_DEG), svg.AMBER, 2, "", "e"))
    out += [
        svg.line((_FOCUS[0] - wide, guard_y), (_FOCUS[0] + wide, guard_y), svg.INK, 3),
        svg.dish(_FOCUS, _SCALE, dish.aperture_diameter_m, dish.focal_length_m, _LOOK_DEG),
        svg.box(_FOCUS[0] - 12.6, _FOCUS[1] - 14, 25.2, 17, fill="#444c52"),
        svg.line((20, ground), (640, ground), svg.SOFT, 3),
    ]
    for side in (-1.0, 1.0):
        at = _FOCUS[0] + side * keep * _SCALE
        if 20 < at < 640:
            out.append(svg.line((at, ground - 26), (at, ground + 12), svg.RED, 3))
    left, right = max(24.0, _FOCUS[0] - keep * _SCALE), min(636.0, _FOCUS[0] + keep * _SCALE)
    out += [
        svg.line((left, ground + 30), (right, ground + 30), svg.RED, 1.5, "", "b"),
        svg.text(
            _FOCUS[0],
            ground + 52,
            f"keep-out on the ground: {keep:.0f} m about the dish, all round",
            "middle",
            14,
            svg.RED,
        ),
        svg.note(
            svg.polar(_FOCUS, reach * _SCALE, 150),
            (30, 96),
            f"keep-out: more than 4 kW/m2 in places as far as\n{reach:.1f} m from the focus, until "
            f"{math.ceil(figures['loose_clear_deg'])} deg off the sun",
            colour=svg.RED,
        ),
        svg.note(
            svg.polar(_FOCUS, figures["guarded_m"] * _SCALE, 35),
            (490, 232),
            f"guarded volume: {figures['guarded_m']:.2f} m\nabout the focus",
        ),
        svg.note(
            (_FOCUS[0] + wide - 3, guard_y),
            (490, 297),
            f"guard plate, {plate['diameter_m']:.2f} m wide,\n"
            f"if the least heat is {plate['least_percent']:.0f} %",
        ),
        svg.text(
            30,
            ground + 90,
            "Shaded: the beam. Nobody reaches, stands or looks into it.\n"
            "Stand behind the dish, and walk round its back.",
            "start",
            14,
            svg.INK,
        ),
    ]
    return out


def _bubble(reach: float, ground: float) -> str:
    """The reach of loose light, as far as the ground."""
    points = [svg.polar(_FOCUS, reach * _SCALE, a) for a in range(-90, 271, 2)]
    return svg.path([p for p in points if p[1] <= ground], svg.RED, 2, dash="9 5")


def _curves(figures: dict[str, Any]) -> list[str]:
    left, bottom, width, height = 740.0, 300.0, 400.0, 200.0
    out = _frame(
        left, bottom, width, height, "more than 4 kW/m2 as far as (m from the focus)", [0, 0.5, 1.0, 1.5, 2.0]
    )
    rows = figures["by_lag"]
    limit = figures["loose_clear_deg"]
    points = [(left + r["lag_deg"] / 100.0 * width, bottom - r["reach_m"] / 2.0 * height) for r in rows]
    points.append((left + limit / 100.0 * width, bottom - rows[-1]["reach_m"] / 2.0 * height))
    points.append((left + limit / 100.0 * width, bottom))
    out += [svg.path(points, svg.RED, 2.5)]
    bottom2 = 570.0
    out += _frame(
        left, bottom2, width, height, "strongest beyond the guarded volume (kW/m2)", [0, 50, 100, 150]
    )
    out += [
        svg.path(
            [(left + r["lag_deg"] / 100.0 * width, bottom2 - r["most_kw_m2"] / 150.0 * height) for r in rows],
            svg.RED,
            2.5,
        ),
        svg.line(
            (left, bottom2 - 4.0 / 150.0 * height),
            (left + width, bottom2 - 4.0 / 150.0 * height),
            svg.GREEN,
            1.5,
            "6 4",
        ),
        svg.text(left + width - 6, bottom2 - 36, "4 kW/m2", "end", 12, svg.GREEN),  # clear of the curve's end
        svg.line((left + width - 30, bottom2 - 31), (left + width - 30, bottom2 - 4.0 / 150.0 * height),
                 svg.GREEN, 1.0),
        svg.text(left + width / 2, bottom2 + 46, "dish off the sun (deg)", "middle", 13),
    ]
    return out


def _frame(
    left: float, bottom: float, width: float, height: float, title: str, ticks: list[float]
) -> list[str]:
    out = [
        svg.box(left, bottom - height, width, height, svg.SOFT, "white", 1.5),
        svg.text(left, bottom - height - 10, title, "start", 14, svg.INK, True),
    ]
    for k in range(0, 101, 20):
        at = left + k / 100.0 * width
        out += [
            svg.line((at, bottom), (at, bottom - height), "#e3e8eb", 1),
            svg.text(at, bottom + 20, f"{k}", "middle", 12),
        ]
    for tick in ticks:
        y = bottom - tick / ticks[-1] * height
        out += [
            svg.line((left, y), (left + width, y), "#e3e8eb", 1),
            svg.text(left - 8, y + 4, f"{tick:g}", "end", 12),
        ]
    return out
