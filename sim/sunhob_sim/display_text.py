"""Reads a display's picture back into its letters. No units."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .framebuf_stand_in import FIRST, FONT

_LETTERS = {FONT[8 * k : 8 * k + 8]: chr(FIRST + k) for k in range(len(FONT) // 8 - 1)}
UNREAD = "?"


def rows_of(picture: NDArray) -> list[str]:
    """The letters of a picture of 8-dot cells, row by row; UNREAD where a cell is none of them."""
    cells = np.packbits(picture.reshape(-1, 8, picture.shape[1]), axis=1, bitorder="little")[:, 0]
    return ["".join(_LETTERS.get(row[k : k + 8].tobytes(), UNREAD) for k in range(0, len(row), 8)).rstrip()
            for row in cells]
