"""Raspberry Pi Pico 2 (RP2350): every pin in the table it shares with the Pico.

The chip's own pull-down cannot be trusted (RP2350 data sheet, erratum E9: an input that was high may stay at
about 2.2 V), and a cut stop chain must read as open: it wants a resistor on the board's side.
"""

from .rp2 import PINS, Rp2Board

OUTSIDE = {"stop_chain": "4.7 kOhm from the pin to ground"}


class Board(Rp2Board):
    """See common.CommonBoard."""

    NAME = "pico2"
    PINS = PINS
    OUTSIDE = OUTSIDE
