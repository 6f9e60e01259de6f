"""TMP102 and MCP9600 at register level: the air's probe and those of other cookers. Units: degC.

TMP102 (TI SBOS397, sections 7.3.1 and 7.5.3): register 0 holds twelve bits of 1/16 degC, left aligned; 1 is
the configuration. MCP9600 (Microchip DS20005426, registers of section 5): 0 hot junction, 2 cold junction,
sixteen bits of 1/16 degC; 4 status; 0x20 its kind and revision.
"""

from __future__ import annotations

from collections.abc import Callable

AIR_ADDRESS, POT_ADDRESS = 0x4A, 0x60
_SIXTEENTH = 16.0
_RANGE_C = (-200.0, 1372.0)  # of a thermocouple of type K


def _word(value: int) -> bytes:
    return (value & 0xFFFF).to_bytes(2, "big")


class TMP102:
    """celsius: gives the air's temperature at a moment [us]."""

    def __init__(self, celsius: Callable[[int], float]) -> None:
        self.celsius, self.silent = celsius, False

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes of a register; None: no answer."""
        if self.silent or reg > 3:
            return None
        steps = min(max(round(self.celsius(now_us) * _SIXTEENTH), -2048), 2047)
        words = (_word(steps << 4), _word(0x60A0), _word(0x4B00), _word(0x5000))
        return (words[reg] * n)[:n]

    def write(self, _reg: int, _data: bytes, _now_us: int) -> bool:
        """Configuration and limits are taken and change nothing here."""
        return not self.silent


class MCP9600:
    """celsius: gives the pot's temperature at a moment [us], or 'open'."""

    def __init__(self, celsius: Callable[[int], float | str]) -> None:
        self.celsius, self.silent = celsius, False

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes of a register; None: no answer. An open probe reads far beyond its range."""
        if self.silent:
            return None
        found = self.celsius(now_us)
        hot = 2000.0 if isinstance(found, str) else found
        beyond = not _RANGE_C[0] <= hot <= _RANGE_C[1]
        hot = min(max(hot, _RANGE_C[0]), _RANGE_C[1])
        held = {0x00: _word(round(hot * _SIXTEENTH)), 0x02: _word(round(30.0 * _SIXTEENTH)),
                0x04: bytes([0x50 if beyond else 0x40]), 0x05: b"\x00", 0x06: b"\x00", 0x20: b"\x40\x14"}
        return (held[reg] * n)[:n] if reg in held else bytes(n)

    def write(self, _reg: int, _data: bytes, _now_us: int) -> bool:
        """Type and filter are taken and change nothing here."""
        return not self.silent
