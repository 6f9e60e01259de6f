"""What the further sensors of a cooker truly feel: sun-direction diodes, axes, gravity, wind, supply.

Units: W/m2, V, degrees, g, pulses. From the plant's true state alone; the chips that read them are in
`devices`. The sun-direction sensor sits at the dish's rim, beside the mirror and its cover, and looks along
the dish axis: two pairs of photodiodes that lean 30 deg to either side (right and left, up and down), wired
against each other about half the rail, and one that looks straight out. A diode sees beam by the cosine of
its incidence, and isotropic sky and ground by the share of each that its plane faces (Liu & Jordan 1963, as
pvlib's isotropic and get_ground_diffuse).
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from .plant import Plant

RAIL_V = 3.3
LEAN_DEG = 30.0
ALBEDO = 0.2  # dry ground; common practice, no source
MISMATCH = 0.012  # of each diode against its pair, after trimming; common practice, no source
NOISE_W_M2 = 0.4
BATTERY_V, LEADS_OHM = 12.7, 0.12  # a rested lead battery; common practice, no source
MOTOR_A, BOARD_A = 1.5, 0.1
_SIN, _COS = math.sin(math.radians(LEAN_DEG)), math.cos(math.radians(LEAN_DEG))
_NORMALS = ((_SIN, 0.0, _COS), (-_SIN, 0.0, _COS), (0.0, _SIN, _COS), (0.0, -_SIN, _COS), (0.0, 0.0, 1.0))
_DIODES = ((0, 1), (2, 3), (4,))  # behind each input
_AT_DIODE: dict[str, tuple[float | None, float]] = {  # share of its light (None: the severity), of full added
    "open": (0.0, 0.0), "short": (0.0, 3.0), "dirty": (None, 0.0)}


class SunSensor:
    """volts(now_us): what its converter is given. kind and severity: how a diode or the sensor is spoilt."""

    def __init__(self, plant: Plant, full_w_m2: float, seed: int) -> None:
        self.plant, self.full = plant, full_w_m2
        self._random = random.Random(seed)
        self.gains = [1.0 + self._random.uniform(-MISMATCH, MISMATCH) for _ in _NORMALS]
        self.kind, self.severity, self.which = "", 0.0, 0
        self._held: list[float | None] = [None] * 3
        self._noise = [0.0] * len(_NORMALS)
        self._jumps = [0.0, 0.0]

    def spoil(self, kind: str, severity: float = 0.0, which: int = 0) -> None:
        """open, short, dirty (share of true): of diode `which`; frozen; offset: of a pair, share of full;
        noisy; '': well."""
        self.kind, self.severity, self.which = kind, severity, which
        if kind != "frozen":
            self._held = [None] * 3

    def light(self, which: Sequence[int] = range(5)) -> list[float]:
        """Light that each of these of the five diodes turns into current now [W/m2]."""
        plant = self.plant
        t = plant.now_us / 1e6
        right, up, along = plant.dish_frame()
        e, n, u = plant.sky.sun_at(t)
        beam, level = plant.sky.beam_w_m2(t), plant.sky.open_w_m2(t)
        diffuse = 0.5 * (max(0.0, level - beam * max(0.0, u)) + ALBEDO * level)
        slant = diffuse - ALBEDO * level  # by how much more a level plane sees of sky than of ground
        lit = beam if u > 0.0 else 0.0
        x, y, z = (a[0] * e + a[1] * n + a[2] * u for a in (right, up, along))
        found = []
        for k in which:
            gain, (a, b, c) = self.gains[k], _NORMALS[k]
            cos_tilt = a * right[2] + b * up[2] + c * along[2]
            found.append(gain * (lit * max(0.0, a * x + b * y + c * z) + diffuse + slant * cos_tilt))
        return found

    def volts(self) -> tuple[float, ...]:
        """The three inputs of the converter [V]: right less left, up less down, straight out."""
        self.shake()
        return tuple(self.volt(k) for k in range(3))

    def shake(self) -> None:
        """The noise of the next conversion, of all diodes whichever of them it looks at."""
        self._noise = [self._random.gauss(0.0, NOISE_W_M2) for _ in _NORMALS]
        if self.kind == "noisy":
            self._jumps = [self._random.gauss(0.0, self.severity * self.full) for _ in range(2)]

    def volt(self, k: int) -> float:
        """Input k of the three [V], with the noise of the last shake()."""
        held = self._held[k]
        if self.kind == "frozen" and held is not None:
            return held
        which = _DIODES[k]
        lit = [value + self._noise[i] for i, value in zip(which, self.light(which), strict=True)]
        spoilt = self.which % 5
        if spoilt in which and self.kind in _AT_DIODE:
            share, added = _AT_DIODE[self.kind]
            i = which.index(spoilt)
            lit[i] = lit[i] * (self.severity if share is None else share) + added * self.full
        if k == 2:
            raw = RAIL_V * lit[0] / self.full
        else:
            pair = lit[0] - lit[1]
            if self.kind == "offset" and k == self.which % 2:
                pair += self.severity * self.full
            if self.kind == "noisy":
                pair += self._jumps[k]
            raw = RAIL_V / 2.0 * (1.0 + pair / self.full)
        self._held[k] = found = min(max(raw, 0.0), RAIL_V)
        return found


class Supply:
    """volts(): of the battery behind its leads, less what the motors draw and what is wrong with it (sag_v).
    reads_v: what its divider adds; open: it passes nothing on."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.sag_v = 0.0
        self.reads_v = 0.0
        self.open = False

    def volts(self) -> float:
        """At the board's divider now [V]."""
        if self.open:
            return 0.0
        motors = bin(self.plant.moving).count("1")
        return BATTERY_V - self.sag_v - LEADS_OHM * (BOARD_A + MOTOR_A * motors) + self.reads_v


class Cups:
    """pulses(now_us): of an anemometer in the plant's wind since the start; extra_hz: false ones on its
    line."""

    def __init__(self, plant: Plant, hz_per_m_s: float) -> None:
        self.plant, self.rate = plant, hz_per_m_s
        self.extra_hz = 0.0
        self._s, self._total = 0, 0.0

    def pulses(self, now_us: int) -> float:
        """All pulses so far, whole seconds of wind at a time."""
        while self._s < now_us // 1_000_000:
            self._total += self.rate * self.plant.wind.speed_at(float(self._s)) + self.extra_hz
            self._s += 1
        return self._total
