"""Drawing of where the sensors sit on mount and base. No units."""

from __future__ import annotations

from typing import Any

from . import svg

_LOOK_DEG = 50.0
_FOCAL_PX = 150.0


def sensors(cooker: Any) -> str:
    """Mount from the side with every sensor at its place, the added ones in another colour."""
    focus = (420.0, 320.0)
    out = [*_mount(cooker, focus), *_needed(cooker, focus), *_added(focus), *_pair()]
    return svg.sheet(1180, 700, "Where the sensors sit (black: needed, blue: may be added)", out)


def _mount(cooker: Any, focus: svg.Point) -> list[str]:
    dish = cooker.dish
    scale = _FOCAL_PX / dish.focal_length_m
    return [
        svg.line((120, 600), (1100, 600), svg.SOFT, 3),
        svg.box(270, 540, 300, 22, fill="#e0e6e9"), svg.box(320, 518, 200, 22, fill="#cfd8dc"),
        svg.line((focus[0] - 26, 518), focus, svg.SOFT, 3),
        svg.line((focus[0] + 26, 518), focus, svg.SOFT, 3),
        svg.path([(570, 551), (613, 551), (613, 524)], svg.SOFT, 4),
        svg.path([(300, 562), (290, 598), (312, 598), (302, 562)], svg.SOFT, 2, "#9fb0b8", True),
        svg.path([(540, 562), (530, 598), (552, 598), (542, 562)], svg.SOFT, 2, "#9fb0b8", True),
        svg.dish(focus, scale, dish.aperture_diameter_m, dish.focal_length_m, _LOOK_DEG),
        svg.line(svg.polar(focus, 30, _LOOK_DEG), svg.polar(focus, 190, _LOOK_DEG), svg.AMBER, 2, "8 5", "e"),
        svg.text(*svg.polar(focus, 205, _LOOK_DEG), "to the sun", size=13, colour=svg.AMBER),
        svg.box(focus[0] - 28, focus[1] - 22, 56, 30, fill="#444c52"),
        svg.circle(focus, 5, svg.RED, 2, "white"),
    ]


def _needed(cooker: Any, focus: svg.Point) -> list[str]:
    dish = cooker.dish
    half, scale = dish.aperture_diameter_m / 2.0, _FOCAL_PX / dish.focal_length_m
    depth = half * half / (4.0 * dish.focal_length_m) - dish.focal_length_m
    rim = svg.polar(svg.polar(focus, depth * scale, _LOOK_DEG), half * scale, _LOOK_DEG + 90.0)
    tube, block = svg.polar(rim, 34, _LOOK_DEG), svg.polar(rim, 12, _LOOK_DEG + 90.0)
    return [
        svg.line(rim, tube, svg.INK, 9),
        svg.note(tube, (60, 130), "tube sensor: along the dish axis,\nblack inside, beside the shadow sight"),
        svg.box(block[0] - 6, block[1] - 6, 12, 12, fill="#444c52"),
        svg.note(block, (10, 210),
                 "sun-direction sensor:\nat the rim beside the tube,\nclear of mirror and cover"),
        svg.box(606, 510, 14, 14, fill="#444c52"),
        svg.note((613, 512), (640, 420), "open cell: level, on the base,\nnothing shades it"),
        svg.note((focus[0], focus[1] - 12), (590, 260), "probe in the food: through the lid"),
        svg.note((focus[0] + 10, focus[1] + 8), (590, 330), "probe under the pot, pot switch:\nout of "
                                                            "the beam"),
        svg.note((345, 518), (60, 480), "home switch of axis 1"),
        svg.note((focus[0] + 5, focus[1] + 3), (590, 295), "home switch of axis 2"),
    ]


def _added(focus: svg.Point) -> list[str]:
    blue = svg.BLUE
    back = svg.polar(focus, -160, _LOOK_DEG)
    return [
        svg.box(back[0] - 9, back[1] - 9, 18, 18, blue, "#dce8f0"),
        svg.note(back, (60, 396), "tilt of the dish: x along the\ndish axis, z up from it", colour=blue),
        svg.box(412, 562, 18, 18, blue, "#dce8f0"),
        svg.note((421, 580), (330, 650), "encoder: magnet on the end of axis 1", colour=blue),
        svg.box(500, 544, 18, 14, blue, "#dce8f0"),
        svg.note((509, 551), (640, 576), "tilt of the base: z upright, x to its east", colour=blue),
        svg.line((960, 600), (960, 440), blue, 3), svg.line((942, 440), (978, 440), blue, 2),
        svg.circle((940, 440), 6, blue, 2, "#dce8f0"), svg.circle((980, 440), 6, blue, 2, "#dce8f0"),
        svg.note((960, 560), (985, 556), "anemometer: as high\nas the dish, clear of it", colour=blue),
    ]


def _pair() -> list[str]:
    """The sun-direction sensor from near, seen from above."""
    at, blue = (960.0, 220.0), svg.BLUE
    out = [
        svg.text(830, 90, "Sun-direction sensor, seen from above", bold=True),
        svg.line((840, at[1]), (1080, at[1]), svg.SOFT, 3),
        svg.text(840, at[1] + 20, "left", size=12), svg.text(1080, at[1] + 20, "right", "end", 12),
    ]
    for lean, name, aside in ((120.0, "left diode", -60.0), (90.0, "dish axis", 0.0),
                              (60.0, "right diode", 60.0)):
        foot = (at[0] + aside, at[1])
        tip = svg.polar(foot, 62, lean)
        out += [svg.line(foot, tip, blue, 2, "", "e"), svg.line(svg.polar(foot, 10, lean + 90.0),
                                                                svg.polar(foot, 10, lean - 90.0), blue, 6)]
        out.append(svg.text(tip[0], tip[1] - 12, name, "middle", 12, blue))
    out += [
        svg.text(840, at[1] + 48, "Each of a pair leans 30 deg from the dish axis.\nUpper and lower stand "
                 "the same way.\nA sun over 60 deg off does not light them all.", size=13),
    ]
    return out
