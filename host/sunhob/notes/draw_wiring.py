"""Overview of the wiring of each board, from its pin table. Units: V; on the sheet pixels."""

from __future__ import annotations

from . import svg
from .boards import BoardPins
from .wiring import EDGE, EDGE_BOARDS, PARTS, place

_LEFT = ("Panel", "Probes")
_RIGHT = ("Drives", "Safety", "Axes", "Bus", "Link")
_WIDE = 300.0
_ROW = 19.0
_TOP = 330.0
_LEFT_X, _BOARD_X, _BOARD_WIDE, _RIGHT_X = 40.0, 480.0, 220.0, 840.0
_EXPANDER = "port expander\nMCP23017"


def wiring(one: BoardPins) -> str:
    """Supply and stop chain above, the board below with what hangs on it, then its port expander."""
    out: list[str] = []
    foot = _column(out, one, _TOP, list(one.pins), one.title.replace(" with ", "\nwith "))
    if one.expander:
        top = foot - 20.0
        foot = _column(out, one, top + 60.0, list(one.expander), _EXPANDER)
        out += _bus(one, top, top + 60.0)
    numbers = "GPIO numbers"
    if one.name in EDGE_BOARDS:
        numbers += ", in brackets pins at the edge"
    title = f"Wiring overview: {one.title.split(' with ')[0]} ({numbers})"
    return svg.sheet(1180, int(foot) + 20, title, [*_power(), *out])


def _column(out: list[str], one: BoardPins, y: float, names: list[str], title: str) -> float:
    """A box in the middle with the groups of what hangs on it at both sides; returns where it ends."""
    ends = []
    at = len(out)
    for groups, left in ((_LEFT, True), (_RIGHT, False)):
        end = y
        for group in groups:
            pins = sorted((n for n in names if PARTS.get(n, ("",))[0] == group), key=place)
            if pins:
                end = _group(out, group, pins, one, end, left)
        ends.append(end)
    high = max(ends) - 14.0 - y
    middle = _BOARD_X + _BOARD_WIDE / 2
    out[at:at] = [
        svg.box(_BOARD_X, y, _BOARD_WIDE, high, fill="#e8f0ea"),
        svg.text(middle, y + 22, title, "middle", 12, bold=True),
        svg.text(middle, y + 0.55 * high, "3.3 V on every pin.\nMore destroys it.", "middle", 13, svg.RED),
    ]
    return y + high + 20.0


_BUS_NAMES = {"i2c_sda": "SDA", "i2c_scl": "SCL", "expander_int": "INTA"}  # at the expander


def _bus(one: BoardPins, high: float, low: float) -> list[str]:
    """The wires from the board down to its expander: bus, the line that tells of a change, supply."""
    wires = [(f"{name} ({one.pins[pin]})", svg.BLUE) for pin, name in _BUS_NAMES.items() if pin in one.pins]
    out = []
    for i, (words, colour) in enumerate([*wires, ("3.3 V", svg.RED)]):
        x = _BOARD_X + 10.0 + 59.0 * i
        out += [svg.line((x, high), (x, low), colour, 2.0),
                svg.text(x + 4.0, (high + low) / 2.0 + 4.0, words, size=11, colour=colour)]
    return out


def _group(out: list[str], name: str, pins: list[str], one: BoardPins, y: float, left: bool) -> float:
    high = 26.0 + _ROW * len(pins)
    x, edge = (_LEFT_X, _BOARD_X) if left else (_RIGHT_X, _BOARD_X + _BOARD_WIDE)
    near = x + _WIDE if left else x
    out += [svg.box(x, y, _WIDE, high, fill="#f6f8f9"), svg.text(x + 10, y + 18, name, bold=True)]
    for i, pin in enumerate(pins):
        at = y + 18 + _ROW * (i + 1)
        where = one.where(pin)
        if one.name in EDGE_BOARDS:
            where += f" ({EDGE[one.pins[pin]]})"
        out += [
            svg.text(x + 10, at, pin, size=13),
            svg.line((near, at - 4), (edge, at - 4), svg.SOFT, 1.2),
            svg.text(edge + (-6 if left else 6), at - 7, where, "end" if left else "start", 11, svg.BLUE),
        ]
        if pin in one.outside:
            out.append(svg.text(x + _WIDE - 8, at, one.outside[pin], "end", 11, svg.RED))
    return y + high + 14.0


def _power() -> list[str]:
    top, low = 100.0, 220.0
    boxes = (
        (40, "battery", "with panel\nand charger"),
        (220, "main fuse", "at the\nbattery's pole"),
        (400, "stop chain", "opening contacts\nin a row"),
        (620, "motor relay", "coil: chain and\nmotor_enable"),
        (840, "drivers", "axis 1, axis 2"),
        (1020, "motors", "axis 1, axis 2"),
    )
    out = [svg.text(40, 72, "Drawn: plus, and what the board tells and hears. Minus of each goes by a wire "
                            "of its own to one star point at the battery.", size=12, colour=svg.SOFT)]
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
        svg.text(285, low + 42, "fuse 1 A; not by chain", "middle", 11),
        svg.line((285, top + 76), (285, low), svg.RED, 2, "", "e"),
        svg.path([(350, low + 27), (520, low + 27), (520, _TOP)], svg.RED, 2),
        svg.text(430, low + 20, "5 V, by a diode", "middle", 12, svg.RED),
        svg.path(
            [(465, top + 76), (465, low - 8), (560, low - 8), (560, _TOP)], svg.GREEN, 2, dash="6 4"
        ),
        svg.text(568, low + 40, "second contacts\ntell the board", "start", 12, svg.GREEN),
        svg.path([(685, top + 76), (685, _TOP)], svg.BLUE, 2, dash="6 4"),
        svg.text(693, low + 40, "motor_enable\n(transistor)", "start", 12, svg.BLUE),
        svg.path([(905, _TOP), (905, top + 76)], svg.BLUE, 2, dash="6 4"),
        svg.text(915, low + 30, "step and direction,\naway from the motor wires", "start", 12, svg.BLUE),
    ]
    return out
