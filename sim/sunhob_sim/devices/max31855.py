"""MAX31855K thermocouple converter at the level of its 32-bit frame. Units: degC, mV.

The true junction gives the voltage of the ITS-90 polynomial; the chip adds its own temperature and takes
the pair for a straight line of 41.276 uV/K. Frame and bit meanings from the data sheet (Maxim 19-5793,
tables 2 to 5); the slope from its table 1 and the noise from memory.
"""

import math
import random
from collections.abc import Callable, Sequence

_SLOPE_MV = 0.041276
# NIST Monograph 175, type K: mV over degC below and above 0, and the exponential term above 0
_BELOW = (0.0, 0.394501280250e-1, 0.236223735980e-4, -0.328589067840e-6, -0.499048287770e-8,
          -0.675090591730e-10, -0.574103274280e-12, -0.310888728940e-14, -0.104516093650e-16,
          -0.198892668780e-19, -0.163226974860e-22)  # fmt: skip
_ABOVE = (-0.176004136860e-1, 0.389212049750e-1, 0.185587700320e-4, -0.994575928740e-7, 0.318409457190e-9,
          -0.560728448890e-12, 0.560750590590e-15, -0.320207200030e-18, 0.971511471520e-22,
          -0.121047212750e-25)  # fmt: skip
_BUMP = (0.118597600000, -0.118343200000e-3, 126.968600000)

_CONVERSION_US = 100_000  # the longest of the data sheet, from memory
_DRAWS = 4093

_FAULT_BITS = {"open": 1, "short": 2, "short to supply": 4}


def type_k_mv(celsius: float) -> float:
    """Voltage [mV] of a type K junction at -270 to 1372 degC against one at 0 degC (ITS-90)."""
    if celsius < 0.0:
        return _polynomial(_BELOW, celsius)
    return _polynomial(_ABOVE, celsius) + _BUMP[0] * math.exp(_BUMP[1] * (celsius - _BUMP[2]) ** 2)


def _polynomial(terms: Sequence[float], x: float) -> float:
    out = 0.0
    for term in reversed(terms):
        out = out * x + term
    return out


class MAX31855:
    """temperature: gives the true junction [degC] at a moment [us], or 'open', 'short' or 'frozen'.

    board_c: temperature of the chip. silent: the data line floats high. The chip converts by itself all the
    time: within one conversion its noise stays the same.
    """

    def __init__(self, temperature: Callable[[int], float | str], board_c: float = 35.0,
                 noise_c: float = 0.02, seed: int = 1) -> None:
        self.temperature = temperature
        self.board_c = board_c
        self.silent = False
        draw = random.Random(seed).gauss
        self._noise = [(draw(0.0, 0.05), draw(0.0, noise_c)) for _ in range(_DRAWS)]
        self._last = bytes(4)
        self._at_c, self._at_mv = 0.0, type_k_mv(0.0)

    def transfer(self, n: int, now_us: int, ahead: bool = False) -> bytes:
        """n bytes clocked out from the top of the frame; ahead: the board only may want them."""
        if self.silent:
            return b"\xff" * n
        seen, frame = self.temperature(now_us), self._last
        if seen != "frozen":
            frame = self._frame(seen, *self._noise[now_us // _CONVERSION_US % _DRAWS])
            if not ahead:
                self._last = frame
        return (frame + bytes(n))[:n]

    def _frame(self, seen: float | str, own_off: float, off: float) -> bytes:
        own = self.board_c + own_off
        sixteenths = round(own * 16.0) & 0xFFF
        if isinstance(seen, str):
            word = sixteenths << 4 | 1 << 16 | _FAULT_BITS[seen]
            return word.to_bytes(4, "big")
        junction = seen + off
        if self.board_c != self._at_c:
            self._at_c, self._at_mv = self.board_c, type_k_mv(self.board_c)
        told = self.board_c + (type_k_mv(junction) - self._at_mv) / _SLOPE_MV
        quarters = min(max(round(told * 4.0), -0x2000), 0x1FFF) & 0x3FFF
        return (quarters << 18 | sixteenths << 4).to_bytes(4, "big")
