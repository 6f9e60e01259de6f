"""ADS1115 converter at register level. Units: V, us of bench time.

Registers and the meaning of the config bits from the data sheet (TI SBAS444): conversion 0, config 1,
thresholds 2 and 3; the top config bit reads 0 while a conversion runs. Continuous mode is not modelled:
it shows the last single conversion.
"""

from collections.abc import Callable
from typing import Protocol

ADDRESS = 0x48
_RESET = 0x8583
_RANGE_V = (6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256)
_RATE = (8, 16, 32, 64, 128, 250, 475, 860)
_PAIRS = ((0, 1), (0, 3), (1, 3), (2, 3))


class Inputs(Protocol):
    """Voltages of the four inputs by number."""

    def __getitem__(self, k: int, /) -> float: ...


class ADS1115:
    """volts: gives the voltages of the four inputs at a moment [us]; noise_steps: how many steps of the
    converter a reading wanders either way (the data sheet's table 1 tells a step or two; none by default)."""

    def __init__(self, volts: Callable[[int], Inputs], noise_steps: int = 0) -> None:
        self.volts = volts
        self.noise_steps = noise_steps
        self.silent = False
        self._config = _RESET
        self._done_us: int | None = None
        self._conversion = 0
        self._thresholds = {2: 0x8000, 3: 0x7FFF}

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes of the 16-bit register `reg`, over and over as the chip does; None: no answer."""
        if self.silent or reg > 3:
            return None
        if self._done_us is not None:
            self.settle(now_us)
        if reg == 0:
            word = self._conversion
        elif reg == 1:
            word = self._config & 0x7FFF | (0 if self._done_us is not None else 0x8000)
        else:
            word = self._thresholds[reg]
        return (word.to_bytes(2, "big") * (n // 2 + 1))[:n]

    def write(self, reg: int, data: bytes, now_us: int) -> bool:
        """A 16-bit word; a config word with the top bit set starts a conversion if none runs."""
        if self.silent or len(data) < 2:
            return not self.silent
        if self._done_us is not None:
            self.settle(now_us)
        word = int.from_bytes(data[:2], "big")
        if reg == 1:
            self._config = word
            if word & 0x8000 and self._done_us is None:
                self._done_us = now_us + 1_000_000 // _RATE[word >> 5 & 7]
        elif reg in self._thresholds:
            self._thresholds[reg] = word
        return True

    def settle(self, now_us: int) -> None:
        """Time has come so far: a conversion that is done takes its value."""
        if self._done_us is None or now_us < self._done_us:
            return
        mux = self._config >> 12 & 7
        v = self.volts(self._done_us)
        seen = v[mux - 4] if mux >= 4 else v[_PAIRS[mux][0]] - v[_PAIRS[mux][1]]
        full = _RANGE_V[self._config >> 9 & 7]
        grain = (self._done_us * 2_654_435_761 >> 7) % (2 * self.noise_steps + 1) - self.noise_steps
        self._conversion = min(max(round(seen / full * 32768) + grain, -32768), 32767) & 0xFFFF
        self._done_us = None
