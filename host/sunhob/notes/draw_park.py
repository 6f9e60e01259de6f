"""Drawing of the park attitudes in the meridian of the invented site. Units: deg."""

from __future__ import annotations

from typing import Any

from . import svg

_AT = (590.0, 440.0)
_FAR = 300.0
_SOLSTICE_DEG = 23.44
_LEVEL_DEG = -1.5  # the horizon attitude, as core/park.py takes it


def park(cooker: Any) -> str:
    """The pole and the equatorward horizon, with the noon suns of the year."""
    latitude = abs(cooker.site.latitude_deg)
    north = cooker.site.latitude_deg >= 0.0
    pole, equator = ("north", "south") if north else ("south", "north")
    y = _AT[1]
    out = [
        svg.line((120, y), (1060, y), svg.SOFT, 3),
        svg.text(130, y + 24, equator.capitalize(), "start", 15),
        svg.text(1050, y + 24, pole.capitalize(), "end", 15),
        svg.arc(_AT, _FAR, 0, 180, "#d8dfe3", 1.5),
    ]
    for words, dec, colour in (
        ("noon sun, longest day", _SOLSTICE_DEG, svg.RED),
        ("noon sun, equinox", 0.0, svg.AMBER),
        ("noon sun, shortest day", -_SOLSTICE_DEG, svg.AMBER),
    ):
        up = 180.0 - (90.0 - latitude + dec)  # from the poleward horizon, over the top
        at = svg.polar(_AT, _FAR, up)
        end = svg.polar(_AT, _FAR + 24, up)
        anchor = "end" if up > 100.0 else "middle"
        out += [
            svg.line(_AT, at, colour, 1.2, "5 5"),
            svg.circle(at, 11, colour, 2, "#ffd56b"),
            svg.text(end[0], end[1] - 4, words, anchor, 13, colour),
        ]
    out += _dish(latitude, svg.BLUE) + _dish(180.0 - _LEVEL_DEG, svg.GREEN)
    summer = 180.0 - (90.0 - latitude + _SOLSTICE_DEG)
    gap = summer - latitude
    other = 180.0 - _LEVEL_DEG - summer
    out += [
        svg.arc(_AT, 175, latitude, summer, svg.RED, 2, "b"),
        svg.text(
            *_shift(svg.polar(_AT, 115, latitude + gap / 2), 0, -6),
            f"{gap:.1f} deg,\nnever less",
            "middle",
            14,
            svg.RED,
        ),
        svg.arc(_AT, 225, summer, 180.0 - _LEVEL_DEG, svg.GREEN, 2, "b"),
        svg.text(
            *_shift(svg.polar(_AT, 236, summer + other * 0.55), -6, -6),
            f"{other:.1f} deg",
            "end",
            14,
            svg.GREEN,
        ),
        svg.text(
            905,
            300,
            f"Park: the elevated pole,\n{latitude:g} deg up, due {pole}",
            "start",
            14,
            svg.BLUE,
            True,
        ),
        svg.text(
            20,
            345,
            f"In summer, where it is clearer:\nthe horizon, due {equator}",
            "start",
            14,
            svg.GREEN,
            True,
        ),
        svg.text(
            120,
            555,
            f"Invented site at latitude {cooker.site.latitude_deg:g} deg. Whatever the day and the hour, the "
            "sun never comes nearer to the pole than 66.6 deg.\n"
            f"Nearer than {cooker.dish.cover_below_deg:g} deg it asks for its cover: lay it on whenever "
            "it is parked by day.",
        ),
    ]
    return svg.sheet(1180, 620, "Where the dish rests, seen from the side in the meridian", out)


def _dish(look_deg: float, colour: str) -> list[str]:
    tip = svg.polar(_AT, 120, look_deg)
    return [svg.dish(_AT, 95, 1.4, 0.55, look_deg, colour, 3.5), svg.line(_AT, tip, colour, 2.5, "", "e")]


def _shift(at: svg.Point, dx: float, dy: float) -> svg.Point:
    return at[0] + dx, at[1] + dy
