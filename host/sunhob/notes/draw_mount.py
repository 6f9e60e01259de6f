"""Drawing of the mount: both axes cross at the pot. Dimensions of the invented dish; units: m, deg."""

from __future__ import annotations

from typing import Any

from . import svg

_SCALE = 220.0
_HIGH_M = 1.0  # crossing of the axes above the ground
_GROUND = 560.0
_LOOK_DEG = 48.0
_SIDE_X, _FRONT_X = 320.0, 860.0


def mount(cooker: Any) -> str:
    """Side and front view."""
    parts = _side(cooker) + _front(cooker)
    return svg.sheet(1180, 700, "The mount: axis 1 and axis 2 cross at the pot, which stays level", parts)


def _at(x: float, right_m: float, up_m: float) -> svg.Point:
    """A point so far right of and above the crossing of the axes."""
    return x + right_m * _SCALE, _GROUND - (_HIGH_M + up_m) * _SCALE


def _base(x: float, half_m: float) -> list[str]:
    foot = _GROUND - 12
    out = [svg.line((x - 260, _GROUND), (x + 260, _GROUND), svg.SOFT, 3.0)]
    for side in (-1.0, 1.0):
        at = x + side * half_m * _SCALE
        out.append(svg.path([(at - 14, _GROUND), (at + 14, _GROUND), (at, foot)], svg.INK, 2, svg.SOFT, True))
    out.append(
        svg.box(x - (half_m + 0.06) * _SCALE, foot - 16, 2 * (half_m + 0.06) * _SCALE, 16, fill="#dfe5e8")
    )
    return out


def _pot(x: float, cooker: Any) -> list[str]:
    pot = cooker.pot
    left, top = _at(x, -pot.diameter_m / 2, pot.bottom_above_focus_m + pot.height_m)
    plate_y = _at(x, 0, -cooker.guard.below_focus_m)[1]
    half = 0.32 * _SCALE
    return [
        svg.line((x - half, plate_y), (x - pot.diameter_m / 2 * _SCALE - 3, plate_y), svg.AMBER, 4),
        svg.line((x + pot.diameter_m / 2 * _SCALE + 3, plate_y), (x + half, plate_y), svg.AMBER, 4),
        svg.box(left, top, pot.diameter_m * _SCALE, pot.height_m * _SCALE, fill="#444c52"),
    ]


def _side(cooker: Any) -> list[str]:
    x, dish = _SIDE_X, cooker.dish
    focus = _at(x, 0, 0)
    rim_along = dish.aperture_diameter_m**2 / (16.0 * dish.focal_length_m) - dish.focal_length_m
    vertex = svg.polar(focus, -dish.focal_length_m * _SCALE, _LOOK_DEG)
    rims = [
        svg.polar(
            svg.polar(focus, rim_along * _SCALE, _LOOK_DEG),
            s * dish.aperture_diameter_m / 2 * _SCALE,
            _LOOK_DEG + 90.0,
        )
        for s in (1.0, -1.0)
    ]
    weight = svg.polar(focus, 0.34 * _SCALE, _LOOK_DEG)
    handle = svg.polar(vertex, 0.22 * _SCALE, _LOOK_DEG + 180.0)
    turn_y = _GROUND - 44
    out = _base(x, 0.62)
    out += [
        svg.box(x - 0.5 * _SCALE, turn_y, _SCALE, 16, fill="#cfd8dc"),
        svg.path(
            [(x - 30, turn_y), (x - 11, focus[1]), (x + 11, focus[1]), (x + 30, turn_y)],
            svg.INK,
            2,
            "#eef2f4",
        ),
    ]
    out += [svg.line(focus, rim, svg.BLUE, 3) for rim in rims]
    out += [svg.line(focus, weight, svg.BLUE, 3), svg.circle(weight, 13, svg.BLUE, 2, "#9fb6c4")]
    out += [
        svg.dish(focus, _SCALE, dish.aperture_diameter_m, dish.focal_length_m, _LOOK_DEG),
        svg.line(vertex, handle, svg.BLUE, 5),
        *_pot(x, cooker),
        svg.circle(focus, 6, svg.RED, 2, "white"),
        svg.line(
            svg.polar(focus, 0.4 * _SCALE, _LOOK_DEG),
            svg.polar(focus, 0.9 * _SCALE, _LOOK_DEG),
            svg.AMBER,
            2,
            "8 5",
            "e",
        ),
        svg.line((x, focus[1] - 150), (x, _GROUND + 20), svg.RED, 1.5, "10 4 2 4"),
        svg.arc((x, focus[1] - 140), 16, 200, 340, svg.RED, 1.5, "e"),
        svg.text(x - 24, focus[1] - 152, "axis 1 (upright)", "end", 13, svg.RED),
    ]
    sight = svg.polar(rims[0], 0.1 * _SCALE, _LOOK_DEG)
    out += [svg.line(rims[0], sight, svg.GREEN, 4)]
    out += [
        svg.text(40, 74, "Side view", size=15, bold=True),
        svg.note(focus, (466, 235), "axis 2 (level) goes through\nthe focus and the pot", colour=svg.RED),
        svg.note(sight, (40, 190), "shadow sight,\nsquare to the dish axis"),
        svg.note(
            weight,
            (440, 120),
            "counterweights (one each side, clear of the\nbeam): the dish balances about axis 2",
        ),
        svg.note(
            (x + 60, _at(x, 0, -cooker.guard.below_focus_m)[1]), (476, 300), "guard plate (level, fixed)"
        ),
        svg.note(
            ((focus[0] + rims[1][0]) / 2, (focus[1] + rims[1][1]) / 2),
            (500, 385),
            "arm from axis 2\nto the rim",
        ),
        svg.note(handle, (30, 480), "handle behind the dish:\nrelease 2 is reached here"),
        svg.note(
            (x - 60, turn_y + 8),
            (30, 620),
            "turntable on axis 1, with gear 1,\nits release, stops and home switch",
        ),
        svg.note((x + 0.62 * _SCALE, _GROUND - 5), (470, 620), "three levelling feet,\nanchored or weighted"),
        svg.note((x + 18, turn_y - 90), (500, 470), "fork: one upright\neach side of the dish"),
    ]
    return out


