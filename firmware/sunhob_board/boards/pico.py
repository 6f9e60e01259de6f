"""Raspberry Pi Pico (RP2040): every pin in the table it shares with the Pico 2."""

from .rp2 import PINS, Rp2Board


class Board(Rp2Board):
    """See common.CommonBoard."""

    NAME = "pico"
    PINS = PINS
