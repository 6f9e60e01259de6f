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
from typing import Any

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

_DRAWS = 4093
_DIODES = (range(2), range(2, 4), range(4, 5))  # of each input


class SunSensor:
    """volt(k): what input k of its converter is given. kind and severity: how a diode or all is spoilt."""

    def __init__(self, plant: Plant, full_w_m2: float, seed: int) -> None:
        self.plant, self.full = plant, full_w_m2
        self._random = random.Random(seed)
        self.gains = [1.0 + self._random.uniform(-MISMATCH, MISMATCH) for _ in _NORMALS]
        self.kind, self.severity, self.which = "", 0.0, 0
        self._held: tuple[float, ...] | None = None
        self._noise = [self._random.gauss(0.0, NOISE_W_M2) for _ in range(_DRAWS)]
        self._drawn = 0
        self._frame: Any = None
        self._facing: list[tuple[float, ...]] = []  # where each diode looks: east, north, up

    def spoil(self, kind: str, severity: float = 0.0, which: int = 0) -> None:
        """open, short, dirty (share of true): of diode `which`; frozen; offset: of a pair, share of full;
        noisy; '': well."""
        self.kind, self.severity, self.which, self._held = kind, severity, which, None

    def light(self, which: range = range(5)) -> list[float]:
        """Light that each of these diodes turns into current now [W/m2]."""
        plant = self.plant
        t = plant.now_us / 1e6
        frame = plant.dish_frame()
        if frame is not self._frame:
            self._frame = frame
            self._facing = [_turned(frame, normal) for normal in _NORMALS]
        e, n, u = plant.sky.sun_at(t)
        beam, level = plant.sky.beam_w_m2(t), plant.sky.open_w_m2(t)
        diffuse = 0.5 * (max(0.0, level - beam * max(0.0, u)) + ALBEDO * level)
        slant = diffuse - ALBEDO * level  # by how much more a level plane sees of sky than of ground
        lit = beam if u > 0.0 else 0.0
        found = []
        for k in which:
            x, y, z = self._facing[k]
            found.append(self.gains[k] * (lit * max(0.0, x * e + y * n + z * u) + diffuse + slant * z))
        return found

    def volts(self) -> tuple[float, ...]:
        """The three inputs of the converter [V]: right less left, up less down, straight out."""
        return tuple(self.volt(k) for k in range(3))

    def volt(self, k: int) -> float:
        """Input k of the converter [V]."""
        if self.kind != "frozen":
            return self._volt(k)
        if self._held is None:
            self._held = tuple(self._volt(i) for i in range(3))
        return self._held[k]

    def _volt(self, k: int) -> float:
        lit = self.light(_DIODES[k])
        if self.kind:
            self._spoil(lit, _DIODES[k])
        self._drawn = (self._drawn + 1) % _DRAWS
        if k == 2:
            return min(max(RAIL_V * (lit[0] + self._noise[self._drawn]) / self.full, 0.0), RAIL_V)
        pair = lit[0] - lit[1] + math.sqrt(2.0) * self._noise[self._drawn]
        if self.kind == "offset" and self.which % 2 == k:
            pair += self.severity * self.full
        elif self.kind == "noisy":
            pair += self._random.gauss(0.0, self.severity * self.full)
        return min(max(0.5 * RAIL_V * (1.0 + pair / self.full), 0.0), RAIL_V)

    def _spoil(self, lit: list[float], diodes: range) -> None:
        """Light of these diodes as the one that is broken or dirty among them tells it."""
        if self.which % 5 not in diodes:
            return
        k = diodes.index(self.which % 5)
        if self.kind in ("open", "short"):
            lit[k] = 0.0 if self.kind == "open" else 3.0 * self.full
        elif self.kind == "dirty":
            lit[k] *= self.severity


def _turned(frame: tuple[tuple[float, float, float], ...], v: tuple[float, ...]) -> tuple[float, ...]:
    """A vector of the dish's own frame in east, north, up."""
    right, up, along = frame
    a, b, c = v
    return tuple(a * right[i] + b * up[i] + c * along[i] for i in range(3))


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
