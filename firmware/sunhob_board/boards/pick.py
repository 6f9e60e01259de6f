"""Which board file serves the chip this runs on. No units."""

import os

# end of the machine's name as MicroPython tells it: board file
BOARDS = (("RP2040", "pico"), ("RP2350", "pico2"), ("ESP32", "esp32"))


def name_of(machine):
    """Name of the board file for a machine such as 'Raspberry Pi Pico with RP2040', or None."""
    chip = machine.split(" ")[-1]
    for end, name in BOARDS:
        if chip == end:
            return name
    return None


def board():
    """The board this runs on, its outputs off."""
    name = name_of(os.uname().machine)
    if name is None:
        raise RuntimeError("no board file for " + os.uname().machine)
    package = __name__[: __name__.rfind(".")]
    return __import__(package + "." + name, None, None, (name,)).Board()
