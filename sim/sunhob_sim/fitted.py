"""The further sensors that a cooker's settings say are fitted, as chips on the bench's bus.

Units: us of bench time, degrees, g, V. What they feel is in sun_sensor.py and in the plant.
"""

from __future__ import annotations

from typing import Any

from .devices import as5600, lis3dh, pcf8583
from .devices.ads1115 import ADS1115
from .devices.as5600 import AS5600
from .devices.lis3dh import LIS3DH
from .devices.pcf8583 import PCF8583
from .plant import Plant
from .sun_sensor import Cups, SunSensor, Supply

SECOND = 0x49  # the converter of sun sensor and supply


class Fitted:
    """devices: by bus address. sun, supply, second, encoder, base_tilt, dish_tilt, wind and its cups: None
    where not fitted."""

    def __init__(self, plant: Plant, seed: int) -> None:
        self.plant, flat = plant, plant.flat
        self.devices: dict[int, Any] = {}
        self.supply = Supply(plant)
        self.ratio = float(flat["sensor.supply_ratio"])
        self.sun: SunSensor | None = None
        self.second: ADS1115 | None = None
        self.encoder: AS5600 | None = None
        self.base_tilt: LIS3DH | None = None
        self.dish_tilt: LIS3DH | None = None
        self.wind: PCF8583 | None = None
        self.cups: Cups | None = None
        if flat["sensor.sun"]:
            self.sun = SunSensor(plant, flat["sensor.sun_w_m2_full"], seed + 11)
        if self.sun is not None or self.ratio > 0.0:
            self.second = self.devices[SECOND] = ADS1115(lambda _us: self, noise_steps=1)
        if flat["sensor.axis1_encoder"]:
            zero = flat["sensor.axis1_zero_deg"]
            self.encoder = AS5600(lambda _us: plant.axes_deg[0] + zero)
            self.devices[as5600.ADDRESS] = self.encoder
        if flat["sensor.base_tilt"]:
            self.base_tilt = self.devices[lis3dh.BASE_ADDRESS] = LIS3DH(self._base_g, seed + 12)
        if flat["sensor.axis2_tilt"]:
            self.dish_tilt = self.devices[lis3dh.DISH_ADDRESS] = LIS3DH(self._dish_g, seed + 13)
        if flat["sensor.wind_hz_per_m_s"] > 0.0:
            self.cups = cups = Cups(plant, flat["sensor.wind_hz_per_m_s"])
            self.wind = self.devices[pcf8583.ADDRESS] = PCF8583(cups.pulses)

    def __getitem__(self, k: int) -> float:
        """Volts at input k of the second converter."""
        if k == 3:
            return self.supply.volts() / self.ratio if self.ratio > 0.0 else 0.0
        return self.sun.volt(k) if self.sun is not None else 0.0

    def _base_g(self, _now_us: int) -> tuple[float, ...]:
        east, north, up = self.plant.mount.base()[2]
        return float(east), float(north), float(up)

    def _dish_g(self, _now_us: int) -> tuple[float, ...]:
        right, up, along = self.plant.dish_frame()
        return along[2], right[2], up[2]
