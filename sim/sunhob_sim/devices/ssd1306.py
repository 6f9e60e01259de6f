"""SSD1306 display controller at register level: commands in, dots in its memory, the picture that is seen.

No units. Command table and addressing modes from the data sheet (Solomon Systech SSD1306 rev 1.1, sections 9
and 10.1; the charge pump: application note, page 3). A transfer begins with a byte of control: 0x00 commands
follow, 0x40 dots follow; the bench's bus hands it over as the register. Scrolling is not modelled: its
commands only take their bytes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

ADDRESS = 0x3C
WIDE, PAGES = 128, 8
_COMMAND, _DATA = 0x00, 0x40
# first byte: how many bytes follow it
_TAKES = {0x20: 1, 0x21: 2, 0x22: 2, 0x26: 6, 0x27: 6, 0x29: 5, 0x2A: 5, 0x81: 1, 0x8D: 1, 0xA3: 2, 0xA8: 1,
          0xD3: 1, 0xD5: 1, 0xD9: 1, 0xDA: 1, 0xDB: 1}
_HORIZONTAL, _VERTICAL, _PAGED = range(3)


class SSD1306:
    """ram: 8 pages of 128 columns; its start is random, as the chip's is. transfers: when [us] and how
    many bytes each had on the bus, address left out."""

    def __init__(self, seed: int = 1) -> None:
        self.ram = np.random.default_rng(seed).integers(0, 256, (PAGES, WIDE), dtype=np.uint8)
        self.silent = False
        self.transfers: list[tuple[int, int]] = []
        self.reset()

    def reset(self) -> None:
        """What the reset pin does: registers as in the table, memory as it was."""
        self.on = self.pump = self.inverse = self.all_lit = False
        self.mirrored = self.upside_down = True  # as modules are built: until 0xA1 and 0xC8
        self.contrast, self.multiplex, self.first_line, self.offset = 0x7F, 63, 0, 0
        self.mode = _PAGED
        self.page = self.column = self._start_column = 0
        self.columns, self.pages = (0, WIDE - 1), (0, PAGES - 1)
        self._waits: list[int] = []

    def read(self, _reg: int, n: int, _now_us: int) -> bytes | None:
        """Over this bus the chip gives its status alone: bit 6 tells that it is dark."""
        return None if self.silent else bytes([0 if self.on else 0x40] * n)

    def write(self, reg: int, data: bytes, now_us: int) -> bool:
        """One transfer; reg is its byte of control."""
        if self.silent:
            return False
        self.transfers.append((now_us, len(data) + 1))
        if reg == _COMMAND:
            for byte in data:
                self._command(byte)
        elif reg == _DATA:
            for byte in data:
                self._dot(byte)
        return True

    def _command(self, byte: int) -> None:
        self._waits.append(byte)
        if len(self._waits) <= _TAKES.get(self._waits[0], 0):
            return
        code, *told = self._waits
        self._waits = []
        if code <= 0x0F:
            self._start_column = self._start_column & 0xF0 | code
            self.column = self._start_column
        elif code <= 0x1F:
            self._start_column = (code & 0x07) << 4 | self._start_column & 0x0F
            self.column = self._start_column
        elif 0xB0 <= code <= 0xB7:
            self.page = code & 7
        elif 0x40 <= code <= 0x7F:
            self.first_line = code & 63
        else:
            self._setting(code, told)

    def _setting(self, code: int, told: list[int]) -> None:
        flags = {0xAE: ("on", False), 0xAF: ("on", True), 0xA6: ("inverse", False), 0xA7: ("inverse", True),
                 0xA4: ("all_lit", False), 0xA5: ("all_lit", True), 0xA0: ("mirrored", True),
                 0xA1: ("mirrored", False), 0xC0: ("upside_down", True), 0xC8: ("upside_down", False)}
        if code in flags:
            setattr(self, *flags[code])
        elif code == 0x8D:
            self.pump = bool(told[0] & 4)
        elif code == 0x81:
            self.contrast = told[0]
        elif code == 0xA8:
            self.multiplex = told[0] & 63
        elif code == 0xD3:
            self.offset = told[0] & 63
        elif code == 0x20:
            self.mode = told[0] & 3
        elif code == 0x21:
            self.columns, self.column = (told[0] & 127, told[1] & 127), told[0] & 127
        elif code == 0x22:
            self.pages, self.page = (told[0] & 7, told[1] & 7), told[0] & 7

    def _dot(self, byte: int) -> None:
        self.ram[self.page, self.column] = byte
        if self.mode == _PAGED:
            self.column = (self.column + 1) % WIDE
        elif self.mode == _HORIZONTAL:
            self._step("column", self.columns, "page", self.pages)
        elif self.mode == _VERTICAL:
            self._step("page", self.pages, "column", self.columns)

    def _step(self, inner: str, inner_ends: tuple[int, int], outer: str, outer_ends: tuple[int, int]) -> None:
        for name, (first, last) in ((inner, inner_ends), (outer, outer_ends)):
            at = getattr(self, name)
            setattr(self, name, first if at == last else at + 1)
            if at != last:
                return

    def picture(self) -> NDArray:
        """What is seen, 64 x 128 of bool, top left first: dark while it is off or its pump is."""
        if not (self.on and self.pump):
            return np.zeros((8 * PAGES, WIDE), dtype=bool)
        bits = np.unpackbits(self.ram[:, :, None], axis=2, bitorder="little")
        seen = np.moveaxis(bits, 2, 1).reshape(8 * PAGES, WIDE).astype(bool)
        seen = np.roll(seen, -self.first_line - self.offset, axis=0)
        seen[self.multiplex + 1 :] = False
        seen = np.ones_like(seen) if self.all_lit else seen ^ self.inverse
        seen = seen[:, ::-1] if self.mirrored else seen
        return np.asarray(seen[::-1] if self.upside_down else seen)
