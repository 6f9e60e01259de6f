"""Overview of the wiring, from the pin table of a board. Units: V."""

from __future__ import annotations

from . import svg
from .boards import BoardPins
from .wiring import GROUPS, PARTS

_LEFT = ("Panel", "Safety", "Axes", "Probes", "Bus", "Link")
_WIDE = 300.0
_ROW = 19.0


def wiring(one: BoardPins) -> str:
    """Supply and stop chain above, the board below with what hangs on it, by groups."""
    groups = {
        g: [n for n in sorted(one.pins, key=lambda n: one.pins[n]) if PARTS.get(n, ("",))[0] == g]
        for g in GROUPS
    }
    board = (480.0, 330.0, 220.0, 420.0)
    out = [
        *_power(board), svg.box(*board, fill="#e8f0ea"),
        svg.text(590, 352, one.title, "middle", 12, bold=True),
        svg.text(590, 540, "3.3 V on every pin.\nMore destroys it.", "middle", 13, svg.RED),
    ]
    y = 330.0
    for name in ("Panel", "Probes"):
        y = _group(out, name, groups[name], one, 40.0, y, board[0], True)
    y = 330.0
    for name in ("Drives", "Safety", "Axes", "Bus", "Link"):
        y = _group(out, name, groups[name], one, 840.0, y, board[0] + board[2], False)
    return svg.sheet(1180, 790, f"Wiring overview: {one.title} (numbers are GPIO numbers)", out)


def _group(
    out: list[str], name: str, pins: list[str], one: BoardPins, x: float, y: float, edge: float, left: bool
) -> float:
    high = 26.0 + _ROW * len(pins)
    out += [svg.box(x, y, _WIDE, high, fill="#f6f8f9"), svg.text(x + 10, y + 18, name, bold=True)]
    for i, pin in enumerate(pins):
        at = y + 18 + _ROW * (i + 1)
        near = x + _WIDE if left else x
        out += [
            svg.text(x + 10, at, pin, size=13),
            svg.line((near, at - 4), (edge, at - 4), svg.SOFT, 1.2),
            svg.text(
                edge + (-6 if left else 6),
                at - 7,
                str(one.pins[pin]),
                "end" if left else "start",
                11,
                svg.BLUE,
            ),
        ]
    return y + high + 14.0


def _power(board: tuple[float, float, float, float]) -> list[str]:
    top, low = 100.0, 220.0
    boxes = (
        (40, "battery", "with panel\nand charger"),
        (220, "main fuse", "at the\nbattery's pole"),
        (400, "stop chain", "opening contacts\nin a row"),
        (620, "motor relay", "coil: chain and\nmotor_enable"),
        (840, "drivers", "axis 1, axis 2"),
        (1020, "motors", "axis 1, axis 2"),
    )
    out = []
    for i, (x, name, words) in enumerate(boxes):
        colour = svg.RED if name in ("stop chain", "main fuse") else svg.INK
        out += [
            svg.box(x, top, 130, 76, colour, "#fbfcfc"),
            svg.text(x + 65, top + 22, name, "middle", 14, bold=True),
            svg.text(x + 65, top + 42, words, "middle", 12),
        ]
        if i:
            out.append(svg.line((boxes[i - 1][0] + 130, top + 38), (x, top + 38), svg.RED, 3, "", "e"))
    out += [
        svg.box(220, low, 130, 54),
        svg.text(285, low + 22, "5 V supply", "middle", 14, bold=True),
        svg.text(285, low + 42, "not by the chain", "middle", 12),
        svg.line((285, top + 76), (285, low), svg.RED, 2, "", "e"),
        svg.path([(350, low + 27), (520, low + 27), (520, board[1])], svg.RED, 2),
        svg.text(430, low + 20, "5 V", "middle", 12, svg.RED),
        svg.path(
            [(465, top + 76), (465, low - 8), (560, low - 8), (560, board[1])], svg.GREEN, 2, dash="6 4"
        ),
        svg.text(568, low + 40, "second contacts\ntell the board", "start", 12, svg.GREEN),
        svg.path([(685, top + 76), (685, board[1])], svg.BLUE, 2, dash="6 4"),
        svg.text(693, low + 40, "motor_enable\n(transistor)", "start", 12, svg.BLUE),
        svg.path([(905, board[1]), (905, top + 76)], svg.BLUE, 2, dash="6 4"),
        svg.text(915, low + 30, "step and direction,\naway from the motor wires", "start", 12, svg.BLUE),
    ]
    return out
