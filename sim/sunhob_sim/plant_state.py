"""What the cooker on the bench truly is at a moment: axes, mount, pot, pin levels; and the record of it.

Units: us of virtual time at the board's side, seconds and degrees in the record.
"""

from __future__ import annotations

import math
from array import array
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import pins
from .hob import Hob
from .plant_geometry import TrueMount
from .plant_motor import MotorAxis
from .plant_settings import flat_settings, park_axes, plant_axis, true_mount
from .sky import Sky
from .wind import Wind

REST_RECORD_US = 10_000_000
COLUMNS = (
    "t_s", "axis1_deg", "axis2_deg", "power", "chain", "buzzer", "moving", "push1_s", "push2_s",
    "lamp_hands_in", "lamp_armed", "lamp_fault", "covered", "supply", "dead1", "dead2", "stand",
)


class PlantState:
    """Drives, mount and pot under a sky, as they are now.

    `settings` as the board holds them; `mount` how it truly stands (default: as the settings say);
    speeds of wind in m/s; `start_deg` the axis angles at the start, degrees (default: parked); `hob` the
    pot at the focus (None: no pot is modelled, and no probe answers).
    """

    def __init__(self, settings: Any, sky: Sky, mount: TrueMount | None = None, wind_m_s: float = 0.0,
                 gust_m_s: float = 0.0, seed: int = 1, start_deg: tuple[float, float] | None = None,
                 hob: Hob | None = None) -> None:
        self.flat = flat_settings(settings)
        self.sky = sky
        self.stands = [mount or true_mount(self.flat)]  # how it has stood, the present last
        start = start_deg or park_axes(self.flat)
        self.axes = tuple(plant_axis(self.flat, f"axis{k + 1}", start[k], seed + k) for k in range(2))
        self.motors = {k: axis for k, axis in enumerate(self.axes) if isinstance(axis, MotorAxis)}
        self.wind = Wind(wind_m_s, gust_m_s, sky.duration_s, seed)
        self.gusted = False  # a wind got up that the scenario's air does not tell of
        self.now_us = 0
        self.levels = dict.fromkeys(pins.OUTPUTS, 0)
        self.levels.update(pins.AT_REST)
        self.hob = hob
        self.covered = False  # a cover lies over the mirror
        self.supply = True  # False: the battery is gone, nothing turns, sounds or lights
        self.motor_s = [0.0, 0.0]
        self.powered_s = 0.0
        self._moving = 0
        self._aim_at = (math.nan, math.nan)
        self._aim = (0.0, 0.0, 1.0)
        self._frame_at: Any = None
        self._frame: tuple[tuple[float, float, float], ...] = ()
        self._rows = {name: array("d") for name in COLUMNS}
        self._recorded_us = -REST_RECORD_US
        self._record()

    @property
    def mount(self) -> TrueMount:
        """How the mount stands now."""
        return self.stands[-1]

    def set_axis(self, k: int, deg: float) -> None:
        """A hand turns axis k + 1 to this reading."""
        self._record()
        self.axes[k].set_by_hand(deg)
        self._aim_at = (math.nan, math.nan)
        self._record()

    def stand(self, mount: TrueMount) -> None:
        """The base is bumped: the mount stands so from now on."""
        self._record()
        self.stands.append(mount)
        self._aim_at = (math.nan, math.nan)
        self._record()

    @property
    def powered(self) -> bool:
        """Whether the drives can turn: supplied, enabled by the board, and the stop chain whole."""
        return bool(self.supply and self.levels[pins.MOTOR_ENABLE] and self.levels[pins.STOP_CHAIN])

    @property
    def moving(self) -> int:
        """Bit k set while axis k + 1 turns."""
        return self._moving & 3

    @property
    def axes_deg(self) -> tuple[float, float]:
        """True axis angles, degrees."""
        return self.axes[0].load_deg, self.axes[1].load_deg

    def enu(self) -> tuple[float, float, float]:
        """True ENU unit vector of the dish axis."""
        at = self.axes_deg
        if at != self._aim_at:
            self._aim_at = at
            self._aim = self.mount.aim(*at)
        return self._aim

    def dish_frame(self) -> tuple[tuple[float, float, float], ...]:
        """True ENU unit vectors of the dish: to its right as one looks out along its axis, up from it,
        along."""
        at = (self.axes_deg, len(self.stands))
        if at != self._frame_at:
            self._frame_at = at
            self._frame = self.mount.dish(*self.axes_deg)
        return self._frame

    def separation_deg(self) -> float:
        """Angle in degrees between the dish axis and the sun."""
        ae, an, au = self.enu()
        be, bn, bu = self.sky.sun_at(self.now_us / 1e6)
        half = math.sqrt((ae - be) ** 2 + (an - bn) ** 2 + (au - bu) ** 2) / 2.0
        return math.degrees(2.0 * math.asin(min(1.0, half)))

    def record(self) -> dict[str, NDArray]:
        """Columns of the true state so far: seconds, degrees, levels (see COLUMNS)."""
        self._record()
        return {name: np.array(values) for name, values in self._rows.items()}

    def _record(self) -> None:
        self._recorded_us = self.now_us
        v = self.levels
        row = (
            self.now_us / 1e6, *self.axes_deg, self.powered, v[pins.STOP_CHAIN], v[pins.BUZZER],
            self._moving, self.axes[0].pushing_s, self.axes[1].pushing_s,
            v[pins.LAMP_HANDS_IN], v[pins.LAMP_ARMED], v[pins.LAMP_FAULT], self.covered,
            self.supply, self.axes[0].dead, self.axes[1].dead, len(self.stands) - 1,
        )
        for values, one in zip(self._rows.values(), row, strict=True):
            values.append(one)
