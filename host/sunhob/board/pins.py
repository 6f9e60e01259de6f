"""Judges the pin table of a board file. Numbers are GPIO numbers; no units.

RP2040 data sheet (RP-008371), section 1.4.3 "GPIO functions"; RP2350 data sheet, section 9.4, has the same
functions on GPIO 0..29 for these. Pico data sheet, section 2.1: GPIO 23, 24, 25 and 29 serve the board itself
and are not on its edge. (Sections from memory.)
ESP32 data sheet, "Strapping pins": GPIO 0, 2, 5, 12, 15; "Pin overview": 34..39 only read, without pull-ups;
6..11 carry the flash; 37 and 38 are not led out of the module. MicroPython's quick reference for the ESP32,
"Pins and GPIO" and "UART": 0..19, 21..23, 25..27, 32..39 exist, the console is on 1 and 3; UART, I2C and SPI
may have any pin.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from typing import Any

from .image import KINDS, PACKAGE


@dataclass(frozen=True)
class Chip:
    """What the pins of a board can do: usable ones, why others are not, which only read, what a function asks
    for (its name, and the pins that have it)."""

    usable: frozenset[int]
    why_not: dict[int, str] = field(default_factory=dict)
    only_reads: frozenset[int] = frozenset()
    functions: dict[str, tuple[str, frozenset[int]]] = field(default_factory=dict)


_PICO = Chip(
    usable=frozenset(range(30)) - {23, 24, 25, 29},
    functions={
        "uart_tx": ("UART 0 TX", frozenset({0, 12, 16, 28})),
        "uart_rx": ("UART 0 RX", frozenset({1, 13, 17, 29})),
        "i2c_sda": ("I2C 0 SDA", frozenset({0, 4, 8, 12, 16, 20, 24, 28})),
        "i2c_scl": ("I2C 0 SCL", frozenset({1, 5, 9, 13, 17, 21, 25, 29})),
        "spi_sck": ("SPI 1 SCK", frozenset({10, 14, 26})),
        "spi_miso": ("SPI 1 RX", frozenset({8, 12, 24, 28})),
        "select_underside": ("SPI 1 TX", frozenset({11, 15, 27})),  # stands in for the unused data line
        "adc_knob": ("the converter", frozenset({26, 27, 28, 29})),
    },
)
_READ_ONLY = frozenset({34, 35, 36, 39})
_ESP32 = Chip(
    usable=frozenset({4, 13, 14, *range(16, 20), 21, 22, 23, 25, 26, 27, 32, 33}) | _READ_ONLY,
    why_not={**dict.fromkeys((0, 2, 5, 12, 15), "the chip reads it at reset (strapping pin)"),
             **dict.fromkeys(range(6, 12), "serves the flash"),
             **dict.fromkeys((1, 3), "serves the console")},
    only_reads=_READ_ONLY,
)
CHIPS = {"pico": _PICO, "pico2": _PICO, "esp32": _ESP32}
_READ = {"stop_chain", "leave", "aside", "arm", "confirm", "pot", "home1", "home2", "uart_rx", "spi_miso",
         "expander_int", "pulse1", "pulse2", "pulse3", "pulse4"}
_DRIVEN = {"uart_rx", "spi_miso", "expander_int"}  # by what is at the other end: no pull-up is wanted
# every signal that a board needs, on a pin or on the expander
NEEDED = ("uart_tx", "uart_rx", "step1", "dir1", "step2", "dir2", "motor_enable", "buzzer",
          "lamp_hands_in", "lamp_armed", "lamp_fault", "leave", "aside", "arm", "confirm", "stop_chain",
          "pot", "home1", "home2", "i2c_sda", "i2c_scl", "spi_miso", "spi_sck",
          "select_contents", "select_underside")
_PORT_A, _PORT_B = range(8), range(8, 16)


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


def spared(name: str) -> dict[str, int]:
    """What a board can do without, with its pins, in the order in which other parts take them."""
    pins = board_table(name)
    return {what: pins[what] for what in _spared(name)}


def _spared(name: str) -> tuple[str, ...]:
    tree = ast.parse((PACKAGE / "boards" / f"{name}.py").read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "SPARED":
            return tuple(ast.literal_eval(node.value))
    below = next(node.module for node in tree.body if isinstance(node, ast.ImportFrom) and node.level == 1)
    return _spared(str(below))


def pin_faults(name: str, pins: dict[str, int] | None = None, expander: dict[str, int] | None = None,
               outside: dict[str, str] | None = None) -> list[str]:
    """What is wrong with a board's pins, each in one line; [] where nothing is."""
    pins = board_table(name) if pins is None else pins
    expander = board_table(name, "EXPANDER") if expander is None else expander
    outside = board_table(name, "OUTSIDE") if outside is None else outside
    chip = CHIPS[name]
    faults: list[str] = []
    carries: dict[int, str] = {}
    for what, pin in pins.items():
        faults += [f"{what} = GPIO {pin}: {words}" for words in _pin_faults(name, chip, what, pin, outside)]
        if pin in carries:
            faults.append(f"{what} = GPIO {pin}: carries {carries[pin]} already; take another")
        carries.setdefault(pin, what)
    faults += _expander_faults(expander, pins)
    faults += [f"{what}: has no pin; give it one in the board file" for what in NEEDED
               if what not in pins and what not in expander]
    return faults


def _pin_faults(name: str, chip: Chip, what: str, pin: int, outside: dict[str, str]) -> list[str]:
    if pin not in chip.usable:
        why = chip.why_not.get(pin, f"not on the edge of the {KINDS[name].words}")
        return [f"{why}; take another"]
    if pin in chip.only_reads and what not in _READ:
        return ["only reads, and this is an output; take another"]
    if pin in chip.only_reads and what not in _DRIVEN and what not in outside:
        return ["has no pull-up or pull-down; add the resistor to OUTSIDE, or take another"]
    function, able = chip.functions.get(what, ("", frozenset()))
    if function and pin not in able:
        return [f"cannot be {function}; take one of {', '.join(map(str, sorted(able & chip.usable)))}"]
    return []


def _expander_faults(lines: dict[str, int], pins: dict[str, int]) -> list[str]:
    """Port A is read, port B drives; its last lines only drive (MCP23017 data sheet, GPA7 and GPB7)."""
    faults: list[str] = []
    carries: dict[int, str] = {}
    for what, line in lines.items():
        fit = [one for one in (_PORT_A if what in _READ else _PORT_B) if one != 7]
        if line not in fit:
            faults.append(f"{what} = expander {line}: take one of {fit[0]} to {fit[-1]}")
        if line in carries:
            faults.append(f"{what} = expander {line}: carries {carries[line]} already; take another")
        if what in pins:
            faults.append(f"{what}: is both on GPIO {pins[what]} and on the expander; take one out")
        carries.setdefault(line, what)
    return faults
