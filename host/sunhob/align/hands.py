"""Turns the axes of a masked dish to readings, by hold-to-run nudges over the link. Units: deg, s.

Nothing here can run away: each nudge lapses by itself within a second, whatever becomes of this program.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sunhob.errors import LinkError, UserError
from sunhob.link import Dish

NEAR_DEG = 0.015  # a reading this near to the one asked for is there
_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
_HOLD_MS = 500
_RENEW_S = 0.2
_PUSH_MS = 1000
_PUSHES = 60
_REST_S = 0.25
_REST_TRIES = 80
_SPARE_DEG = 0.4  # beyond the play, how far it backs off before it comes on: common practice, no source
_LOOSE_DEG = 0.3  # how closely it need back off
_ROUNDS = 5


@dataclass(frozen=True)
class Reading:
    """axes_deg as the board reads them at `at` of its own clock; play_up: taken up, by axis."""

    at: datetime
    axes_deg: tuple[float, float]
    play_up: tuple[bool, bool]
    moving: bool
    status: dict[str, Any]


class Hands:
    """Moves by nudges until the readings asked for are there, each from its approach side.

    wait: lets so many seconds pass, hearing the board meanwhile.
    """

    def __init__(self, dish: Dish, cooker: Any, wait: Callable[[float], None]) -> None:
        self.dish = dish
        self.wait = wait
        self.axes = (cooker.axis1, cooker.axis2)
        self._warn_s = cooker.cook.warn_s

    def read(self) -> Reading:
        """What the board tells now. Raises LinkError where it lacks what an alignment needs."""
        got = self.dish.call("status")
        needed = ("axis1_deg", "axis2_deg", "day", "ms", "moving", "play_up", "clock_known", "place_known")
        missing = [key for key in needed if key not in got]
        if missing:
            why = got.get("trouble") or f"its status has no {', '.join(missing)}"
            raise LinkError(f"the board cannot be aligned over the link: {why}")
        at = _EPOCH + timedelta(days=got["day"], milliseconds=got["ms"])
        up = got["play_up"]
        return Reading(at, (got["axis1_deg"], got["axis2_deg"]), (bool(up[0]), bool(up[1])),
                       bool(got["moving"]), got)

    def begin(self) -> None:
        """Enter hand control, if it is not in it yet; the dish sounds its warning first."""
        if self.read().status["mode"] != "BY_HAND":
            self._nudge(1, 0, 20)
            self.wait(self._warn_s + 0.5)

    def park(self) -> None:
        """Have it go to its park, and wait until it stands there."""
        self.dish.call("leave")
        for _ in range(200):
            self.wait(1.0)
            if self.read().status["mode"] == "PARKED":
                return
        raise UserError("the dish did not reach its park in 200 s; look at it, it is still masked")

    def turn_to(self, wanted_deg: tuple[float, float]) -> Reading:
        """Go to readings inside the travel, the play of the gears taken up; the reading at rest there."""
        self.begin()
        for k in (0, 1):
            self._to(k, wanted_deg[k])
        return self.read()

    def inside(self, wanted_deg: tuple[float, float]) -> bool:
        """Whether both readings lie in the travel, with room to back off."""
        return all(axis.low_deg + axis.backlash_deg + _SPARE_DEG <= w <= axis.high_deg - axis.backlash_deg
                   - _SPARE_DEG for axis, w in zip(self.axes, wanted_deg, strict=True))

    def _nudge(self, axis: int, percent: int, hold_ms: int) -> None:
        self.dish.call("nudge", axis=axis, rate_percent=percent, hold_ms=hold_ms, covered=True)

    def _to(self, k: int, wanted: float) -> None:
        side, back = self.axes[k].approach, self.axes[k].backlash_deg + _SPARE_DEG
        for _ in range(_ROUNDS):
            now = self.read()
            ahead = (wanted - now.axes_deg[k]) * side
            if abs(ahead) <= NEAR_DEG and (now.play_up[k] or not side) and side:
                return
            if side and ahead < back / 2 and not (now.play_up[k] and ahead > 0.0):
                self._push_to(k, wanted - side * back, _LOOSE_DEG)
            if self._push_to(k, wanted, NEAR_DEG, side) and (not side or self.read().play_up[k]):
                return
        raise UserError(f"axis {k + 1} does not settle at {wanted:.3f} deg; look for play, a loose coupling "
                        "or a wrong axis setting")

    def _push_to(self, k: int, wanted: float, near: float, side: int = 0) -> bool:
        """Push after push until it is there; False once it has gone past, where only one side will do."""
        for _ in range(_PUSHES):
            left = wanted - self._resting().axes_deg[k]
            if abs(left) <= near:
                return True
            if side and left * side < 0.0:
                return False
            if not self._run(k, wanted, left):
                self._nudge(k + 1, self._percent(k, left), _PUSH_MS)
        raise UserError(f"axis {k + 1} does not come to {wanted:.3f} deg: {left:+.3f} deg are left after "
                        f"{_PUSHES} pushes; look at the motor, its supply and the stop chain")

    def _run(self, k: int, wanted: float, left: float) -> bool:
        """Full speed over the far part of the way; False if it is near already."""
        axis = self.axes[k]
        coast = axis.speed_deg_s * (0.3 + _RENEW_S) + axis.speed_deg_s**2 / (2.0 * axis.accel_deg_s2)
        if abs(left) < 1.2 * coast + 1.0:
            return False
        sign = math.copysign(1.0, left)
        while (wanted - self.read().axes_deg[k]) * sign > coast:
            self._nudge(k + 1, 100 if left > 0 else -100, _HOLD_MS)
            self.wait(_RENEW_S)
        self._nudge(k + 1, 0, 20)
        return True

    def _percent(self, k: int, left: float) -> int:
        """Rate of a push of a second: it starts gently, so that the way gained goes by the rate squared."""
        gain = (0.9 if abs(left) > 0.3 else 0.55) * self.axes[k].accel_deg_s2
        rate = min(100, max(1, int(100.0 * math.sqrt(abs(left) / gain))))
        return rate if left > 0 else -rate

    def _resting(self) -> Reading:
        for _ in range(_REST_TRIES):
            now = self.read()
            if not now.moving:
                return now
            self.wait(_REST_S)
        raise UserError("the dish does not come to rest; look at it")