def _front(cooker: Any) -> list[str]:
    x, dish = _FRONT_X, cooker.dish
    focus = _at(x, 0, 0)
    wide = 0.82
    turn_y = _GROUND - 44
    out = _base(x, 0.62)
    out.append(svg.box(x - (wide + 0.06) * _SCALE, turn_y, 2 * (wide + 0.06) * _SCALE, 16, fill="#cfd8dc"))
    for side in (-1.0, 1.0):
        at = x + side * wide * _SCALE
        out += [
            svg.box(at - 9, focus[1] - 14, 18, turn_y - focus[1] + 14, fill="#eef2f4"),
            svg.line((x + side * cooker.pot.diameter_m / 2 * _SCALE, focus[1]), (at, focus[1]), svg.INK, 6),
        ]
        rim = _at(
            x,
            side * dish.aperture_diameter_m / 2,
            dish.aperture_diameter_m**2 / (16.0 * dish.focal_length_m) - dish.focal_length_m,
        )
        collar = (at - side * 22, focus[1])
        out += [
            svg.path([collar, rim], svg.BLUE, 3),
            svg.box(collar[0] - 7, collar[1] - 9, 14, 18, svg.BLUE, "#9fb6c4"),
        ]
    out += [
        svg.dish(focus, _SCALE, dish.aperture_diameter_m, dish.focal_length_m, 90.0),
        *_pot(x, cooker),
        svg.line((x - 1.02 * _SCALE, focus[1]), (x + 1.06 * _SCALE, focus[1]), svg.RED, 1.5, "10 4 2 4"),
        svg.line((x, focus[1] - 150), (x, _GROUND + 20), svg.RED, 1.5, "10 4 2 4"),
        svg.circle(focus, 6, svg.RED, 2, "white"),
        svg.text(x + 8, focus[1] - 140, "axis 1", "start", 13, svg.RED),
        svg.text(x + 1.09 * _SCALE, focus[1] + 5, "axis 2", "start", 13, svg.RED),
    ]
    gear = x - wide * _SCALE
    out += [
        svg.box(gear - 40, focus[1] - 16, 30, 32, svg.INK, "#d8dfe3"),
        svg.text(x - 240, 74, "Front view, the dish looking straight up", size=15, bold=True),
        svg.note((gear - 28, focus[1] - 14), (690, 190), "gear 2, its stops\nand home switch"),
        svg.note(
            (x + 0.45 * _SCALE, focus[1]),
            (950, 250),
            "fixed bar along axis 2 holds\npot ring and guard plate;\nit does not turn with the dish",
        ),
        svg.note(
            (x + wide * _SCALE - 22, focus[1] + 9), (890, 476), "collar: the dish's arm\nturns about the bar"
        ),
        svg.note(
            (x, _at(x, 0, -dish.focal_length_m)[1]),
            (x, 620),
            f"mirror's lowest point: {dish.focal_length_m:g} m (focal length) below the focus",
            "middle",
        ),
        svg.line((x - 0.7 * _SCALE, _GROUND + 92), (x + 0.7 * _SCALE, _GROUND + 92), svg.SOFT, 1.5, "", "b"),
        svg.text(x, _GROUND + 112, f"{dish.aperture_diameter_m:g} m", "middle", 13),
    ]
    return out
