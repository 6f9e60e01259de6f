"""Judges the pin table of a board file. Numbers are GPIO numbers; no units.

RP2040 data sheet (RP-008371), section 1.4.3 "GPIO functions"; RP2350 data sheet, section 9.4, has the same
functions on GPIO 0..29 for these. Pico data sheet, section 2.1: GPIO 23, 24, 25 and 29 serve the board itself
and are not on its edge. (Sections from memory.)
"""

from __future__ import annotations

import ast
from typing import Any

from .image import KINDS, PACKAGE

_EDGE = frozenset(range(30)) - {23, 24, 25, 29}
# what the pin must be able to do: UART 0, I2C 0, SPI 1, converter
_FUNCTIONS: dict[str, tuple[str, frozenset[int]]] = {
    "uart_tx": ("UART 0 TX", frozenset({0, 12, 16, 28})),
    "uart_rx": ("UART 0 RX", frozenset({1, 13, 17, 29})),
    "i2c_sda": ("I2C 0 SDA", frozenset({0, 4, 8, 12, 16, 20, 24, 28})),
    "i2c_scl": ("I2C 0 SCL", frozenset({1, 5, 9, 13, 17, 21, 25, 29})),
    "spi_sck": ("SPI 1 SCK", frozenset({10, 14, 26})),
    "spi_miso": ("SPI 1 RX", frozenset({8, 12, 24, 28})),
    "select_underside": ("SPI 1 TX", frozenset({11, 15, 27})),  # stands in for the unused data line
    "adc_knob": ("the converter", frozenset({26, 27, 28, 29})),
}


def board_table(name: str, table: str = "PINS") -> dict[str, Any]:
    """A plain table of a board file (PINS, OUTSIDE), or of the file beside it that it takes it from, read
    without running it; {} where it has none."""
    tree = ast.parse((PACKAGE / "boards" / f"{name}.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == table:
            return dict(ast.literal_eval(node.value))
        if isinstance(node, ast.ImportFrom) and node.level and table in (one.name for one in node.names):
            return board_table(node.module or "", table)
    return {}


def pin_faults(name: str, pins: dict[str, int] | None = None) -> list[str]:
    """What is wrong with a board's pins, each in one line; [] where nothing is."""
    pins = board_table(name) if pins is None else pins
    faults: list[str] = []
    carries: dict[int, str] = {}
    for what, pin in pins.items():
        if pin not in _EDGE:
            faults.append(f"{what} = GPIO {pin}: not on the edge of the {KINDS[name].words}; take another")
        if pin in carries:
            faults.append(f"{what} = GPIO {pin}: carries {carries[pin]} already; take another")
        carries.setdefault(pin, what)
        function, able = _FUNCTIONS.get(what, ("", frozenset()))
        if function and pin not in able:
            faults.append(f"{what} = GPIO {pin}: cannot be {function}; take one of "
                          f"{', '.join(map(str, sorted(able & _EDGE)))}")
    return faults
