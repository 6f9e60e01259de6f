"""Raspberry Pi Pico 2 (RP2350): every pin in one table. Numbers are GPIO numbers.

The chip's own pull-down cannot be trusted (RP2350 data sheet, erratum E9: an input that was high may stay at
about 2.2 V), and a cut stop chain must read as open: it wants a resistor on the board's side.
"""

from .rp2 import Rp2Board

PINS = {
    "uart_tx": 0, "uart_rx": 1,
    "step1": 2, "dir1": 3, "step2": 4, "dir2": 5, "motor_enable": 6,
    "buzzer": 7, "lamp_hands_in": 19, "lamp_armed": 9, "lamp_fault": 10,
    "home1": 11, "home2": 12, "stop_chain": 13,
    "leave": 14, "aside": 15, "arm": 16, "confirm": 17, "pot": 18,
    "i2c_sda": 20, "i2c_scl": 21,
    "spi_miso": 8, "spi_sck": 26, "select_contents": 22, "select_underside": 27, "adc_knob": 28,
}
OUTSIDE = {"stop_chain": "4.7 kOhm from the pin to ground"}


class Board(Rp2Board):
    """See common.CommonBoard."""

    NAME = "pico2"
    PINS = PINS
    OUTSIDE = OUTSIDE
