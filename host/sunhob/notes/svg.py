"""Small pieces of SVG. Units: pixels; angles in degrees, anticlockwise from the right, up is up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape

INK, SOFT, RED, AMBER, BLUE, GREEN = "#1c2a33", "#7b8a94", "#b03020", "#d98a1c", "#1f4e6b", "#2f6b3a"
COLOURS = (INK, SOFT, RED, AMBER, BLUE, GREEN)
Point = tuple[float, float]


def _tip(colour: str) -> str:
    """An arrow head: one for each colour, for not every viewer takes the colour of the line to it."""
    return (f'<marker id="tip{colour[1:]}" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" '
            f'markerHeight="7" orient="auto-start-reverse"><path d="M0,0 L8,4 L0,8 z" fill="{colour}"/>'
            "</marker>")


def _tips(colour: str, ends: str) -> str:
    """Arrow heads of a line: 'e' at its end, 'b' at both."""
    more = f' marker-end="url(#tip{colour[1:]})"' if ends else ""
    return more + (f' marker-start="url(#tip{colour[1:]})"' if ends == "b" else "")


def sheet(width: int, height: int, title: str, parts: Sequence[str]) -> str:
    """A whole drawing with its title above."""
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" font-family="DejaVu Sans, Verdana, sans-serif" font-size="14">\n'
        f"<title>{escape(title)}</title>\n"
        f"<defs>{''.join(map(_tip, COLOURS))}</defs>\n"
        f'<rect width="{width}" height="{height}" fill="white"/>\n'
        f"{text(20, 30, title, size=18, bold=True)}\n{body}\n</svg>\n"
    )


def text(
    x: float,
    y: float,
    words: str,
    anchor: str = "start",
    size: int = 14,
    colour: str = INK,
    bold: bool = False,
) -> str:
    """Words; a line feed begins a new line below."""
    rows = words.split("\n")
    weight = ' font-weight="bold"' if bold else ""
    head = f'<text text-anchor="{anchor}" font-size="{size}" fill="{colour}"{weight}>'
    spans = "".join(
        f'<tspan x="{x:.1f}" y="{y + 1.25 * size * i:.1f}">{escape(row)}</tspan>'
        for i, row in enumerate(rows)
    )
    return f"{head}{spans}</text>"


def line(a: Point, b: Point, colour: str = INK, width: float = 2.0, dash: str = "", ends: str = "") -> str:
    """A straight line; ends: 'e' an arrow at b, 'b' at both."""
    more = (f' stroke-dasharray="{dash}"' if dash else "") + _tips(colour, ends)
    return (
        f'<line x1="{a[0]:.1f}" y1="{a[1]:.1f}" x2="{b[0]:.1f}" y2="{b[1]:.1f}" stroke="{colour}" '
        f'stroke-width="{width:g}"{more}/>'
    )


def path(
    points: Sequence[Point],
    colour: str = INK,
    width: float = 2.0,
    fill: str = "none",
    closed: bool = False,
    dash: str = "",
) -> str:
    """A line through points."""
    more = f' stroke-dasharray="{dash}"' if dash else ""
    d = "M" + " L".join(f"{x:.1f},{y:.1f}" for x, y in points) + (" Z" if closed else "")
    return f'<path d="{d}" stroke="{colour}" stroke-width="{width:g}" fill="{fill}"{more}/>'


def circle(
    at: Point, radius: float, colour: str = INK, width: float = 2.0, fill: str = "none", dash: str = ""
) -> str:
    """A circle."""
    more = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{radius:.1f}" stroke="{colour}" '
        f'stroke-width="{width:g}" fill="{fill}"{more}/>'
    )


def box(
    x: float,
    y: float,
    width: float,
    height: float,
    colour: str = INK,
    fill: str = "white",
    stroke: float = 2.0,
) -> str:
    """A rectangle from its upper left corner."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" stroke="{colour}" '
        f'stroke-width="{stroke:g}" fill="{fill}"/>'
    )


def note(at: Point, words_at: Point, words: str, anchor: str = "start", colour: str = INK) -> str:
    """Words with a thin line to what they speak of."""
    rows = words.split("\n")
    wide = 6.7 * max(len(row) for row in rows)
    left = words_at[0] - (wide / 2 if anchor == "middle" else 0)
    x, y = left - 6, words_at[1] - 5 + (len(rows) - 1) * 8.75
    if at[0] > left + wide:
        x = left + wide + 6
    elif at[0] > left:  # above or below the words
        x = left + wide / 2
        y = words_at[1] - 15 if at[1] < words_at[1] else words_at[1] + 16.25 * (len(rows) - 1) + 5
    return (
        line((x, y), at, SOFT, 1.0)
        + circle(at, 2.5, SOFT, 1.0, SOFT)
        + text(*words_at, words, anchor, 13, colour)
    )


def polar(at: Point, radius: float, angle_deg: float) -> Point:
    """The point so far from another, in a direction."""
    a = math.radians(angle_deg)
    return at[0] + radius * math.cos(a), at[1] - radius * math.sin(a)


def arc(
    at: Point,
    radius: float,
    from_deg: float,
    to_deg: float,
    colour: str = INK,
    width: float = 1.5,
    ends: str = "",
) -> str:
    """Part of a circle, from one angle to another."""
    a, b = polar(at, radius, from_deg), polar(at, radius, to_deg)
    large = int(abs(to_deg - from_deg) > 180.0)
    sweep = int(to_deg < from_deg)
    more = _tips(colour, ends)
    return (
        f'<path d="M{a[0]:.1f},{a[1]:.1f} A{radius:.1f},{radius:.1f} 0 {large} {sweep} '
        f'{b[0]:.1f},{b[1]:.1f}" '
        f'stroke="{colour}" stroke-width="{width:g}" fill="none"{more}/>'
    )


def dish(
    focus: Point,
    scale: float,
    diameter_m: float,
    focal_m: float,
    look_deg: float,
    colour: str = BLUE,
    width: float = 4.0,
) -> str:
    """A paraboloid cut through its axis, focus at a point, looking in a direction; scale: pixels a metre."""
    out = []
    for i in range(41):
        across = diameter_m * (i / 40.0 - 0.5)
        along = across * across / (4.0 * focal_m) - focal_m
        x, y = polar(focus, along * scale, look_deg)
        out.append(polar((x, y), across * scale, look_deg + 90.0))
    return path(out, colour, width)
