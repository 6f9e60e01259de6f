"""A temperature probe as it truly is: behind the thing it measures, with noise, and now and then broken.

Units: s, us, deg C. Faults: 'open', 'short' (wires), 'frozen' (the converter tells the same for ever).
"""

import math

import numpy as np

CONTENTS, UNDERSIDE = 0, 1
FAULTS = ("open", "short", "frozen")
_DRAWS = 4096
_DRAW_S = 0.5  # the noise is new so often


class Probe:
    """`lag_s`: time constant in what it is stuck into or against; `noise_c`: standard deviation.

    `fault`: None or one of FAULTS, set by whoever breaks it.
    """

    def __init__(self, start_c: float, lag_s: float, noise_c: float, seed: int) -> None:
        self.lag_s = lag_s
        self.fault: str | None = None
        self.offset_c = 0.0  # K that it reads too much
        self._temp_c = start_c
        self._rate_c_s = 0.0
        self._at_us = 0
        noise = np.random.default_rng(seed).normal(0.0, noise_c, _DRAWS)
        self._noise: list[float] = noise.tolist()

    def follow(self, true_c: float, now_us: int) -> None:
        """What it measures has been at `true_c` since it was last told."""
        dt = (now_us - self._at_us) / 1e6
        if dt <= 0.0:
            return
        before = self._temp_c
        self._temp_c = true_c + (before - true_c) * math.exp(-dt / max(self.lag_s, 1e-3))
        self._rate_c_s = (self._temp_c - before) / dt
        self._at_us = now_us

    def read(self, now_us: int) -> float | str:
        """deg C now, or the word of its fault."""
        if self.fault is not None:
            return self.fault
        since_s = (now_us - self._at_us) / 1e6
        noise = self._noise[int(now_us / 1e6 / _DRAW_S) % _DRAWS]
        return self.offset_c + self._temp_c + self._rate_c_s * since_s + noise
